// @ts-check
/** What if: LEDs turned or pulled out, legs and leads moved, dough cut, other cells, right on the picture. */

import { el, plate, symbol, tabs } from "../dom.js";
import { NOTHING, add, patch, pull, redo, reset, stand, undo } from "../trials.js";
import { becomes, changedJob, endsOf } from "../what-if.js";
import { say } from "../words.js";
import { picture } from "./what-if-picture.js";
import { alarm, changeWords, entryWords, headline, isFresh, isNewHazard, ledsOf, packWords } from "./what-if-words.js";

/** @typedef {import("../what-if.js").Change} Change */

const MOST_CELLS = 6;

/** @type {import("./screen.js").Screen} */
export const whatIf = { tell, step: 3, back: "answer", state: { trying: NOTHING }, alarm, picture };

/** @param {any} app */
function tell(app) {
  const state = app.state();
  const { trying } = state;
  const free = (trying.answer?.free ?? []).map((/** @type {any} */ one) => el("p", { class: "note" }, symbol("level-fix", "level fix"), one.why));
  return {
    words: [
      el("div", { class: "intro" }, el("h1", { class: "say" }, headline(state)),
        !trying.changes.length && el("p", { class: "label soft" }, say("whatif_how"))),
      trying.note && el("p", { class: "note", role: "status" }, symbol("level-watch", "level watch"), trying.note),
      steps(app),
      lights(app),
      ...free,
      tools(app),
      panel(app),
      trying.answer && !trying.tool && el("p", { class: "pack small soft num" }, packWords(trying.answer.pack)),
    ],
    foot: [
      plate(say("whatif_reset"), () => reset(app), { disabled: !trying.changes.length }),
      plate(say("whatif_keep"), () => keepIt(app), {
        kind: "main", "aria-disabled": String(!trying.changes.length || isNewHazard(state)),
      }),
    ],
  };
}

/** What was tried so far, the last one at hand. @param {any} app */
function steps(app) {
  const { changes, undone } = app.state().trying;
  const items = changes.map((/** @type {Change} */ one, /** @type {number} */ i) =>
    el("li", { "aria-current": i === changes.length - 1 ? "step" : null }, changeWords(one)));
  return el("div", { class: "tried" },
    el("ol", { "aria-label": say("whatif_tried"), tabindex: items.length ? "0" : null }, ...items),
    undone.length > 0 && plate(say("redo"), () => redo(app)),
    plate(say("undo"), () => undo(app), { disabled: !changes.length }));
}

/** Every light, now and then; a tap chooses it. @param {any} app */
function lights(app) {
  const { inspection } = app.state();
  const leds = ledsOf(app.state());
  const others = (inspection.case.parts ?? []).map((/** @type {any} */ one) =>
    item(app, one.id, stand(app.state()).out.includes(one.id) ? "out" : "there", []));
  const items = leds.map((/** @type {any} */ led) => {
    const signs = [symbol(`led-${led.now.state}`, "led"), symbol("then", "arrow"), led.out ? symbol("led-out", "led") : symbol(`led-${led.then.state}`, "led")];
    return item(app, led.id, becomes(led), signs);
  });
  return el("div", { class: isFresh(app.state()) ? "" : "waits" },
    el("ul", { class: "lights", "aria-label": say("lights_label") }, ...items, ...others));
}

/** @param {any} app @param {string} id @param {string} what @param {any[]} signs */
function item(app, id, what, signs) {
  const changed = !what.startsWith("stays_") && what !== "there";
  const here = app.state().trying.chosen === id;
  return el("li", { class: `${changed ? "changed" : ""} ${here ? "chosen" : ""}`.trim() },
    el("button", { type: "button", "aria-pressed": String(here), onclick: () => patch(app, { chosen: id, aim: null, note: "" }) },
      signs.length > 0 && el("span", { class: "pair" }, ...signs), el("span", {}, el("b", {}, id), ` ${say(`whatif_light_${what}`)}`)));
}

/** @param {any} app */
function tools(app) {
  const state = app.state();
  const { chosen, tool } = state.trying;
  const out = Boolean(chosen) && stand(state).out.includes(chosen);
  const needs = (/** @type {() => void} */ act) => () => (chosen ? act() : patch(app, { note: say("whatif_choose") }));
  const toggle = (/** @type {string} */ name) => () =>
    patch(app, { tool: tool === name ? null : name, aim: null, note: "" });
  const one = (/** @type {string} */ sign, /** @type {string} */ words, /** @type {() => void} */ onclick, /** @type {boolean | null} */ on = null) =>
    el("button", { type: "button", class: "tool", onclick, "aria-pressed": on === null ? null : String(on) }, symbol(sign), words);
  return el("div", { class: "tools", role: "group", "aria-label": say("whatif_tools", { id: chosen ?? "" }) },
    one("tool-turn", say("whatif_turn"), needs(() => add(app, { do: "turn", part: chosen }))),
    one("tool-pull", say(out ? "whatif_put-back" : "whatif_pull-out"), needs(() => pull(app, chosen))),
    one("tool-move", say("whatif_move"), toggle("move"), tool === "move"),
    one("tool-cut", say("whatif_cut"), toggle("cut"), tool === "cut"),
    one("tool-cell", say("whatif_cells"), toggle("cells"), tool === "cells"));
}

/** What the chosen tool needs. @param {any} app */
function panel(app) {
  const state = app.state();
  const { tool, aim, chosen } = state.trying;
  if (tool === "cut") return hint(say("whatif_cut_how"));
  if (tool === "cells") return cells(app);
  if (tool !== "move") return null;
  const { out } = stand(state);
  const ends = chosen && !out.includes(chosen) ? endsOf(stand(state), chosen) : [];
  const choices = [...ends, "pack.plus", "pack.minus"].map((value) => ({ value, words: entryWords(value) }));
  const aimed = (/** @type {string} */ value) => {
    patch(app, { aim: value, note: "" });
    document.getElementById("picture")?.focus({ preventScroll: true });
  };
  return el("div", { class: "panel" }, tabs(choices, aim, aimed, { label: say("whatif_move"), tight: true }),
    aim && hint(say("whatif_move_to", { what: entryWords(aim) })));
}

/** @param {string} words */
const hint = (words) => el("p", { class: "hint label soft", role: "status" }, words);

/** @param {any} app */
function cells(app) {
  const { cells: count } = stand(app.state());
  const to = (/** @type {number} */ n) => () => add(app, { do: "cells", count: n });
  return el("div", { class: "panel cells" },
    plate("\u2212", to(count - 1), { "aria-label": say("whatif_cell_less"), disabled: count <= 1 }),
    el("b", { class: "num" }, say("whatif_cells_now", { n: count })),
    plate("+", to(count + 1), { "aria-label": say("whatif_cell_more"), disabled: count >= MOST_CELLS }));
}

/** The sculpture has been changed so: that is told, and looked at anew. @param {any} app */
function keepIt(app) {
  const { trying, inspection, job } = app.state();
  if (!trying.changes.length) return patch(app, { note: say("whatif_how") });
  if (isNewHazard(app.state())) return patch(app, { note: /** @type {string} */ (alarm(app.state())) });
  app.edit(changedJob(job, inspection.case, trying.changes, inspection.report.photo.mm_per_px));
  app.set({ trying: NOTHING });
  app.inspect();
}
