// @ts-check
/** How a workshop is told in short. No DOM here. */

import { knows, language, nameOf, say } from "../words.js";

/** Today as the laptop sees it, as year-month-day. */
export function today() {
  const now = new Date();
  const two = (/** @type {number} */ n) => String(n).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

/** A day in words. @param {string} day year-month-day */
export const dayWords = (day) =>
  new Intl.DateTimeFormat(language, { dateStyle: "long", timeZone: "UTC" }).format(new Date(`${day}T00:00Z`));

/** A time as the laptop's clock shows it. @param {string} time */
export const timeWords = (time) =>
  new Intl.DateTimeFormat(language, { dateStyle: "medium", timeStyle: "short" }).format(new Date(time));

/** @param {string} colour of an LED */
export const ledWords = (colour) => (knows(`workshop_led_${colour}`) ? say(`workshop_led_${colour}`) : colour);

/** What each part of a workshop holds, in a few words. @param {any} entry @param {string | null} deletedOn
 * @returns {Record<string, string>} */
export function summaries(entry, deletedOn) {
  const { kit, doughs, challenge } = entry;
  const leds = kit.leds.reduce((/** @type {number} */ sum, /** @type {any} */ one) => sum + one.count, 0);
  const names = doughs.filter((/** @type {any} */ one) => one.role !== "table").map((/** @type {any} */ one) => nameOf(one.name));
  return {
    name: [dayWords(entry.day), entry.place].filter(Boolean).join(" · "),
    kit: [say("workshop_cells_n", { n: kit.cells }), leds ? say("workshop_leds_n", { n: leds }) : ""].filter(Boolean).join(" · "),
    doughs: names.length ? new Intl.ListFormat(language, { type: "unit" }).format(names) : say("workshop_doughs_none"),
    ages: entry.age,
    challenge: challenge.rules.length
      ? [challenge.title, say("workshop_rules_n", { n: challenge.rules.length })].filter(Boolean).join(" · ")
      : challenge.title || say("workshop_challenge_none"),
    keep: deletedOn ? say("workshop_deleted_on", { day: dayWords(deletedOn) }) : say("workshop_deleted_never"),
  };
}

/** Where two entries differ, by the names of their parts. @param {any} mine @param {any} theirs @returns {string[]} */
export function differing(mine, theirs) {
  const one = summaries(mine, null);
  const other = summaries(theirs, null);
  const parts = Object.keys(one).filter((part) => part !== "keep" && one[part] !== other[part]);
  return mine.name === theirs.name || parts.includes("name") ? parts : ["name", ...parts];
}
