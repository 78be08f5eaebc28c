// @ts-check
/** Fields of the rooms: a label above, a hint below. */

import { el } from "../dom.js";

/** @typedef {{id: string, label: string, hint?: string}} Named */

/** A field with its label and hint. @param {Named} named @param {HTMLElement} input */
export function field({ id, label, hint }, input) {
  input.id = id;
  if (hint) input.setAttribute("aria-describedby", `${id}-hint`);
  return el("div", { class: "field" }, el("label", { for: id }, label), input,
    hint ? el("p", { class: "hint", id: `${id}-hint` }, hint) : null);
}

/** One line of text. @param {Named & {value: string, most: number, required?: boolean}} how @param {(value: string) => void} told */
export function textField({ value, most, required, ...named }, told) {
  const input = el("input", {
    value,
    maxlength: most,
    required,
    autocomplete: "off",
    dir: "auto",
    oninput: () => told(input.value),
  });
  return field(named, input);
}

/** A number; what is none is not told. @param {Named & {value: number | null, min: number, max: number, step?: number}} how
 * @param {(value: number) => void} told */
export function numberField({ value, min, max, step = 1, ...named }, told) {
  const input = el("input", {
    type: "number",
    value: value ?? "",
    min,
    max,
    step,
    inputmode: step < 1 ? "decimal" : "numeric",
    required: true,
    oninput: () => {
      if (input.value !== "" && input.checkValidity()) told(Number(input.value));
    },
  });
  return field(named, input);
}

/** A day. @param {Named & {value: string}} how @param {(value: string) => void} told */
export function dayField({ value, ...named }, told) {
  const input = el("input", {
    type: "date",
    value,
    required: true,
    min: "2000-01-01",
    max: "2199-12-31",
    onchange: () => {
      if (input.value && input.checkValidity()) told(input.value);
    },
  });
  return field(named, input);
}

/**
 * Draws the room anew; a tab that had the focus keeps it, and what is gone leaves it to what comes next.
 * @param {() => void} show @param {string[]} next ids, the first one that is there has the focus then
 */
export function keepingFocus(show, next) {
  const had = /** @type {HTMLElement | null} */ (document.activeElement);
  const inRoom = had?.closest("#room");
  const group = had?.closest(".tabs");
  const at = group ? [...document.querySelectorAll("#room .tabs")].indexOf(group) : -1;
  show();
  if (!inRoom || (document.activeElement && document.activeElement !== document.body)) return;
  const tab = document.querySelectorAll("#room .tabs")[at]?.querySelector(`[data-value="${had?.dataset.value}"]`);
  const place = tab ?? next.map((id) => document.getElementById(id)).find(Boolean);
  /** @type {HTMLElement | undefined | null} */ (place)?.focus();
}
