// @ts-check
/** Covers what is not to be seen on a photo: areas are blurred, or only one part of it is kept. */

import { el, plate, svg, tabs } from "../dom.js";
import { arrowStep } from "../gestures.js";
import { kept, keepPhoto } from "../keep.js";
import { closed, mark, open } from "../marks.js";
import { createPicture } from "../picture.js";
import { zoomPlates } from "../plates.js";
import { ask, Refused } from "../server.js";
import { openSheet, sheetChoice } from "../sheets.js";
import { say } from "../words.js";
import { draw, root, speakOut, told } from "./room.js";

/** @typedef {import("../geometry.js").Point} Point @typedef {[number, number, number, number]} Frame left, top, right, bottom */

const BRUSH_CSS = 44; // as wide as the finger that draws
const TILE_CSS = 9;
const LEAST_CSS = 48; // two corners are never nearer than that, so that each can be caught
const KEY_CSS = { plain: 4, far: 24 }; // how far an arrow key moves a corner
const INSET = 0.08; // where a new frame begins, of the photo
const CORNERS = ["top-left", "top-right", "bottom-right", "bottom-left"];

const photo = told.photo;
/** @type {{tool: string, areas: any[], frame: Frame | null, before: {areas: any[], frame: Frame | null}[], note: string,
 * warnings: string[], busy: boolean, version: number}} */
const state = { tool: "blur", areas: [], frame: null, before: [], note: "", warnings: [], busy: false, version: 0 };
/** The part that was kept before: no frame reaches out of it. @type {Frame} */
let whole = photo.frame ?? [0, 0, photo.width, photo.height];

const canvas = svg("svg", { class: "picture", id: "picture", tabindex: 0, role: "application" });
const stage = el("div", { class: "stage", id: "stage" }, canvas);
const picture = createPicture(canvas, {
  tappable: () => state.tool === "blur",
  spots: () => (state.tool === "frame" && state.frame ? CORNERS.map((key) => ({ key, at: cornerAt(/** @type {Frame} */ (state.frame), key) })) : []),
  tap: () => undefined,
  touch: () => undefined,
  move: (key, at) => change({ frame: moved(/** @type {Frame} */ (state.frame), key, at) }),
  pen: () => (state.tool === "blur" ? { kind: "stroke", width: BRUSH_CSS * picture.scale(), look: "" } : null),
  drawn: (points) => change({ areas: [...state.areas, { kind: "stroke", points, width_px: BRUSH_CSS * picture.scale() }] }),
  said: (what) => speakOut(say(`pen_${what}`)),
  choose: () => undefined,
  remove: () => undefined,
  words: () => "",
  hand: () => "right",
  turned: () => undefined,
  moved: () => showMarks(),
});
const nearer = el("div", { class: "on-picture" }, ...zoomPlates(null, { zoom: (factor) => picture.zoom(factor, null), turn: picture.turn }).slice(1));
stage.append(nearer);
const words = el("div", { class: "cover-words" });
canvas.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => {
  const key = /** @type {any} */ (event.target).dataset?.key;
  const step = arrowStep(event);
  if (!key || !step || !state.frame) return;
  event.preventDefault();
  event.stopPropagation();
  const far = (event.shiftKey ? KEY_CSS.far : KEY_CSS.plain) * picture.scale();
  const [x, y] = cornerAt(state.frame, key);
  change({ frame: moved(state.frame, key, [x + Math.sign(step[0]) * far, y + Math.sign(step[1]) * far]) });
}, true);

/** @param {Frame} frame @param {string} corner @returns {Point} */
function cornerAt([left, top, right, bottom], corner) {
  return [corner.endsWith("left") ? left : right, corner.startsWith("top") ? top : bottom];
}

/** The frame with one corner there, inside what is left of the photo. @param {Frame} frame @param {string} corner @param {Point} at
 * @returns {Frame} */
function moved([left, top, right, bottom], corner, [x, y]) {
  const least = LEAST_CSS * picture.scale();
  const held = (/** @type {number} */ v, /** @type {number} */ low, /** @type {number} */ high) => Math.round(Math.min(Math.max(v, low), high));
  const across = corner.endsWith("left") ? [held(x, whole[0], right - least), right] : [left, held(x, left + least, whole[2])];
  const down = corner.startsWith("top") ? [held(y, whole[1], bottom - least), bottom] : [top, held(y, top + least, whole[3])];
  return [across[0], down[0], across[1], down[1]];
}

/** @param {{areas?: any[], frame?: Frame | null}} next */
function change(next) {
  const { areas, frame } = state;
  state.before.push({ areas, frame });
  Object.assign(state, next, { note: "", warnings: [] });
  show();
}

function undo() {
  Object.assign(state, state.before.pop());
  show();
}

/** @param {string} tool */
function choose(tool) {
  state.tool = tool;
  const [left, top, right, bottom] = whole;
  const inset = Math.round(INSET * Math.min(right - left, bottom - top));
  if (tool === "frame" && !state.frame) change({ frame: [left + inset, top + inset, right - inset, bottom - inset] });
  else show();
}

/** What is to go, as tiles over it. @returns {Node[]} */
function covers() {
  const side = TILE_CSS * picture.scale();
  const bands = state.areas.map(({ points, width_px: width }) =>
    svg("path", { class: "cover", d: open(points), "stroke-width": width, stroke: "url(#cover-tiles)" }));
  const [w, h] = [photo.width, photo.height];
  const outside = state.frame && svg("path", {
    class: "cover-outside", "fill-rule": "evenodd", fill: "url(#cover-tiles)",
    d: closed([[0, 0], [w, 0], [w, h], [0, h]]) + closed(CORNERS.map((one) => cornerAt(/** @type {Frame} */ (state.frame), one))),
  });
  return [tiles(side), ...bands, ...(outside ? [outside] : [])];
}

