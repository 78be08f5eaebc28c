// @ts-check
/** Start: one thing to do, take a photo. */

import { el, plate } from "../dom.js";
import { mayTrySamples, roomPlate, roomsOf } from "../here.js";
import { say } from "../words.js";

/** @type {import("./screen.js").Screen} */
export const start = { tell, step: 0, back: "start" };

/** @param {any} app */
function tell(app) {
  const { photo: kept, here, bench } = app.state();
  const second = kept
    ? plate(say("start_go_on"), () => app.goOn())
    : mayTrySamples(here) && plate(say("start_sample"), () => app.chooseSample());
  const choose = plate(say("start_choose"), () => app.pick("chooser"));
  return {
    words: [
      el("h1", { class: "say" }, say("start_title")),
      el("p", { class: "do soft" }, say("start_do")),
      bench && el("p", { class: "do" }, el("b", {}, say("start_bench", { bench }))),
      el("p", { class: "label soft for-laptop" }, say("start_drop")),
      el("p", { class: "rooms" }, ...roomsOf(here).map((room) => roomPlate(room, "quiet"))),
    ],
    foot: [
      second ? el("div", { class: "two-plates" }, choose, second) : choose,
      plate(say("start_take"), () => app.pick("camera"), { kind: "main" }),
    ],
  };
}
