// @ts-check
/** What the page says: templates of the catalogue that came with it, with names and numbers put in. */

/** @typedef {string | Record<string, string>} Template a sentence, or one for each plural category (CLDR) */

const page = typeof document === "undefined" ? null : document;
export const language = page?.documentElement.lang || "en";
const told = page?.getElementById("catalogue")?.textContent;
/** @type {Record<string, Template>} */ let catalogue = told ? JSON.parse(told) : {};
const offered = page?.getElementById("languages")?.textContent;
/** Code and own name of each language. @type {Record<string, string>} */
export const languages = offered ? JSON.parse(offered) : {};
const plurals = new Intl.PluralRules(language);

/** Another catalogue, where there is no page. @param {Record<string, Template>} words */
export function speak(words) {
  catalogue = words;
}

/** A key's sentence with its `{slots}` filled; `n` chooses the plural, lists and numbers are written as the language does.
 * @param {string} key @param {Record<string, any>} [slots] @returns {string} */
export function say(key, slots = {}) {
  const words = catalogue[key];
  if (words === undefined) return key;
  const text = typeof words === "string" ? words : words[plurals.select(slots.n)] ?? words.other;
  return text.replace(/{(\w+)}/g, (_, name) => written(slots[name]));
}

/** @param {string} key */
export const knows = (key) => key in catalogue;

/** @param {any} value */
function written(value) {
  if (Array.isArray(value)) return new Intl.ListFormat(language, { type: "conjunction" }).format(value);
  return typeof value === "number" ? figure(value, Number.isInteger(value) ? 0 : 1) : nameOf(String(value ?? ""));
}

/** A dough's name: those that the page suggests are words of the language. @param {string} name @returns {string} */
export const nameOf = (name) => /** @type {string} */ (catalogue[`dough_${name}`] ?? name);

/** A number as the language writes it. @param {number} value @param {number} decimals */
export function figure(value, decimals) {
  const digits = { minimumFractionDigits: decimals, maximumFractionDigits: decimals };
  return new Intl.NumberFormat(language, digits).format(value);
}
