// @ts-check
/** What else was found: other findings, what could be built better, doubtful contacts, what changed. */

import { el, plate, symbol } from "../dom.js";
import { say } from "../words.js";
import { entryWords } from "./figures.js";

const MOST_CHANGES = 3;

/** The other findings, each in the words of the level; what is said already is not said twice. @param {any} state
 * @returns {{one: any, i: number, text: string}[]} */
export function othersOf({ inspection, finding, level }) {
  const { findings } = inspection.report;
  const words = (/** @type {any} */ one) => (level === "do" ? one.why : one[level]);
  const said = new Set(findings.slice(finding, finding + 1).map(words));
  return findings.map((/** @type {any} */ one, /** @type {number} */ i) => ({ one, i, text: words(one) }))
    .filter((/** @type {any} */ { i, text }) => i !== finding && (level === "do" || (!said.has(text) && said.add(text))));
}

/** @param {any} app */
export const others = (app) => el("ul", { class: "others" }, ...othersOf(app.state()).map(({ one, i, text }) =>
  el("li", {}, sign(one.level), el("span", {}, text), show(text, () => app.set({ finding: i, open: null, spot: null })))));

/** @param {string} level */
const sign = (level) => el("span", { class: `level ${level}` }, symbol(`level-${level}`), say(`level_${level}`));

/** @param {string} text @param {() => void} act @param {boolean} [on] */
const show = (text, act, on) => plate(say("show"), act, {
  kind: "quiet push", "aria-label": `${say("show")}: ${text}`, "aria-pressed": on === undefined ? null : String(on),
});

/** The place that the lamp is on, or off it again. @param {any} app @param {[number, number]} at */
function spot(app, at) {
  const on = String(app.state().spot) === String(at);
  return { on, act: () => app.set({ spot: on ? null : at }) };
}

/** Nothing is broken, but it could be built better. @param {any} app */
export function notes(app) {
  return el("ul", { class: "others" }, ...app.state().inspection.report.notes.map((/** @type {any} */ one) => {
    const { on, act } = spot(app, one.at);
    return el("li", {}, el("span", {}, el("b", {}, one.why), ` ${one.do}`), show(one.why, act, on));
  }));
}

/** The answer if a doubtful contact goes the other way. @param {any} app */
export function otherwise(app) {
  const { report } = app.state().inspection;
  return el("ul", { class: "others" }, ...report.otherwise.map((/** @type {any} */ other) => {
    const contact = report.contacts[other.contact];
    const text = otherwiseWords(report, other);
    const { on, act } = spot(app, contact.at);
    return el("li", {}, symbol("touch-doubtful", "touch"), el("span", {}, text), show(text, act, on));
  }));
}

/** @param {any} report @param {any} other */
export function otherwiseWords(report, other) {
  const contact = report.contacts[other.contact];
  const colour = (/** @type {number} */ id) => report.pieces.find((/** @type {any} */ piece) => piece.id === id)?.colour ?? "";
  const [a, b] = contact.between.map(colour);
  const which = a === b ? "same" : "two";
  const touching = contact.likely === false; // what `other` takes for granted
  const said = [
    say(`otherwise_${touching ? "touch" : "apart"}_${which}`, { a, b }),
    comesOf(report, other),
    say(better(report, other) === touching ? "otherwise_press" : "otherwise_pull"),
  ];
  return said.join(" ");
}

/** @param {any} report @param {any} other */
function comesOf(report, other) {
  if (isShort(other.entries) && !isShort(report.entries)) return say("otherwise_short");
  const now = new Map(report.leds.map((/** @type {any} */ led) => [led.id, led.state]));
  const changed = other.leds.filter((/** @type {any} */ led) => now.get(led.id) !== led.state);
  const parts = ["bright", "dim", "off"].map((state) => [state, changed.filter((/** @type {any} */ led) => led.state === state)])
    .filter(([, leds]) => leds.length).map(([state, leds]) => say(`otherwise_${state}`, { ids: leds.map((/** @type {any} */ led) => led.id) }));
  return parts.length ? parts.join(" ") : say("otherwise_alike");
}

/** @param {Record<string, string | null>} entries */
const isShort = (entries) => Boolean(entries["pack.plus"]) && entries["pack.plus"] === entries["pack.minus"];

/** Whether the sculpture is better off if the contact goes the other way. @param {any} report @param {any} other */
function better(report, other) {
  const shine = (/** @type {any[]} */ leds) => leds.reduce((sum, led) => sum + Math.min(led.current_mA, 20), 0);
  if (isShort(other.entries) !== isShort(report.entries)) return isShort(report.entries);
  return shine(other.leds) > shine(report.leds);
}

/** What changed since the photo before; entries that may not belong where they were carried are named.
 * @param {any} app */
export function changes(app) {
  const all = app.state().inspection.report.changes;
  if (!all.length) return null;
  const doubts = all.filter((/** @type {any} */ one) => one.kind === "doubtful");
  const sure = all.filter((/** @type {any} */ one) => one.kind !== "doubtful");
  const names = [...new Set(doubts.flatMap((/** @type {any} */ one) => one.parts).map(entryWords))];
  const told = sure.slice(0, MOST_CHANGES).map((/** @type {any} */ one) => one.says);
  if (sure.length > MOST_CHANGES) told.push(say("changes_more", { n: sure.length - MOST_CHANGES }));
  return el("section", { class: "changes label", "aria-label": say("changes") },
    el("p", {}, el("b", {}, say("changes")), ...told.map((/** @type {string} */ one) => el("span", {}, ` ${one}`))),
    doubts.length > 0 && el("p", { class: "doubts" }, symbol("level-watch", "watch"),
      el("span", {}, names.length ? say("changes_doubt", { names }) : doubts[0].says),
      plate(say("changes_check"), () => app.go("entries"), { kind: "quiet", "data-key": "doubts" })));
}
