// @ts-check
/** What the rooms of finished work share: a photo with or without its marks, lights, what is asked of the server. */

import { el, svg, symbol } from "../dom.js";
import { ask } from "../server.js";
import { language, say } from "../words.js";
import { root } from "./room.js";

/**
 * @typedef {{id: string, state: "bright" | "dim" | "off"}} Light
 * @typedef {{id: string, created: string, photo: string, picture: string, width: number, height: number, lights: Light[], lit: number,
 *   frame: [number, number, number, number], level: string, why: string, wrong: string[]}} Look
 */

const FAR_CSS = 1600; // a screen as wide as this hangs on a wall: marks are drawn larger
const FAR = 1.7;
const LEAST_CSS = 100;

/** An answer as JSON, or null without a body. @param {string} method @param {string} path @param {object} [body] */
export async function asked(method, path, body) {
  const answer = await ask(method, root + path, body);
  return answer.status === 204 ? null : answer.json();
}

/** A part of the query of this page. @param {string} name */
export const wished = (name) => new URLSearchParams(location.search).get(name);

/** Photos that were shown last, by what they show: none is asked for twice while one looks at it again and again.
 * @type {Map<string, Promise<string>>} */
const fetched = new Map();
const MOST_FETCHED = 6;

/** @param {Look} look @returns {Promise<string>} an address within this page */
function photoUrl({ photo, picture }) {
  const known = fetched.get(picture);
  if (known) return known;
  const coming = ask("GET", `${root}photos/${photo}`).then((answer) => answer.blob()).then((blob) => URL.createObjectURL(blob));
  fetched.set(picture, coming);
  coming.catch(() => fetched.delete(picture));
  if (fetched.size > MOST_FETCHED) {
    const [oldest, url] = /** @type {[string, Promise<string>]} */ (fetched.entries().next().value);
    fetched.delete(oldest);
    url.then(URL.revokeObjectURL, () => undefined);
  }
  return coming;
}

/** What will be looked at soon. @param {Look} look */
export const prefetch = (look) => void photoUrl(look).catch(() => undefined);

/** The picture that stands there now. */
let standing = { picture: "", image: svg("image") };

/** @param {Look} look */
function imageOf(look) {
  const { picture, width, height } = look;
  if (standing.picture === picture) return standing.image;
  const image = svg("image", { class: "photo", x: 0, y: 0, width, height });
  standing = { picture, image };
  void photoUrl(look).then((url) => image.setAttribute("href", url), () => undefined);
  return image;
}

/**
 * A photo, and over it what was found if `marks`; one of them on a page. What lies outside its frame is not shown. The
 * marks are as large as they are on the bench page, whatever room the photo has; so they come when it has its place.
 * @param {Look} look @param {{marks: boolean, wrong?: boolean, words: string}} how `wrong`: whether the first fault is
 * drawn, too
 */
export function photoOf(look, { marks, wrong = false, words }) {
  const [left, top, right, bottom] = look.frame;
  const [wide, high] = [right - left, bottom - top];
  const picture = svg("svg", { class: "work-photo", role: "img", "aria-label": words, viewBox: `${left} ${top} ${wide} ${high}` }, imageOf(look));
  if (marks) requestAnimationFrame(() => {
    const shown = Math.min(picture.clientWidth, (picture.clientHeight * wide) / high);
    const href = overlayUrl(look, wide / Math.max(shown, LEAST_CSS), wrong);
    picture.append(svg("image", { class: "marks", href, x: 0, y: 0, width: look.width, height: look.height }));
  });
  return picture;
}

/** @param {Look} look @param {number} scale photo px per CSS pixel @param {boolean} wrong */
function overlayUrl(look, scale, wrong) {
  const far = innerWidth >= FAR_CSS ? FAR : 1;
  const query = new URLSearchParams({
    layers: wrong ? "answer,lumps,lights" : "lumps,lights",
    px_per_mark: Math.min(scale * far, 100).toFixed(3),
    frame: look.frame.map((v) => v.toFixed(1)).join(","),
  });
  return `${root}inspections/${look.id}/overlay.svg?${query}`;
}

/** Each light with its state, as shape and word. @param {Light[]} lights */
export const lightList = (lights) => el("ul", { class: "work-lights", "aria-label": say("finish_lights") },
  ...lights.map(({ id, state }) => el("li", {}, symbol(`led-${state}`, "led"), el("b", {}, id), ` ${say(`seen_${state}`)}`)));

/** How many lights are on, in words. @param {Look} look */
export const litWords = ({ lit, lights }) => say("finish_lit", { lit, n: lights.length });

/** A time of day. @param {string} time */
export const clock = (time) => new Intl.DateTimeFormat(language, { timeStyle: "short" }).format(new Date(time));
