// @ts-check
/** Fields in which a maker is named: a nickname or a bench number, never a full name. */

import { el } from "./dom.js";
import { say } from "./words.js";

/** As many letters as the server takes. */
export const MOST_LETTERS = 24;

/** Two words with a letter each may be a full name; 'bench 7' is none. @param {string} text */
export const looksFull = (text) => text.split(/[\s,._·]+/u).filter((word) => /\p{L}/u.test(word)).length > 1;

/**
 * A field for a nickname. It says that full names stay out, and warns at two words; it refuses nothing.
 * @param {{id: string, label: string, value?: string, oninput?: (value: string) => void}} how
 * @returns {HTMLElement} its input is found under `id`
 */
export function nicknameField({ id, label, value = "", oninput }) {
  const warning = el("p", { id: `${id}-warning`, class: "warn", role: "status" });
  const warn = (/** @type {string} */ text) => {
    const words = looksFull(text) ? say("names_warn") : "";
    if (warning.textContent !== words) warning.textContent = words;
  };
  const input = el("input", {
    id,
    value,
    maxlength: MOST_LETTERS,
    autocomplete: "off",
    autocapitalize: "off",
    spellcheck: "false",
    dir: "auto",
    "aria-describedby": `${id}-hint ${id}-warning`,
    oninput: () => {
      warn(input.value);
      oninput?.(input.value);
    },
  });
  warn(value);
  const hint = el("p", { id: `${id}-hint`, class: "hint" }, say("names_hint"));
  return el("div", { class: "field" }, el("label", { for: id }, label), input, hint, warning);
}
