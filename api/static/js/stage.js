// @ts-check
/** What the picture shows on each screen: outlines, marks, lamp, overlay, thread. */

import { bounds, inside, padded } from "./geometry.js";
import { entryAt, targets, withEntry } from "./job.js";
import { covers, entries, entriesOf, outlines, samples, sizeLine, thread, whatIsAt } from "./marks.js";
import { createPicture } from "./picture.js";
import { placeEntry } from "./screens/entries.js";
import { checkLayers, checkParts, checkPlace } from "./screens/check.js";
import { planOf } from "./screens/plans.js";
import * as server from "./server.js";
import { say } from "./words.js";

/** @typedef {import("./geometry.js").Point} Point */

const $ = (/** @type {string} */ id) => /** @type {any} */ (document.getElementById(id));
const REDRAW_MS = 250;
const SLIP_CSS = 18; // so far the slip lies over the foot of the picture on a phone
const TAPPED = ["colours", "size", "entries"];
const TOLD = ["answer", "check"];

/** @param {any} app */
export function createStage(app) {
  let overlayKey = "";
  let walked = "";
  /** @type {any} */ let redraw = null;
  const picture = createPicture($("picture"), {
    tappable: () => {
      const { screen, target, job } = app.state();
      if (screen === "entries") return target !== null;
      return screen === "colours" || (screen === "size" && job.size.points.length < 2);
    },
    spots: () => spotsOf(app.state()),
    tap: (at) => tapped(app, at),
    move: (key, at) => moved(app, key, at),
    words: (at) => whatIsAt(app.state().pieces, at, inside),
    hand: () => app.state().hand,
    moved: () => {
      drawThread();
      clearTimeout(redraw);
      redraw = setTimeout(() => TOLD.includes(app.state().screen) && showOverlay(app.state()), REDRAW_MS);
    },
  });

  function drawThread() {
    const state = app.state();
    const eyelet = TOLD.includes(state.screen) && eyeletAt();
    if (state.screen === "check") {
      const place = state.level !== "ask" && eyelet && checkPlace(state);
      const at = place && picture.onScreen(place);
      return $("thread").replaceChildren(...(at && eyelet ? thread(at, freeEyelet(at, eyelet), "", taken()) : []));
    }
    const found = state.inspection?.report.findings[state.finding];
    const shown = eyelet && found && state.level !== "ask" && planOf(state).when === "now";
    $("thread").replaceChildren(...(shown ? thread(picture.onScreen(found.at), freeEyelet(picture.onScreen(found.at), eyelet), label(found, state), taken()) : []));
  }

  /** @param {any} state */
  function draw(state) {
    const { screen, photo, job } = state;
    if (!photo?.w || $("stage").hidden) return void $("thread").replaceChildren();
    picture.setPhoto(photo.url, photo.w, photo.h);
    $("picture").setAttribute("aria-label", say(TAPPED.includes(screen) ? "picture_tap" : "picture_see"));
    const answered = TOLD.includes(screen);
    picture.setLines(answered ? [] : outlines(screen === "entries" || screen === "size" ? [] : state.pieces ?? []));
    picture.setMarks(screen === "answer" ? [] : marksOf(state, picture.scale()));
    picture.setLamp(answered ? lampOf(state) : null);
    if (!answered || !state.inspection) picture.setFound(null);
    else showOverlay(state);
    if (!TAPPED.includes(screen)) picture.dropCross();
    drawThread();
  }

  /** Asks for the marks as they fit the part of the photo that is seen now. @param {any} state */
  async function showOverlay(state) {
    const { inspection, finding, screen } = state;
    const checks = screen === "check";
    const layers = checks ? checkLayers(state) : layersOf(state);
    const { plan, when } = checks ? { plan: null, when: "now" } : planOf(state);
    const level = !checks && inspection.report.findings.length ? state.level : "do";
    const what = [screen, inspection.id, finding, level, plan?.rank, when, ...layers].join(" ");
    const { x, y, w, h } = picture.view();
    const scale = picture.scale();
    const covered = innerWidth < 900 ? SLIP_CSS * scale : 0;
    const frame = [x, y, x + w, y + h - covered];
    const key = `${what} ${frame.map(Math.round)}`;
    if (key === overlayKey) return;
    overlayKey = key;
    if (what !== walked) picture.setFound(null);
    const about = !checks && inspection.report.findings.length ? finding : null;
    const wish = { finding: about, layers, level, remedy: plan?.rank ?? null, when, scale, frame };
    const text = await server.overlay(inspection.id, wish).catch(() => null);
    if (overlayKey !== key || app.state().screen !== screen) return;
    picture.setFound(text, what !== walked);
    walked = what;
    drawThread();
  }

  /** Where the view goes when a screen opens. @param {any} state */
  function aim(state) {
    overlayKey = "";
    if (!state.photo?.w) return;
    picture.measure();
    const body = sculpture(state);
    const room = { answer: 0.12, check: 0.12, entries: 0.08 }[/** @type {string} */ (state.screen)] ?? 0.2;
    const box = body && body.w > 0 && body.h > 0 ? padded(body, room) : wholeOf(state);
    const covered = TOLD.includes(state.screen) && innerWidth < 900; // the slip lies over the foot of the picture
    picture.look(covered ? { ...box, h: box.h * 1.1 } : box, false);
  }

  /** Nearer or farther by a plate, round what has been tapped so far. @param {number} factor */
  function zoom(factor) {
    const body = sculpture(app.state());
    picture.zoom(factor, body && factor > 1 ? [body.x + body.w / 2, body.y + body.h / 2] : null);
  }

  return { draw, aim, drawThread, whole: picture.whole, zoom };
}

