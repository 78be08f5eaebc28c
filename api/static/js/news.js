// @ts-check
/** One short note in the middle of the bar, in place of the step's name: nothing on the page moves for it. */

import { el } from "./dom.js";

const STAYS_MS = 6000;

/** @typedef {{words: string, act?: (() => void) | null}} News */

/** @type {News | null} */ let now = null;
let usual = "";
/** @type {any} */ let timer = null;

/** The middle of the bar: the note if there is one, else the name of the step. @param {string} step */
export function newsPlace(step) {
  usual = step;
  return el("div", { id: "news" }, ...inner());
}

function inner() {
  if (!now) return [usual];
  const { words, act } = now;
  return [act ? el("button", { type: "button", class: "plate quiet news", onclick: act }, words) : el("span", { class: "news" }, words)];
}

/** @param {News | null} news @param {boolean} [passing] it goes away by itself */
export function tellNews(news, passing = false) {
  clearTimeout(timer);
  if (passing) timer = setTimeout(() => tellNews(null), STAYS_MS);
  if (news?.words === now?.words && !news?.act === !now?.act) return;
  now = news;
  document.getElementById("news")?.replaceChildren(...inner());
}

/** Takes the note away if it is this one. @param {string} words */
export function newsOver(words) {
  if (now?.words === words) tellNews(null);
}
