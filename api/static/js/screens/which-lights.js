// @ts-check
/** The first thing that a dialogue of checks asks: how each light looks. What is told spares most of the checks. */

import { el, plate, svg, symbol, tabs } from "../dom.js";
import { entriesOf, nameTags } from "../entry-marks.js";
import { middle } from "../geometry.js";
import { thing, withThing } from "../job.js";
import { mark } from "../marks.js";
import { knows, say } from "../words.js";

const LOOKS = ["bright", "dim", "off"];
const LEGS = ["long_leg", "short_leg"];

/** What the screen of checks keeps for it: the LED touched last, how many edits may be taken back here, and the
 * inspection for which nobody could tell. */
export const lightsState = { lightAt: null, lightEdits: 0, lightsPassed: null };

/** Whether it is asked: nothing was checked or told of any light when the sums were done. @param {any} state */
export const asksLights = ({ inspection: { id, report, case: told }, lightsPassed }) => report.enquiry === "asking"
  && !report.checked.length && id !== lightsPassed && told.leds.every((/** @type {any} */ led) => !led.seen);

/** Whether some of it has been told since then. @param {any} state */
export const begunLights = (state) => asksLights(state) && ledsOf(state).some((led) => led.seen);

/** The job as it was before any light was told. @param {import("../job.js").Job} job */
export const unlit = (job) => ({ ...job, leds: job.leds.map((led) => ({ ...led, seen: null })) });

/** The LEDs that the sums know. @param {any} state @returns {import("../job.js").Led[]} */
const ledsOf = ({ job }) => job.leds.filter((/** @type {any} */ led) => led.long_leg && led.short_leg);

/** Where the LED is whose row was touched. @param {any} state @returns {import("../geometry.js").Point | null} */
export function lightPlace(state) {
  const led = ledsOf(state).find((one) => one.id === state.lightAt);
  return led ? middle(/** @type {any} */ (led.long_leg), /** @type {any} */ (led.short_leg)) : null;
}

/** Leads, names of all LEDs, and the legs of the one that was touched, lit.
 * @param {any} state @param {number} scale @param {import("../geometry.js").View} view */
export function lightMarks(state, scale, view) {
  const { job, hand, lightAt } = state;
  const lit = thing(job, lightAt);
  return [
    ...nameTags(job, ledsOf(state), { scale, view, hand }),
    ...(lit ? LEGS.map((leg) => mark(lit[leg], svg("circle", { class: "chosen", r: 17 }))) : []),
    ...entriesOf(job, [lightAt], [], () => false, scale),
  ];
}

/** @param {any} app */
export function whichLights(app) {
  const leds = ledsOf(app.state());
  return {
    words: [
      el("article", { class: "slip answer checking" },
        el("h1", { class: "say" }, say("lights_ask")), el("p", { class: "label soft" }, say("lights_how"))),
      el("ul", { class: "which-lights", onkeydown: arrows, onfocusin: (/** @type {any} */ event) => focused(app, event) },
        ...leds.map((led) => row(app, led))),
    ],
    foot: [
      el("div", { class: "three-plates" },
        plate(say("undo"), () => takeBack(app), { disabled: !app.state().lightEdits || !app.canUndo() }),
        plate(say("lights_rest"), () => restIsOff(app), { disabled: leds.every((led) => led.seen) }),
        plate(say("lights_pass"), () => pass(app), { kind: "quiet" })),
      plate(say("start_go_on"), () => goOn(app), { kind: "main", "aria-disabled": String(!begunLights(app.state())) }),
    ],
  };
}

/** @param {any} app @param {import("../job.js").Led} led */
function row(app, { id, colour, seen }) {
  const named = knows(`colour_${colour}`) ? say(`colour_${colour}`) : colour;
  const looks = tabs(LOOKS.map((value) => ({ value, words: say(`seen_${value}`) })), seen, (value) => {
    app.set({ lightAt: id });
    tell(app, withThing(app.state().job, id, { seen: thing(app.state().job, id).seen === value ? null : value }));
  }, { label: `${id} ${named}`, tight: true });
  for (const one of looks.children) {
    one.prepend(symbol(`led-${one.dataset.value}`, "led"));
    one.dataset.key = `${id} ${one.dataset.value}`;
  }
  return el("li", { class: app.state().lightAt === id ? "here" : "", "data-led": id },
    el("span", { class: "label" }, el("b", {}, id), el("span", {}, named)), looks);
}

/** Each answer is part of the job at once, so that no reload loses it. @param {any} app @param {any} job */
function tell(app, job) {
  app.edit(job);
  app.set({ lightEdits: app.state().lightEdits + 1 });
}

/** Only what was told here: an earlier edit is not to be seen on this screen. @param {any} app */
function takeBack(app) {
  app.undo();
  app.set({ lightEdits: app.state().lightEdits - 1 });
}

/** @param {any} app */
function restIsOff(app) {
  const { job } = app.state();
  const rest = ledsOf(app.state()).filter((led) => !led.seen).map((led) => led.id);
  tell(app, { ...job, leds: job.leds.map((/** @type {any} */ led) => (rest.includes(led.id) ? { ...led, seen: "off" } : led)) });
  app.speak(say("plan_then_off", { ids: rest }));
  /** @type {HTMLElement} */ (document.querySelector("#foot .plate.main")).focus({ preventScroll: true });
}

/** @param {any} app */
function goOn(app) {
  if (!begunLights(app.state())) return app.speak(say("lights_lack"));
  app.set({ lightEdits: 0 });
  app.inspect();
}

/** Nobody can tell more: with nothing told the first check comes. @param {any} app */
function pass(app) {
  if (begunLights(app.state())) return goOn(app);
  app.set({ lightsPassed: app.state().inspection.id });
  const words = /** @type {HTMLElement} */ (document.getElementById("words"));
  const title = /** @type {HTMLElement} */ (words.querySelector(".say"));
  words.scrollTop = 0;
  title.setAttribute("tabindex", "-1");
  title.focus({ preventScroll: true });
  app.speak(title.textContent);
}

/** The photo shows which LED it is. @param {any} app @param {any} event */
function focused(app, { target }) {
  const { led } = target.closest("li").dataset;
  if (led === app.state().lightAt) return;
  const byKeys = target.matches(":focus-visible");
  app.set({ lightAt: led });
  // Drawn anew, it is another control than the one that the browser brought into sight.
  if (byKeys) document.querySelector(".which-lights .here")?.scrollIntoView({ block: "nearest" });
}

/** Arrows go from plate to plate and from row to row. @param {any} event */
function arrows(event) {
  const ahead = document.documentElement.dir === "rtl" ? -1 : 1;
  const step = { ArrowRight: ahead, ArrowLeft: -ahead, ArrowDown: LOOKS.length, ArrowUp: -LOOKS.length }[/** @type {string} */ (event.key)];
  if (!step || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  const all = [...event.currentTarget.querySelectorAll(".tab")];
  all[all.indexOf(event.target) + step]?.focus();
}
