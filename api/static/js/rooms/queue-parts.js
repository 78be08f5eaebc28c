// @ts-check
/** Queue: what its list and an opened call both show: picture, guess, waiting time; the chart; the note on top. */

import { el, plate, svg, symbol } from "../dom.js";
import { say } from "../words.js";
import { guessWords, kindWords, showWords } from "./kinds.js";
import { root } from "./room.js";

const MOST_PEAS = 10;
const STEP = 15;

/** @typedef {{id: string, revision: number, state: string, sculpture: string, waited_s: number, yours: boolean, helper: string,
 * bench: string, title: string, maker: string, photo: string | null, picture: string | null,
 * draft: string | null,
 * looked: boolean, guess: {code: string, level: string, parts: string[]} | null}} Call */

/** Pictures stay the same nodes, so that they are fetched once. @type {Map<string, HTMLElement>} */
const pictures = new Map();

/** @param {Call} call @param {"list" | "wide"} [size] */
export function picture({ photo, picture: shows }, size = "list") {
  if (!photo) return noPicture();
  const src = `${root}photos/${photo}/small.jpg?size=${size}&shows=${shows}`;
  const known = pictures.get(src) ?? el("img", { src, alt: "", class: "thumb", onerror: () => gone(src) });
  pictures.set(src, known);
  return known;
}

const noPicture = () => el("span", { class: "thumb none", "aria-hidden": "true" }, symbol("state-empty"));

/** The photo was deleted, or did not come over: the next one that is shown is asked for anew. @param {string} src */
function gone(src) {
  pictures.get(src)?.replaceWith(noPicture());
  pictures.delete(src);
}

/** A number says more with its word before it. @param {string} bench */
export const benchWords = (bench) => (/^\d+$/.test(bench) ? say("queue_bench", { bench }) : bench);

/** Bench and title; the bench alone where there is none. @param {Call} call */
export const nameOf = ({ bench, title }) => (title ? `${bench} ${title}` : benchWords(bench));

/** @param {Call} call */
export function guess({ guess: it, looked }) {
  if (!it) return el("span", { class: "label soft" }, say(looked ? "quiet_title" : "queue_no_guess"));
  return el("span", { class: `level ${it.level}` }, symbol(`level-${it.level}`),
    el("span", {}, el("span", { class: "hidden-words" }, `${say(`level_${it.level}`)}: `), guessWords(it)));
}

/** Who has it, or how long it has waited. @param {Call} call @param {number} late seconds since that was told */
export function since(call, late) {
  if (call.state === "taken") {
    return call.yours ? say("queue_yours") : say("queue_theirs", { helper: call.helper || say("queue_laptop") });
  }
  const n = Math.floor((call.waited_s + late) / 60);
  return n < 1 ? say("queue_now") : say("queue_minutes", { n });
}

/** What went wrong so far, by kind; nothing where nothing did. @param {{kinds: {kind: string, sculptures: number}[], of: number, stop: string | null}} chart */
export function chart({ kinds, of, stop }) {
  if (!kinds.length) return null;
  const rows = kinds.flatMap(({ kind, sculptures: n }) => [
    el("span", {}, kindWords(kind)),
    peas(n, of),
    el("b", { class: "num", "aria-hidden": "true" }, String(n)),
  ]);
  return el("section", { class: "wrong", "aria-labelledby": "wrong" },
    el("h2", { id: "wrong" }, say("queue_wrong")),
    el("div", { class: "tally" }, ...rows),
    stop && el("p", { class: "stop-class label", id: "stop-class" }, el("b", {}, say("queue_stop")), ` ${showWords(stop)}`));
}

/** As many as there are sculptures with a fault; ten at most, of which each then stands for more. @param {number} n @param {number} of */
function peas(n, of) {
  const all = Math.min(of, MOST_PEAS);
  const on = Math.max(1, Math.round((n / of) * all));
  const width = all * STEP;
  const circles = Array.from({ length: all }, (_, i) => svg("circle", { class: i < on ? "on" : "off", cx: 7 + i * STEP, cy: 7, r: 5 }));
  return svg("svg", {
    class: "peas", width, viewBox: `0 0 ${width} 14`, role: "img", "aria-label": say("queue_peas", { n, of }),
  }, ...circles);
}

/** What is told when nothing is pushed any more. @param {string} at the time of what is shown @param {() => void} again */
export function notLive(at, again) {
  return el("section", { class: "slip whole not-live" }, symbol("state-offline"),
    el("div", {}, el("p", { class: "do" }, el("b", {}, say("offline_title"))), el("p", { class: "label soft" }, say("queue_lost", { at }))),
    plate(say("offline_now"), again, { id: "again" }));
}

/** A slip with the lamp, for a page that has nothing else to show. @param {string} sign @param {string} title @param {string} text
 * @param {...any} rest */
export const alone = (sign, title, text, ...rest) => el("section", { class: "slip whole state" }, symbol(`state-${sign}`),
  el("h1", { class: "say" }, title), el("p", { class: "label soft" }, text), ...rest);
