// @ts-check
/**
 * What the rooms share: pages beside the bench page, each with a bar, a body and a foot. A room is one module
 * beside this one; it calls `draw` whenever something has changed.
 */

import { el, plate } from "../dom.js";
import { languageTabs } from "../languages.js";
import { openSheet, sheetChoice } from "../sheets.js";
import { say } from "../words.js";

/** What the server told with the page. @type {any} */
export const told = JSON.parse(document.getElementById("told")?.textContent || "{}");

/** Where the app lies, seen from this page: "" or "../" or more. @type {string} */
export const root = told.root ?? "";

/**
 * @typedef {object} Look
 * @property {string} title the middle of the bar
 * @property {string} [under] a smaller line below it
 * @property {{words: string, href: string} | {words: string, act: () => void} | null} [back] to another page, or within this one
 * @property {import("../dom.js").Child[]} body
 * @property {import("../dom.js").Child[]} [foot]
 * @property {import("../dom.js").Child[]} [more] plates that only this room has under More
 */

/** @param {Look} look What has the focus keeps it if it is drawn again under the same `id`. */
export function draw({ title, under, back, body, foot = [], more = [] }) {
  const focus = document.activeElement?.id;
  const bar = /** @type {HTMLElement} */ (document.getElementById("bar"));
  bar.replaceChildren(
    back ? backPlate(back) : el("span"),
    el("div", { class: "where" }, title, under ? el("span", { class: "small soft under" }, under) : null),
    plate(say("more"), () => openSheet(say("more_title"), [...more, devicePlate(), themePlate(), languageTabs()]), { kind: "quiet", id: "more" }),
  );
  document.getElementById("room")?.replaceChildren(.../** @type {Node[]} */ (body.filter(Boolean)));
  const place = /** @type {HTMLElement} */ (document.getElementById("foot"));
  place.hidden = !foot.some(Boolean);
  place.replaceChildren(.../** @type {Node[]} */ (foot.filter(Boolean)));
  if (focus && document.activeElement?.id !== focus) document.getElementById(focus)?.focus();
  document.title = `${title} · Doughsight`;
  document.documentElement.dataset.ready = "";
}

/** @param {{words: string, href?: string, act?: () => void}} back */
const backPlate = ({ words, href, act }) => (act
  ? plate(words, act, { kind: "quiet", id: "back" })
  : el("a", { class: "plate quiet", href: root + href }, words));

/** Said to screen readers. @param {string} words */
export function speakOut(words) {
  const place = document.getElementById("spoken");
  if (place && place.textContent !== words) place.textContent = words;
}

/** To where this device says who it is, and may leave. */
const devicePlate = () =>
  (location.pathname.endsWith("/rooms/join") ? null : el("a", { class: "plate", href: `${root}rooms/join` }, say("join_device")));

function themePlate() {
  const dim = document.documentElement.dataset.theme === "dim";
  return sheetChoice(say(dim ? "more_bright" : "more_dim"), () => {
    const theme = dim ? "bright" : "dim";
    document.documentElement.dataset.theme = theme;
    try {
      localStorage.setItem("doughsight-theme", theme);
    } catch {
      // a private window forgets
    }
  });
}
