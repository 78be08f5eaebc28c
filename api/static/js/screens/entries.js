// @ts-check
/** Entries: the leads, then the legs of each LED. */

import { el, plate, svg, tabs } from "../dom.js";
import { entryAt, lacking, newLed, nextTarget, targets, withEntry, withLed } from "../job.js";
import { entries as entryMarks } from "../marks.js";
import { arrowStep } from "../picture.js";
import { zoomPlates } from "../plates.js";
import { knows, say } from "../words.js";

const COLOURS = ["red", "orange", "yellow", "green", "blue", "white"];

/** The sentence that asks for an entry. @param {string} key */
export function asking(key) {
  const [id, leg] = key.split(".");
  return say(`entries_${leg ?? id}`, { id });
}

/** @type {import("./screen.js").Screen} */
export const entries = {
  tell,
  step: 2,
  back: "colours",
  state: { target: "plus", led: null },
  picture: {
    taps: true,
    room: 0.08,
    tappable: ({ target }) => target !== null,
    tap: placeEntry,
    spots: ({ job }) => targets(job).flatMap((key) => {
      const at = entryAt(job, key);
      return at ? [{ key, at }] : [];
    }),
    move: (app, key, at) => app.edit(withEntry(app.state().job, key, at)),
    marks: ({ job }, scale) => entryMarks(job, scale),
    plates: zoomPlates,
  },
};

/** @param {any} app */
function tell(app) {
  const { job, target, led } = app.state();
  const lacks = lacking(job);
  const chosen = job.leds.find((/** @type {any} */ one) => one.id === led);
  const title = target ? asking(target) : say("entries_all");
  const help = target ? say(target.includes(".") || target === "minus" ? "entries_loupe" : "entries_where") : say("entries_drag");
  return {
    words: [
      el("div", { class: "intro" }, el("h1", { class: "say" }, title), !chosen && el("p", { class: "label soft" }, help)),
      beads(app),
      chosen && card(app, chosen),
    ],
    foot: [
      el("div", { class: "three-plates" },
        plate(say("undo"), app.undo, { disabled: !app.canUndo() }),
        plate(say("redo"), app.redo, { disabled: !app.canRedo() }),
        plate(say("entries_add"), () => addLed(app), { disabled: job.leds.length >= 60 })),
      plate(say("entries_find"), () => (lacks ? missing(app, lacks) : app.inspect()),
        { kind: "main", "aria-disabled": String(Boolean(lacks)) }),
    ],
  };
}

/** @param {any} app @param {string} lacks */
function missing(app, lacks) {
  app.set({ target: lacks, led: lacks.includes(".") ? lacks.split(".")[0] : null });
  app.speak(say("entries_lacks", { what: asking(lacks) }));
}

/** @param {any} app */
function addLed(app) {
  const { job } = app.state();
  const one = newLed(job.leds);
  app.edit({ ...job, leds: [...job.leds, one] });
  app.set({ target: nextTarget(app.state().job), led: one.id });
}

/** @param {any} app */
function beads(app) {
  const { job, target, led } = app.state();
  const leads = ["plus", "minus"].map((key) =>
    bead(app, { words: say(key), keys: [key], here: target === key, square: true }));
  const leds = job.leds.map((/** @type {any} */ one) => {
    const keys = [`${one.id}.long_leg`, `${one.id}.short_leg`];
    const leg = keys.includes(target) ? target.split(".")[1] : null;
    const words = leg ? say(leg, { id: one.id }) : one.id;
    return bead(app, { words, keys, here: Boolean(leg) || (!target && led === one.id), square: false });
  });
  return el("ol", { class: "beads", "aria-label": say("entries_so_far") }, ...leads, ...leds);
}