/** Layers of the server's overlay; it keeps back what the level does not tell. @param {any} state */
function layersOf({ lumps, numbers, inspection }) {
  const layers = inspection.report.findings.length ? ["answer"] : ["lights"];
  return [...layers, ...(lumps ? ["lumps"] : []), ...(numbers ? ["numbers", "lights"] : [])];
}

/** @param {any} state */
const wholeOf = ({ photo }) => ({ x: 0, y: 0, w: photo.w, h: photo.h });

/** The box round all dough and all entries, or null before anything is known of them. @param {any} state */
function sculpture({ pieces, job, screen }) {
  const outlined = (pieces ?? []).flatMap((/** @type {any} */ piece) => piece.outline);
  const entered = targets(job).map((key) => entryAt(job, key)).filter(Boolean);
  const dough = job.palette.flatMap((/** @type {any} */ one) => (one.role === "table" ? [] : one.taps));
  const size = screen === "size" ? job.size.points : [];
  const all = /** @type {Point[]} */ ([...outlined, ...entered, ...dough, ...size]);
  return all.length > 0 ? bounds(all) : null;
}

/** @param {any} state @param {number} scale photo pixels per CSS pixel */
function marksOf(state, scale) {
  const { screen, job, active, adding } = state;
  if (screen === "check") {
    const { parts, beside } = checkParts(state);
    const doughs = (state.pieces ?? []).filter((/** @type {any} */ piece) => piece.role === "conductive");
    const isDough = (/** @type {Point} */ at) => doughs.some((/** @type {any} */ piece) => inside(piece.outline, at));
    return entriesOf(job, parts, beside, isDough, scale);
  }
  if (screen === "colours") return samples(job.palette, adding ? -1 : active);
  if (screen === "size") return sizeLine(job.size.points);
  return entries(job, scale);
}

/** What can be dragged. @param {any} state @returns {{key: string, at: Point}[]} */
function spotsOf({ screen, job }) {
  if (screen === "colours") {
    return job.palette.flatMap((/** @type {any} */ dough, /** @type {number} */ i) =>
      dough.taps.map((/** @type {Point} */ at, /** @type {number} */ n) => ({ key: `${i}.${n}`, at })));
  }
  if (screen === "size") return job.size.points.map((/** @type {Point} */ at, /** @type {number} */ n) => ({ key: `${n}`, at }));
  if (screen !== "entries") return [];
  return targets(job).flatMap((key) => {
    const at = entryAt(job, key);
    return at ? [{ key, at }] : [];
  });
}

