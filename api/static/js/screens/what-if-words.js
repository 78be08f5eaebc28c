// @ts-check
/** What if, in words: what comes of the changes, and what they are. */

import { news } from "../what-if.js";
import { say } from "../words.js";

/** @typedef {import("../what-if.js").Change} Change */

/** Every light, now and then; before an answer both are as the report says. @param {any} state @returns {any[]} */
export const ledsOf = ({ trying, inspection }) =>
  trying.answer?.leds ?? inspection.report.leds.map((/** @type {any} */ led) => ({ id: led.id, now: led, then: led, out: false }));

/** Whether the answer is about the changes as they stand. @param {any} state */
export const isFresh = ({ trying }) => trying.answer && trying.answered === trying.changes;

/** The worst hazard that the changes leave or make. @param {any} state */
export const hazard = ({ trying }) => trying.answer?.hazards[0] ?? null;

/** Whether the sculpture is dangerous as it stands on the table. @param {any} state */
const isReal = ({ inspection }) => inspection.report.findings.some((/** @type {any} */ one) => one.level === "stop");

/** Whether these changes would make a hazard. @param {any} state */
export const isNewHazard = (state) => Boolean(hazard(state)) && state.trying.changes.length > 0 && !isReal(state);

/** A hazard before everything: a real one, or one that these changes would make. @param {any} state */
export function alarm(state) {
  const worst = hazard(state);
  if (!worst) return null;
  if (worst.level === "stop" && isReal(state)) return say("stop_bar");
  return isNewHazard(state) ? say("whatif_hazard", { why: worst.why }) : worst.why;
}

/** What changes, in a sentence or two. @param {any} state */
export function headline(state) {
  const { trying } = state;
  if (!trying.changes.length) return say("whatif_title");
  if (!trying.answer) return say("whatif_wait");
  const told = news(trying.answer.leds);
  if (!told.length) return say("whatif_same");
  return told.map(([what, ids]) => say(`whatif_then_${what}`, { n: ids.length, ids })).join(" ");
}

/** @param {any} pack */
export const packWords = ({ cells, now, then }) =>
  say("whatif_pack", { n: cells, now: Math.round(now.current_mA), then: Math.round(then.current_mA) });

/** @param {Change} change */
export function changeWords(change) {
  if (change.do === "cells") return say("whatif_did_cells", { n: change.count });
  if (change.do === "cut") return say("whatif_did_cut");
  if (change.do === "move") return say("whatif_did_move", { what: entryWords(change.entry) });
  return say(`whatif_did_${change.do}`, { id: change.part });
}

/** @param {string} entry */
export function entryWords(entry) {
  const [id, end] = entry.split(".");
  if (id === "pack") return say(end);
  return end === "long" || end === "short" ? say(`${end}_leg`, { id }) : say(`whatif_end_${end}`, { id });
}
