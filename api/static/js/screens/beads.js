// @ts-check
/** Entries: a bead for each lead, LED and part, that tells what is placed, asked for, or missing. */

import { el, svg } from "../dom.js";
import { turned } from "../geometry.js";
import { arrowStep } from "../gestures.js";
import { entryAt, withEntry } from "../job.js";
import { say } from "../words.js";
import { remove } from "./entries.js";

/** @typedef {{id: string, words: string, keys: string[], shape: "lead" | "led" | "part", here: boolean, missed: boolean, ask: boolean}} Bead */

/** @param {any} app @param {Map<string, string>} misses */
export function beads(app, misses) {
  const { job, target, led, mark } = app.state();
  const isMissed = (/** @type {string[]} */ keys) => keys.some((key) => misses.has(key));
  const leads = ["plus", "minus"].map((key) => bead(app, {
    id: key, words: say(key), keys: [key], shape: "lead", here: target === key || mark === key, missed: isMissed([key]), ask: false,
  }));
  const things = [...job.leds, ...job.parts].map((/** @type {any} */ one) => {
    const ends = "kind" in one ? ["a", "b"] : ["long_leg", "short_leg"];
    const keys = ends.map((end) => `${one.id}.${end}`);
    const [of, end] = (target ?? "").split(".");
    const words = of === one.id && end !== "order" ? say(one.kind === "buzzer" ? `${end}_buzzer` : end, { id: one.id }) : one.id;
    return bead(app, {
      id: one.id, words, keys, shape: "kind" in one ? "part" : "led", here: of === one.id || (!target && led === one.id),
      missed: isMissed(keys), ask: Boolean(one.order),
    });
  });
  const list = el("ol", { class: "beads", "aria-label": say("entries_so_far") }, ...leads, ...things);
  queueMicrotask(() => {
    const now = list.querySelector(".here");
    if (now) list.scrollLeft = now.parentElement.offsetLeft + now.offsetWidth / 2 - list.clientWidth / 2;
  });
  return list;
}

const HALVES = {
  lead: ["M6 6H17V28H6z", "M17 6H28V28H17z"],
  led: ["M17 5a12 12 0 0 0 0 24z", "M17 5a12 12 0 0 1 0 24z"],
  part: ["M17 9H10L4 17 10 25H17z", "M17 9H24L30 17 24 25H17z"],
};

const RIMS = {
  lead: "M6 6H28V28H6z",
  led: "M17 5a12 12 0 0 0 0 24a12 12 0 0 0 0-24z",
  part: "M10 9H24L30 17 24 25H10L4 17z",
};

/** Two halves, one for each end; apart where one misses the dough. @param {any} app @param {Bead} it */
function bead(app, { id, words, keys, shape, here, missed, ask }) {
  const { job, target, turn } = app.state();
  const placed = keys.filter((key) => entryAt(job, key));
  const open = keys.find((key) => !entryAt(job, key)) ?? (ask ? `${id}.order` : null);
  const halves = HALVES[shape].map((d, n) => {
    const key = keys[n] ?? keys[0];
    const fill = ask ? "bead-body" : entryAt(job, key) ? "bead-full" : key === target ? "bead-here" : "bead-body";
    return svg("path", { d, class: `${fill} bead-fill`, transform: missed ? `translate(${n ? 3 : -3} ${n ? 2 : -2})` : null });
  });
  const rim = !missed && svg("path", { class: "bead-rim", d: RIMS[shape] });
  const sign = svg("svg", { viewBox: "0 0 34 34", "aria-hidden": "true", class: missed ? "missed" : "" },
    svg("path", { class: "behind", d: "M0 0H34V34H0z" }), ...halves, rim, ask && svg("text", { x: 17, y: 18 }, "?"));
  const button = el("button", {
    type: "button",
    class: here ? "bead here" : "bead",
    "aria-current": here ? "step" : null,
    onclick: () => choose(app, { id, keys, open, shape }),
    onkeydown: (/** @type {KeyboardEvent} */ event) => key(app, placed, turn, event),
  }, sign, words, missed && el("span", { class: "fix-word" }, say("miss_bead")));
  return el("li", {}, button);
}

/** An open end is asked for; else the card opens, and its marks can be nudged. @param {any} app
 * @param {{id: string, keys: string[], open: string | null, shape: string}} it */
function choose(app, { id, keys, open, shape }) {
  const waits = open?.endsWith(".order") && app.state().job.leds.some((/** @type {any} */ one) => one.id === id && one.order === "guess");
  app.set({ target: waits ? null : open, led: shape === "lead" ? null : id, mark: open ? null : keys[keys.length - 1] });
}

/** On a bead, arrow keys move its chosen mark, or the one placed last; Delete takes it off.
 * @param {any} app @param {string[]} placed @param {number} turn @param {KeyboardEvent} event */
function key(app, placed, turn, event) {
  const { job, mark } = app.state();
  const chosen = placed.includes(mark) ? mark : placed.at(-1);
  const at = chosen && entryAt(job, chosen);
  const step = arrowStep(event);
  if (!at || !(step || event.key === "Delete")) return;
  event.preventDefault();
  if (!step) return remove(app, chosen);
  const [dx, dy] = turned(step, -turn);
  app.edit(withEntry(job, chosen, [at[0] + dx, at[1] + dy]));
}
