// @ts-check
/** What the picture shows on each screen: outlines, marks, lamp, overlay, thread. */

import { bounds, padded, seenBox } from "./geometry.js";
import { entryAt, targets } from "./job.js";
import { covers, thread, whatIsAt } from "./marks.js";
import { createPicture } from "./picture.js";
import { SCREENS } from "./screens/index.js";
import * as server from "./server.js";
import { say } from "./words.js";

/** @typedef {import("./geometry.js").Point} Point */

const $ = (/** @type {string} */ id) => /** @type {any} */ (document.getElementById(id));
const REDRAW_MS = 250;
const SLIP_CSS = 18; // so far the slip lies over the foot of the picture on a phone

/** @param {any} state @returns {import("./screens/screen.js").Picture} */
const pictureOf = (state) => SCREENS[state.screen].picture ?? {};

/** @param {any} app */
export function createStage(app) {
  let overlayKey = "";
  let walked = "";
  /** @type {any} */ let redraw = null;
  const now = () => pictureOf(app.state());
  const picture = createPicture($("picture"), {
    tappable: () => now().tappable?.(app.state()) ?? false,
    spots: () => now().spots?.(app.state()) ?? [],
    tap: (at) => now().tap?.(app, at, picture.scale()),
    touch: (at) => now().touch?.(app, at, picture.scale()),
    move: (key, at) => now().move?.(app, key, at),
    pen: () => now().pen?.(app.state()) ?? null,
    drawn: (line) => now().drawn?.(app, line),
    said: (what) => app.speak(say(`pen_${what}`)),
    choose: (key) => now().choose?.(app, key),
    remove: (key) => now().remove?.(app, key),
    words: (at) => whatIsAt(app.state().pieces, at),
    hand: () => app.state().hand,
    turned: (turn) => turn !== app.state().turn && app.set({ turn }),
    moved: () => {
      drawThread();
      clearTimeout(redraw);
      redraw = setTimeout(settled, REDRAW_MS);
    },
  });

  /** Tags are placed anew for the view as it is now. */
  function settled() {
    if (!app.state().photo?.w || $("stage").hidden) return;
    setMarks(app.state());
    if (now().overlay && app.state().inspection) showOverlay(app.state());
  }

  /** @param {any} state */
  const setMarks = (state) =>
    picture.setMarks(pictureOf(state).marks?.(state, picture.scale(), picture.view()) ?? []);

  function drawThread() {
    const state = app.state();
    const place = !$("stage").hidden && state.inspection && now().thread?.(state);
    const eyelet = place && eyeletAt();
    const at = eyelet && picture.onScreen(place.at);
    $("thread").replaceChildren(...(at ? thread(at, freeEyelet(at, eyelet), place.words, taken()) : []));
  }

  /** @param {any} state */
  function draw(state) {
    const { photo } = state;
    if (!photo?.w || $("stage").hidden) return void $("thread").replaceChildren();
    const shows = pictureOf(state);
    picture.setPhoto(photo.url, photo.w, photo.h);
    picture.setTurn(state.turn);
    $("picture").setAttribute("aria-label", say(shows.taps ? "picture_tap" : "picture_see"));
    picture.setLines(shows.lines?.(state) ?? []);
    setMarks(state);
    picture.setLamp(shows.lamp?.(state, sculpture(state) ?? wholeOf(state)) ?? null);
    if (shows.overlay && state.inspection) showOverlay(state);
    else picture.setFound(null);
    if (!shows.taps) picture.dropCross();
    drawThread();
  }

  /** Asks for the marks as they fit the part of the photo that is seen now. @param {any} state */
  async function showOverlay(state) {
    const { inspection, screen } = state;
    const wish = /** @type {import("./screens/screen.js").Overlay} */ (pictureOf(state).overlay?.(state));
    const what = [screen, inspection.id, inspection.case.age, JSON.stringify(wish)].join(" ");
    const scale = picture.scale();
    const covered = innerWidth < 900 ? SLIP_CSS : 0;
    const view = picture.view(covered);
    const { x, y, w, h } = seenBox(view);
    const frame = [x, y, x + w, y + h];
    const sideways = Math.round((view.turn ?? 0) / 90) % 2 === 1;
    const key = `${what} ${frame.map(Math.round)} ${sideways}`;
    if (key === overlayKey) return;
    overlayKey = key;
    if (what !== walked) picture.setFound(null);
    const text = await server.overlay(inspection.id, { ...wish, scale, frame, sideways }).catch(() => null);
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
    const box = body && body.w > 0 && body.h > 0 && !isPart(body, state) ? padded(body, pictureOf(state).room ?? 0.2) : wholeOf(state);
    const covered = SCREENS[state.screen].tied && innerWidth < 900; // the slip lies over the foot of the picture
    picture.look(covered ? { ...box, h: box.h * 1.1 } : box, false);
  }

  /** Nearer or farther by a plate, round what has been tapped so far. @param {number} factor */
  function zoom(factor) {
    const body = sculpture(app.state());
    picture.zoom(factor, body && factor > 1 ? [body.x + body.w / 2, body.y + body.h / 2] : null);
  }

  /** Plates that stand on the picture. @param {any} state */
  const plates = (state) => pictureOf(state).plates?.(app, { zoom, turn: picture.turn }) ?? [];

  return { draw, aim, drawThread, whole: picture.whole, turn: picture.turn, plates };
}

/** @param {any} state */
const wholeOf = ({ photo }) => ({ x: 0, y: 0, w: photo.w, h: photo.h });

/** A few taps close together, before the edges are known: the leads would lie outside. @param {any} box @param {any} state */
const isPart = ({ w, h }, { pieces, photo }) => !pieces?.length && w < photo.w / 2 && h < photo.h / 2;

/** The box round all dough and all entries, or null before anything is known of them. @param {any} state */
function sculpture(state) {
  const { pieces, job } = state;
  const outlined = (pieces ?? []).flatMap((/** @type {any} */ piece) => piece.outline);
  const entered = targets(job).map((key) => entryAt(job, key)).filter(Boolean);
  const dough = job.palette.flatMap((/** @type {any} */ one) => (one.role === "table" ? [] : one.taps));
  const more = pictureOf(state).extent?.(state) ?? [];
  const all = /** @type {Point[]} */ ([...outlined, ...entered, ...dough, ...more]);
  return all.length > 0 ? bounds(all) : null;
}

/** Where tags already stand, in CSS pixels of the window. @returns {DOMRect[]} */
const taken = () => [...document.querySelectorAll("#picture .found .light")].map((tag) => tag.getBoundingClientRect());

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
  const rtl = document.documentElement.dir === "rtl";
  if (innerWidth >= 900) return [rtl ? box.right - 12 : box.left + 12, (say.top + say.bottom) / 2];
  return [box.left + box.width * 0.6, box.top + 12];
}

