// @ts-check
/** What the rooms of finished work share: a photo with or without its marks, lights, what is asked of the server. */

import { el, svg, symbol } from "../dom.js";
import { ask } from "../server.js";
import { language, say } from "../words.js";
import { root } from "./room.js";

/**
 * @typedef {{id: string, state: "bright" | "dim" | "off"}} Light
 * @typedef {{id: string, created: string, photo: string, width: number, height: number, lights: Light[], lit: number,
 *   frame: [number, number, number, number], level: string, why: string}} Look
 */

const FAR_CSS = 1600; // a screen as wide as this hangs on a wall: marks are drawn larger
const FAR = 1.7;

/** An answer as JSON, or null without a body. @param {string} method @param {string} path @param {object} [body] */
export async function asked(method, path, body) {
  const answer = await ask(method, root + path, body);
  return answer.status === 204 ? null : answer.json();
}

/** A part of the query of this page. @param {string} name */
export const wished = (name) => new URLSearchParams(location.search).get(name);

/**
 * A photo, and over it what was found if `marks`. What lies outside its frame is not shown.
 * @param {Look} look @param {{marks: boolean, wide: number, wrong?: boolean, words: string}} how `wide` is how many CSS
 * pixels it will be across, `wrong` whether the first fault is drawn, too
 */
export function photoOf(look, { marks, wide, wrong = false, words }) {
  const [left, top, right, bottom] = look.frame;
  const far = innerWidth >= FAR_CSS ? FAR : 1;
  const scale = Math.min(((right - left) / Math.max(wide, 100)) * far, 100);
  const query = new URLSearchParams({
    layers: wrong ? "answer,lumps,lights" : "lumps,lights",
    px_per_mark: scale.toFixed(3),
    frame: look.frame.map((v) => v.toFixed(1)).join(","),
  });
  const size = { x: 0, y: 0, width: look.width, height: look.height };
  return svg("svg", { class: "work-photo", role: "img", "aria-label": words, viewBox: `${left} ${top} ${right - left} ${bottom - top}` },
    svg("image", { href: `${root}photos/${look.photo}`, ...size }),
    marks && svg("image", { class: "marks", href: `${root}inspections/${look.id}/overlay.svg?${query}`, ...size }));
}

/** Each light with its state, as shape and word. @param {Light[]} lights */
export const lightList = (lights) => el("ul", { class: "work-lights", "aria-label": say("finish_lights") },
  ...lights.map(({ id, state }) => el("li", {}, symbol(`led-${state}`, "led"), el("b", {}, id), ` ${say(`seen_${state}`)}`)));

/** How many lights are on, in words. @param {Look} look */
export const litWords = ({ lit, lights }) => say("finish_lit", { lit, n: lights.length });

/** A time of day. @param {string} time */
export const clock = (time) => new Intl.DateTimeFormat(language, { timeStyle: "short" }).format(new Date(time));
