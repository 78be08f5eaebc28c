// @ts-check
/** Draws marks, tags, outlines, dough samples, the size line, loupe and thread. Marks keep their size on screen. */

import { svg } from "./dom.js";
import { toScreen } from "./geometry.js";
import { pieceAt } from "./misses.js";
import { say } from "./words.js";

/** @typedef {import("./geometry.js").Point} Point */

/** A mark at a photo point; picture.js scales it back. @param {Point} at @param {...any} children */
export function mark(at, ...children) {
  return svg("g", { class: "mark", "data-x": at[0], "data-y": at[1] }, ...children);
}

/** @param {string} words @param {number} [dx] @param {number} [dy] */
export function tag(words, dx = 0, dy = 0) {
  const w = Math.max(34, 16 + words.length * 7.6);
  return svg("g", { transform: `translate(${dx} ${dy})` },
    svg("rect", { class: "tagbox", x: -w / 2, y: -12, width: w, height: 24, rx: 3 }),
    svg("text", {}, words));
}

/** @param {Point[]} outline */
export const closed = (outline) => `M${outline.map((p) => p.join(" ")).join("L")}Z`;

/** @param {Point[]} line */
export const open = (line) => `M${line.map((p) => p.join(" ")).join("L")}`;

/** A cased line. @param {string} d @param {string} [kind] */
export function cased(d, kind = "") {
  return [svg("path", { class: "case", d }), svg("path", { class: `core ${kind}`, d })];
}

/** Outlines of the dough pieces: whole for conductive, dashed for insulating. @param {any[]} pieces */
export function outlines(pieces) {
  return pieces
    .filter((piece) => piece.outline.length > 2)
    .flatMap((piece) => cased(closed(piece.outline), piece.role === "insulating" ? "wall-line" : ""));
}

/** Numbered discs where dough was tapped. @param {import("./job.js").Dough[]} palette @param {number} active */
export function samples(palette, active) {
  return palette.flatMap((dough, i) =>
    dough.taps.map((at) =>
      mark(at,
        svg("circle", { class: i === active ? "disc here" : "disc", r: 11 }),
        svg("text", {}, String(i + 1)))));
}

/** The size line with its ends. @param {Point[]} points */
export function sizeLine(points) {
  const line = points.length === 2 ? cased(open(points)) : [];
  const ends = points.map((at) =>
    mark(at,
      svg("path", { class: "case", d: "M-9 0H9M0-9V9" }),
      svg("path", { class: "core", d: "M-9 0H9M0-9V9" })));
  return [...line, ...ends];
}

/** A symbol drawn once in page.html. @param {string} id */
export const use = (id) => svg("use", { href: `#${id}` });

/** The loupe over `at`: a disc of 148 that shows the photo three times as large. All in CSS pixels.
 * @param {{at: Point, spot: Point, centre: Point, view: any, size: any, photo: any, url: string, words: string}} it */
export function loupe({ spot, centre, view, size, photo, url, words }) {
  const k = (size.w / view.w) * 3; // three times as large as on the screen
  const [x, y] = centre;
  const [px, py] = spot;
  const [sx, sy] = toScreen(view, size, spot);
  const far = Math.hypot(sx - x, sy - y) || 1;
  const from = [x + ((sx - x) / far) * 74, y + ((sy - y) / far) * 74];
  const line = far > 84 ? cased(`M${from.join(" ")}L${sx} ${sy}`) : [];
  return [
    ...line,
    svg("circle", { class: "dot", cx: sx, cy: sy, r: 3.5 }),
    svg("circle", { class: "rim-paper", cx: x, cy: y, r: 75 }),
    svg("circle", { class: "rim-ink", cx: x, cy: y, r: 73 }),
    svg("clipPath", { id: "glass" }, svg("circle", { cx: x, cy: y, r: 70 })),
    svg("g", { "clip-path": "url(#glass)" },
      svg("rect", { class: "glass-back", x: x - 74, y: y - 74, width: 148, height: 148 }),
      svg("g", { transform: `translate(${x} ${y}) rotate(${view.turn ?? 0}) scale(${k}) translate(${-px} ${-py})` },
        svg("image", { href: url, width: photo.w, height: photo.h, preserveAspectRatio: "none" }))),
    svg("g", { transform: `translate(${x} ${y})` },
      svg("path", { class: "case", d: "M-40 0H-9M9 0H40M0-40V-9M0 9V40" }),
      svg("path", { class: "core", d: "M-40 0H-9M9 0H40M0-40V-9M0 9V40" }),
      svg("circle", { class: "dot", r: 2.2 }),
      words && tag(words, 0, 48)),
  ];
}

