// @ts-check
/** Figures: what the sums say of each light and the pack, and what the same lights would do laid out otherwise. */

import { el, symbol } from "../dom.js";
import { figure, knows, say } from "../words.js";

/** @param {number} value two digits that mean something */
const round = (value) => figure(value, Math.abs(value) < 10 ? 1 : 0);

/** Currents, volts and how long the pack lasts; volts at every entry for those of 13 and older.
 * @param {any} report @param {any} plan @param {string} age */
export function figures(report, plan, age) {
  const then = plan?.then_mA ?? {};
  const leds = report.leds.map((/** @type {any} */ led) => {
    const volts = led.volts_V === null ? "" : say("comma") + say("figure_volts", { volts: round(led.volts_V) });
    const after = then[led.id] === undefined ? "" : say("numbers_then", { mA: round(then[led.id]) });
    return say("numbers_led", { id: led.id, mA: round(led.current_mA) }) + volts + after;
  });
  const rows = [...leds, ...packRows(report), ...(age === "13+" ? entryRows(report) : [])];
  if (!report.photo.true_scale) rows.push(say("numbers_relative"));
  return el("ul", { class: "numbers" }, ...rows.map((/** @type {string} */ row) => el("li", {}, row)));
}

/** @param {any} report @returns {string[]} */
function packRows({ pack }) {
  if (!pack) return [];
  const rows = [say("numbers_pack", { mA: round(pack.current_mA), volts: round(pack.terminal_V) })];
  if (pack.hours_until_flat !== null) rows.push(say("figure_hours", { hours: round(pack.hours_until_flat) }));
  return rows;
}

/** @param {any} report @returns {string[]} */
function entryRows({ entries_V: volts }) {
  return Object.entries(volts).map(([name, value]) => say("figure_entry", { name: entryWords(name), volts: round(value) }));
}

/** `L1.long` in words. @param {string} name */
export function entryWords(name) {
  const [id, end] = name.split(".");
  const key = id === "pack" ? end : `${end}_leg`;
  return knows(key) ? say(key, { id }) : name;
}

/** The same lights as built, in a row, and side by side. @param {any} report @param {string} age */
export function arrangements(report, age) {
  const numbers = age !== "6-8";
  const heads = [say("way_title"), ...report.leds.map((/** @type {any} */ led) => led.id), ...(numbers ? [say("way_pack")] : [])];
  const rows = report.arrangements.map((/** @type {any} */ one) => el("tr", {},
    el("th", { scope: "row" }, say(`way_${one.way}`)),
    ...one.leds.map((/** @type {any} */ led) => el("td", {},
      symbol(`led-${led.state}`, "led"), el("span", { class: "small" }, say(`seen_${led.state}`)))),
    numbers && el("td", { class: "num" }, say("figure_mA", { mA: round(one.pack_mA) }))));
  return el("div", { class: "table" }, el("table", {},
    el("thead", {}, el("tr", {}, ...heads.map((/** @type {string} */ head) => el("th", { scope: "col" }, head)))),
    el("tbody", {}, ...rows)));
}
