// @ts-check
/** Small helpers that build elements without markup in strings. */

const SVG = "http://www.w3.org/2000/svg";

const RIGHT_TO_LEFT = typeof document !== "undefined" && document.documentElement.dir === "rtl";
/** Two words and more in Latin letters only: a sentence that the language has no words for. */
const ENGLISH = /^[^\u0590-\u08ff]*[a-z]{2}[^\u0590-\u08ff]* [^\u0590-\u08ff]*[a-z]{2}[^\u0590-\u08ff]*$/;

/** @typedef {Node | string | null | undefined | false} Child */

/** @param {Element} node @param {Record<string, any>} props @param {Child[]} children */
function fill(node, props, children) {
  for (const [name, value] of Object.entries(props)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else node.setAttribute(name, value === true ? "" : String(value));
  }
  for (const child of children) if (child) node.append(child);
  if (RIGHT_TO_LEFT && children.some((child) => typeof child === "string" && ENGLISH.test(child))) {
    node.setAttribute("lang", "en");
    node.setAttribute("dir", "ltr");
  }
}

/** @param {string} tag @param {Record<string, any>} [props] @param {...Child} children @returns {any} */
export function el(tag, props = {}, ...children) {
  const node = document.createElement(tag);
  fill(node, props, children);
  return node;
}

/** @param {string} tag @param {Record<string, any>} [props] @param {...Child} children @returns {any} */
export function svg(tag, props = {}, ...children) {
  const node = document.createElementNS(SVG, tag);
  fill(node, props, children);
  return node;
}

/** A symbol of the page, drawn once in page.html. @param {string} id @param {string} [className] */
export function symbol(id, className = "") {
  return svg("svg", { class: className, "aria-hidden": "true" }, svg("use", { href: `#${id}` }));
}

/** A plate. @param {Child} words @param {() => void} onclick @param {Record<string, any>} [props] */
export function plate(words, onclick, props = {}) {
  const { kind = "", ...rest } = props;
  return el("button", { type: "button", class: `plate ${kind}`.trim(), onclick, ...rest }, words);
}

/** One of a few. @param {{value: any, words: string}[]} choices @param {any} chosen
 * @param {(value: any) => void} onpick @param {{label: string, tight?: boolean}} how */
export function tabs(choices, chosen, onpick, how) {
  const buttons = choices.map(({ value, words }) =>
    el("button", {
      type: "button",
      class: "tab",
      "aria-pressed": String(value === chosen),
      "data-value": value,
      onclick: () => onpick(value),
    }, words));
  return el("div", { class: how.tight ? "tabs tight" : "tabs", role: "group", "aria-label": how.label }, ...buttons);
}