/** @param {any} app @param {Point} at */
function tapped(app, at) {
  const { screen, job } = app.state();
  if (screen === "entries") placeEntry(app, at);
  else if (screen === "colours") app.tapDough(at);
  else if (screen === "size") app.edit({ ...job, size: { ...job.size, points: [...job.size.points, at].slice(0, 2) } });
}

/** @param {any} app @param {string} key @param {Point} at */
function moved(app, key, at) {
  const { screen, job } = app.state();
  if (screen === "entries") return app.edit(withEntry(job, key, at));
  if (screen === "size") {
    const points = job.size.points.map((/** @type {Point} */ p, /** @type {number} */ n) => (String(n) === key ? at : p));
    return app.edit({ ...job, size: { ...job.size, points } });
  }
  const [i, n] = key.split(".").map(Number);
  const taps = job.palette[i].taps.map((/** @type {Point} */ p, /** @type {number} */ m) => (m === n ? at : p));
  return app.editDough(i, { taps });
}

/** The lamp narrows from ask to do. @param {any} state */
function lampOf(state) {
  const found = state.inspection?.report.findings[state.finding];
  const body = sculpture(state) ?? wholeOf(state);
  const across = Math.max(body.w, body.h);
  /** @type {Point} */ const centre = [body.x + body.w / 2, body.y + body.h / 2];
  const checked = state.screen === "check" && state.level !== "ask" && checkPlace(state);
  if (checked) return { at: checked, r: across * 0.74, dark: 0.62, core: 0.34 };
  if (!found || state.screen === "check" || state.level === "ask" || planOf(state).when === "then") return { at: centre, r: across * 0.95, dark: 0.5, core: 0.6 };
  return { at: found.at, r: across * 0.74, dark: 0.62, core: 0.34 };
}

/** Where tags already stand, in CSS pixels of the window. @returns {DOMRect[]} */
const taken = () => [...document.querySelectorAll("#picture .found .light")].map((tag) => tag.getBoundingClientRect());

/** The length of the cut, where the plan makes the cut that the finding tells. @param {any} found @param {any} state */
function label(found, state) {
  const { plan } = planOf(state);
  if (state.level !== "do" || found.cut_mm === null) return "";
  if (plan && !plan.steps.some((/** @type {any} */ step) => String(step.line) === String(found.cut))) return "";
  const told = /(\d+(?:[.,]\d+)?)\s*mm/.exec(found.do); // the same figure as in the sentence
  return told ? say("tag_cut", { mm: told[1] }) : "";
}

/** The eyelet moved along the top edge of the slip on a phone, so that the thread leaves tags free.
 * @param {Point} at @param {Point} eyelet @returns {Point} */
function freeEyelet(at, [x, y]) {
  if (innerWidth >= 900) return [x, y];
  const boxes = taken();
  const choices = [0.6, 0.5, 0.7, 0.4, 0.8, 0.3, 0.9, 0.2, 0.1].map((share) => /** @type {Point} */ ([innerWidth * share, y]));
  return choices.reduce((best, one) => (covers(at, one, boxes) < covers(at, best, boxes) ? one : best));
}

/** Where the thread is tied to the slip: its top edge on a phone, its left edge on a laptop. @returns {Point | null} */
function eyeletAt() {
  const slip = document.querySelector("#words .answer");
  if (!slip) return null;
  const box = slip.getBoundingClientRect();
  const words = $("words").getBoundingClientRect();
  if (box.top < words.top - 30) return null;
  const say = /** @type {Element} */ (slip.querySelector(".say")).getBoundingClientRect();
  return innerWidth >= 900 ? [box.left + 12, (say.top + say.bottom) / 2] : [box.left + box.width * 0.6, box.top + 12];
}

