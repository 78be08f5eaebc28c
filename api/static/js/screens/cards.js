// @ts-check
/** Entries: what is told of an LED, another part or a lead besides its place. */

import { el, plate, tabs } from "../dom.js";
import { nextTarget, turnedRound, without, withThing } from "../job.js";
import { knows, say } from "../words.js";
import { remove as takeOff } from "./entries.js";

const COLOURS = ["red", "orange", "yellow", "green", "blue", "white"];

/** @param {any} app @param {any} one an LED, a part, or the id of a lead */
export function card(app, one) {
  const rows = "kind" in one ? partRows(app, one) : "colour" in one ? ledRows(app, one)
    : [line(say(one.id), plate(say("entries_remove"), () => takeOff(app, one.id), { kind: "quiet push" }))];
  return el("div", { class: "led-card" }, ...rows);
}

/** @param {string} words @param {...any} children */
const line = (words, ...children) => el("div", { class: "line" }, el("span", { class: "label" }, words), ...children);

/** @param {any} app @param {any} one */
function ledRows(app, one) {
  const change = (/** @type {object} */ patch) => app.edit(withThing(app.state().job, one.id, patch));
  const known = COLOURS.includes(one.colour) ? COLOURS : [...COLOURS, one.colour];
  const select = el("select", {
    "aria-label": say("led_colour", { id: one.id }),
    onchange: (/** @type {any} */ event) => change({ colour: event.target.value }),
  }, ...known.map((value) => el("option", { value, selected: value === one.colour }, knows(`colour_${value}`) ? say(`colour_${value}`) : value)));
  const states = ["bright", "dim", "off"].map((value) => ({ value, words: say(`seen_${value}`) }));
  const seen = tabs(states, one.seen, (value) => change({ seen: one.seen === value ? null : value }),
    { label: say("led_seen", { id: one.id }), tight: true });
  const round = one.long_leg && one.short_leg
    && plate(say("led_round"), () => turn(app, one.id), { "aria-label": say("led_turn", { id: one.id }) });
  return [line(say("led_seen", { id: one.id }), seen), el("div", { class: "line tight" }, select, round, removal(app, one))];
}

/** Turned round it is no longer asked which leg is the long one. @param {any} app @param {string} id */
function turn(app, id) {
  const job = turnedRound(app.state().job, id);
  app.edit(job);
  if (app.state().target === `${id}.order`) app.set({ target: nextTarget(job) });
  app.speak(say("led_turned", { id }));
}

/** @param {any} app @param {any} one */
function removal(app, one) {
  const { job } = app.state();
  return plate(say("entries_remove"), () => {
    const rest = without(job, one.id);
    app.edit(rest);
    app.set({ led: null, mark: null, target: nextTarget(rest) });
  }, { kind: "quiet push", disabled: "colour" in one && job.leds.length < 2 });
}

/** @param {any} app @param {any} one */
function partRows(app, one) {
  const change = (/** @type {object} */ patch) => app.edit(withThing(app.state().job, one.id, patch));
  const name = say(`part_${one.kind}`);
  if (one.kind === "switch") {
    const states = [{ value: true, words: say("switch_closed") }, { value: false, words: say("switch_open") }];
    const now = tabs(states, one.closed ?? true, (closed) => change({ closed }), { label: one.id, tight: true });
    return [line(`${name} ${one.id}`, now), el("div", { class: "line" }, removal(app, one))];
  }
  if (one.kind === "resistor") {
    const field = el("input", {
      type: "number", inputmode: "decimal", min: "0", step: "any", value: one.ohm ?? "", "aria-label": say("part_ohm", { id: one.id }),
      onchange: (/** @type {any} */ event) => change({ ohm: event.target.value === "" ? null : Math.max(0, Number(event.target.value)) }),
    });
    return [el("div", { class: "line tight" }, el("span", { class: "label" }, `${name} ${one.id}`), field,
      el("span", { class: "label" }, say("ohm")), removal(app, one))];
  }
  return [line(`${name} ${one.id}`, removal(app, one))];
}