/** The thread from the eyelet of the slip to the place, with a label strung on it where no tag stands yet.
 * CSS pixels of the window.
 * @param {Point} place @param {Point} eyelet @param {string} words @param {DOMRect[]} taken */
export function thread(place, eyelet, words, taken) {
  const [x0, y0] = place;
  const [x1, y1] = eyelet;
  const bend = bendOf(place, eyelet);
  const d = `M${x0} ${y0}Q${bend[0]} ${bend[1]} ${x1} ${y1}`;
  const spots = [0.5, 0.6, 0.7, 0.4, 0.8, 0.3, 0.2].map((t) => onCurve(place, bend, eyelet, t));
  const free = (/** @type {Point} */ spot) => Math.min(99, ...taken.map((box) => clearance(box, spot)));
  const [x, y] = spots.reduce((a, b) => (free(b) > free(a) && free(a) <= 0 ? b : a));
  const label = svg("g", { class: "picture-words", transform: `translate(${x} ${y})` }, tag(words));
  return [
    svg("path", { class: "under", d }),
    svg("path", { class: "yarn", d }),
    svg("circle", { class: "knot", cx: x0, cy: y0, r: 4.5 }),
    words && label,
    svg("circle", { class: "eyelet", cx: x1, cy: y1, r: 7 }),
  ].filter(Boolean);
}

/** @param {Point} place @param {Point} eyelet @returns {Point} */
function bendOf([x0, y0], [x1, y1]) {
  const across = Math.abs(x1 - x0) > Math.abs(y1 - y0);
  return across ? [(x0 + x1) / 2, y0 - 24] : [Math.min(x0, x1) - 14, (y0 + y1) / 2 + 8];
}

/** How much of a thread would run over what stands there already, 0 to 1.
 * @param {Point} place @param {Point} eyelet @param {DOMRect[]} taken */
export function covers(place, eyelet, taken) {
  const spots = Array.from({ length: 21 }, (_, i) => onCurve(place, bendOf(place, eyelet), eyelet, i / 20));
  const hit = (/** @type {Point} */ [x, y]) => taken.some((box) => x > box.left - 6 && x < box.right + 6 && y > box.top - 6 && y < box.bottom + 6);
  return spots.filter(hit).length / spots.length;
}

/** @param {Point} a @param {Point} b @param {Point} c @param {number} t @returns {Point} */
function onCurve(a, b, c, t) {
  const s = 1 - t;
  return [s * s * a[0] + 2 * s * t * b[0] + t * t * c[0], s * s * a[1] + 2 * s * t * b[1] + t * t * c[1]];
}

/** CSS pixels between a label at `spot` and a box; below 0 they overlap. @param {DOMRect} box @param {Point} spot */
const clearance = (box, [x, y]) => Math.max(box.left - x - 50, x - 50 - box.right, box.top - y - 14, y - 14 - box.bottom);

/** What lies under a photo point, in words. @param {any[] | null} pieces @param {Point} at */
export function whatIsAt(pieces, at) {
  if (!pieces) return "";
  const piece = pieceAt(pieces, at);
  return piece ? say(piece.role === "insulating" ? "loupe_wall" : "loupe_in", { name: piece.colour }) : say("loupe_table");
}