/** @param {number} side in photo pixels */
function tiles(side) {
  const dark = svg("path", { class: "cover-dark", d: `M0 0H${side}V${side}H0ZM${side} ${side}H${2 * side}V${2 * side}H${side}Z` });
  return svg("pattern", { id: "cover-tiles", patternUnits: "userSpaceOnUse", width: 2 * side, height: 2 * side },
    svg("rect", { class: "cover-light", width: 2 * side, height: 2 * side }), dark);
}

/** The corners that can be moved. @returns {Node[]} */
function handles() {
  if (state.tool !== "frame" || !state.frame) return [];
  return CORNERS.map((key) => {
    const one = mark(cornerAt(/** @type {Frame} */ (state.frame), key), svg("circle", { class: "disc", r: 14 }),
      svg("path", { class: "core", d: "M-6 0H6M0-6V6" }));
    one.dataset.key = key;
    one.setAttribute("tabindex", "0");
    one.setAttribute("role", "button");
    one.setAttribute("aria-label", say(`cover_corner_${key.replace("-", "_")}`));
    return one;
  });
}

function showMarks() {
  if (!picture) return; // the first measure comes before the picture is there
  picture.setLines(covers());
  picture.setMarks(handles());
}

/** What is asked of the server. */
const wish = () => ({ areas: state.areas, frame: state.frame });
const address = `${root}photos/${encodeURIComponent(photo.id)}`;

/** @param {boolean} dry @returns {Promise<any>} */
const put = async (dry) => (await ask("PUT", `${address}/cover${dry ? "?dry=true" : ""}`, wish())).json();

/** Asks once more, for it cannot be taken back; what the server warns of stands there, too. */
async function confirm() {
  await attempt(async () => {
    const { warnings } = await put(true);
    openSheet(say("cover_sure"), [
      el("p", { class: "label" }, say("cover_sure_why")),
      ...warnings.map(warning),
      sheetChoice(say("cover_do"), send),
    ]);
  });
}

async function send() {
  await attempt(async () => {
    const answer = await put(false);
    whole = answer.frame ?? whole;
    Object.assign(state, { areas: [], frame: null, before: [], note: say("cover_done"), warnings: answer.warnings });
    state.version += 1;
    await forgetHere();
  });
}

/** @param {() => Promise<void>} work */
async function attempt(work) {
  Object.assign(state, { busy: true, note: "", warnings: [] });
  show();
  try {
    await work();
  } catch (error) {
    state.note = error instanceof Refused && error.message ? error.message : say("offline_title");
  }
  state.busy = false;
  show();
}

/** The bench page of this device may keep the photo as it was: it gets the new one. */
async function forgetHere() {
  const here = await kept();
  if (here?.photo?.id !== photo.id) return;
  const file = await (await ask("GET", address)).blob();
  await keepPhoto({ ...here.photo, file, natural: here.photo.natural && { w: photo.width, h: photo.height } });
}

/** @param {string} words */
const warning = (words) => el("p", { class: "warn" }, words);

/** Where one came from, if that is a page of ours. */
function back() {
  const base = new URL(root || ".", location.href).href;
  return document.referrer.startsWith(base) ? document.referrer.slice(base.length) : "";
}

/** Other words in a place; what had the focus there has it again. @param {HTMLElement} place @param {Node[]} parts */
function refill(place, parts) {
  const held = place.contains(document.activeElement) ? /** @type {HTMLElement} */ (document.activeElement) : null;
  place.replaceChildren(...parts);
  if (!held) return;
  const again = held.id ? `#${held.id}` : `[data-value="${held.dataset.value}"]`;
  /** @type {HTMLElement | null} */ (place.querySelector(again))?.focus();
}

function show() {
  const { tool, areas, frame, before, busy } = state;
  const any = areas.length > 0 || frame !== null;
  const tools = ["blur", "frame"].map((value) => ({ value, words: say(`cover_${value}`) }));
  const counted = [
    areas.length > 0 && say("cover_count", { n: areas.length }),
    frame && say("cover_framed"),
  ].filter(Boolean).join(" ");
  refill(words, [
    el("h1", { class: "say" }, say(`cover_say_${tool}`)),
    el("p", { class: "label soft" }, say(`cover_how_${tool}`)),
    tabs(tools, tool, choose, { label: say("cover_tools") }),
    el("p", { class: "label" }, state.note || counted),
    ...state.warnings.map(warning),
  ]);
  refill(/** @type {HTMLElement} */ (document.getElementById("foot")), [
    plate(say("undo"), undo, { id: "undo", disabled: before.length === 0 || busy }),
    plate(say("cover_go"), () => void (any && !busy && confirm()), { kind: "main", id: "cover", "aria-disabled": String(!any || busy) }),
  ]);
  speakOut(state.note || counted);
  nearer.hidden = tool === "frame"; // the corners lie there
  canvas.setAttribute("aria-label", say(`cover_picture_${tool}`));
  picture.setPhoto(`${address}?seen=${state.version}`, photo.width, photo.height);
  showMarks();
}

// The picture stays where it is: moved about, it would lose the focus and the cross.
draw({ title: say("cover_title"), back: { words: say("room_back"), href: back() }, body: [stage, words], foot: [" "] });
show();
