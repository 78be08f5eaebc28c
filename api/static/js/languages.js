// @ts-check
/** In which language the page speaks. The choice is kept in a cookie, so that the server says the rest in it, too. */

import { el, tabs } from "./dom.js";
import { language, languages, say } from "./words.js";

const COOKIE = "doughsight-language";
const YEAR_S = 365 * 24 * 3600;

/** Each language by its own name. */
export function languageTabs() {
  const choices = Object.entries(languages).map(([value, words]) => ({ value, words }));
  const shown = tabs(choices, language, choose, { label: say("more_language"), tight: true });
  for (const tab of shown.children) tab.lang = tab.dataset.value;
  return el("div", { class: "languages" }, el("p", { class: "label" }, say("more_language")), shown);
}

/** The page comes anew in that language; what was told is kept in the browser. @param {string} code */
function choose(code) {
  if (code === language) return;
  document.cookie = `${COOKIE}=${code}; max-age=${YEAR_S}; samesite=lax`;
  location.reload();
}