/** @param {any} app @param {{words: string, keys: string[], here: boolean, square: boolean}} it */
function bead(app, { words, keys, here, square }) {
  const { job, target } = app.state();
  const placed = keys.filter((key) => entryAt(job, key));
  const open = keys.find((key) => !entryAt(job, key)) ?? null;
  const full = keys.map((key) => (entryAt(job, key) ? "bead-full" : key === target ? "bead-here" : "bead-body"));
  const shape = square
    ? [svg("rect", { x: 5, y: 5, width: 24, height: 24, fill: "var(--room)" }),
      svg("rect", { x: 6, y: 6, width: 22, height: 22, class: full[0], stroke: "var(--ink)", "stroke-width": 2 })]
    : [svg("circle", { cx: 17, cy: 17, r: 14, fill: "var(--room)" }),
      svg("path", { class: full[0], d: "M17 5a12 12 0 0 0 0 24z" }),
      svg("path", { class: full[1], d: "M17 5a12 12 0 0 1 0 24z" }),
      svg("circle", { cx: 17, cy: 17, r: 12, fill: "none", stroke: "var(--ink)", "stroke-width": 2 })];
  const button = el("button", {
    type: "button",
    class: here ? "bead here" : "bead",
    "aria-current": here ? "step" : null,
    onclick: () => app.set({ target: open, led: square ? null : keys[0].split(".")[0] }),
    onkeydown: (/** @type {KeyboardEvent} */ event) => nudge(app, placed.at(-1), event),
  }, svg("svg", { viewBox: "0 0 34 34", "aria-hidden": "true" }, ...shape), words);
  return el("li", {}, button);
}

/** Arrow keys on a bead move the mark that was placed last. @param {any} app @param {string | undefined} key @param {KeyboardEvent} event */
function nudge(app, key, event) {
  const step = arrowStep(event);
  const { job } = app.state();
  const at = key && entryAt(job, key);
  if (!step || !at) return;
  event.preventDefault();
  app.edit(withEntry(job, key, [at[0] + step[0], at[1] + step[1]]));
}

/** @param {any} app @param {any} one */
function card(app, one) {
  const { job } = app.state();
  const change = (/** @type {object} */ patch) => app.edit(withLed(job, one.id, patch));
  const known = COLOURS.includes(one.colour) ? COLOURS : [...COLOURS, one.colour];
  const select = el("select", {
    "aria-label": say("led_colour", { id: one.id }),
    onchange: (/** @type {any} */ event) => change({ colour: event.target.value }),
  }, ...known.map((value) => el("option", { value, selected: value === one.colour }, knows(`colour_${value}`) ? say(`colour_${value}`) : value)));
  const states = ["bright", "dim", "off"].map((value) => ({ value, words: say(`seen_${value}`) }));
  const seen = tabs(states, one.seen, (value) => change({ seen: one.seen === value ? null : value }),
    { label: say("led_seen", { id: one.id }), tight: true });
  const remove = plate(say("entries_remove"), () => {
    const leds = job.leds.filter((/** @type {any} */ other) => other !== one);
    app.edit({ ...job, leds });
    app.set({ led: null, target: nextTarget({ ...job, leds }) });
  }, { kind: "quiet", disabled: job.leds.length < 2 });
  return el("div", { class: "led-card" },
    el("div", { class: "line" }, el("span", { class: "label" }, say("led_seen", { id: one.id })), seen),
    el("div", { class: "line" }, el("span", { class: "label" }, say("led_colour", { id: one.id })), select, remove));
}

/** What happens when an entry is tapped: set it, and ask for the next. @param {any} app @param {[number, number]} at */
function placeEntry(app, at) {
  const { job, target } = app.state();
  if (!target) return;
  const next = withEntry(job, target, at);
  const order = targets(next);
  const rest = [...order.slice(order.indexOf(target)), ...order];
  app.edit(next);
  const then = rest.find((key) => !entryAt(next, key)) ?? null;
  const led = target.includes(".") ? target.split(".")[0] : then?.includes(".") ? then.split(".")[0] : null;
  app.set({ target: then, led });
  if (then) app.speak(asking(then));
}
