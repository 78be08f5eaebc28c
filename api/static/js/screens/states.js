// @ts-check
/** Waiting, error, offline: a slip with the lamp, one sentence, what comes next. */

import { el, plate, svg, symbol } from "../dom.js";
import { countTaps } from "../job.js";
import { outlines } from "../marks.js";
import { say } from "../words.js";

/** @param {any} state */
const outlined = ({ pieces }) => outlines(pieces ?? []);

/** @param {string} picture @param {string} title @param {string} text @param {...any} rest */
function slip(picture, title, text, ...rest) {
  return el("section", { class: "slip whole state" }, symbol(`state-${picture}`),
    el("h1", { class: "say" }, title), el("p", { class: "label soft" }, text), ...rest);
}

const KNOT = /** @type {Record<string, number>} */ ({
  photo: 1, dough: 1, colours: 1, shapes: 2, sums: 3, shorts: 3, remedies: 4,
});

/** @type {import("./screen.js").Screen} */
export const waiting = { tell: waitingWords, step: 3, back: "entries", picture: { lines: outlined } };

/** @param {any} app */
function waitingWords(app) {
  const { wait } = app.state();
  if (wait.what !== "case") return { words: [slip("loading", say(`wait_${wait.what}`), "")], foot: [] };
  const n = KNOT[wait.stage] ?? 1;
  const words = say("wait_of", { n, what: say(`wait_${n}`) });
  const text = wait.slow ? `${words} ${say("wait_slow")}` : words;
  return { words: [slip("loading", say(wait.title), text, progress(n))], foot: [] };
}

/** Knots on a thread. @param {number} n 1 to 4 */
function progress(n) {
  const knots = [7, 68, 128, 189].map((cx, i) => {
    if (i + 1 < n) return svg("circle", { cx, cy: 7, r: 6, fill: "var(--edge)" });
    const here = i + 1 === n;
    return svg("circle", {
      cx, cy: 7, r: 5,
      fill: here ? "var(--lamp)" : "var(--slip)",
      stroke: here ? "var(--ink)" : "var(--edge)",
      "stroke-width": here ? 2.5 : 2,
    });
  });
  return svg("svg", { class: "progress", viewBox: "0 0 196 14", role: "img", "aria-label": `${n} / 4` },
    svg("path", { d: "M7 7h182", stroke: "var(--edge)", "stroke-width": 2 }), ...knots);
}

/** @type {import("./screen.js").Screen} */
export const trouble = { tell: troubleWords, step: 0, back: "start", picture: { lines: outlined } };

/** @param {any} app */
function troubleWords(app) {
  const { trouble: it } = app.state();
  const again = plate(it.plate, it.act, { kind: "main" });
  const back = it.back && plate(say("back"), () => app.go(it.back));
  return { words: [slip("error", it.title, it.text)], foot: [back, again] };
}

/** @type {import("./screen.js").Screen} */
export const offline = { tell: offlineWords, step: 0, back: "start", picture: { lines: outlined } };

/** @param {any} app */
function offlineWords(app) {
  const { job } = app.state();
  return {
    words: [slip("offline", say("offline_title"), say("offline_kept", { n: countTaps(job) }))],
    foot: [
      plate(say("offline_tap"), () => app.go(app.state().offlineFrom)),
      plate(say("offline_now"), () => app.retry(), { kind: "main" }),
    ],
  };
}
