// @ts-check
/** What lies at a place, and whether a leg misses the dough, by the outlines known so far. No DOM here. */

import { distance, inside } from "./geometry.js";

/** @typedef {import("./geometry.js").Point} Point
 * @typedef {{id: number, colour: string, role: string, outline: Point[]}} Piece
 * @typedef {{wall: Piece | null, near: Piece | null, mm: number | null}} Miss
 *   `wall`: the insulating dough it is in; `near`: the nearest conductive dough, `mm` away (null without a true scale)
 */

/** How far beside the dough a tap still counts as in it: as the eyes take it (vision/entries.py). */
const LEG_MM = 1.1;
const LEAD_MM = 3;

/** Twice the area inside an outline (shoelace formula). @param {Point[]} outline */
const area = (outline) => Math.abs(outline.reduce((sum, [x, y], i) => {
  const [x2, y2] = outline[(i + 1) % outline.length];
  return sum + x * y2 - x2 * y;
}, 0));

/** The piece at a place: where one lies within another, the smaller. @param {Piece[]} pieces @param {Point} at @returns {Piece | null} */
export function pieceAt(pieces, at) {
  const here = pieces.filter((piece) => inside(piece.outline, at));
  return here.reduce((a, b) => (a && area(a.outline) <= area(b.outline) ? a : b), /** @type {Piece | null} */ (null));
}

/** Pixels from a place to the rim of a piece. @param {Piece} piece @param {Point} at */
function away({ outline }, at) {
  let least = Infinity;
  for (let i = 0, j = outline.length - 1; i < outline.length; j = i++) {
    const [a, b] = [outline[j], outline[i]];
    const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
    const t = ((at[0] - a[0]) * dx + (at[1] - a[1]) * dy) / (dx * dx + dy * dy || 1);
    const s = Math.min(Math.max(t, 0), 1);
    least = Math.min(least, distance([a[0] + s * dx, a[1] + s * dy], at));
  }
  return least;
}

/** How an entry misses the conductive dough, or null. @param {{pieces: Piece[] | null, photo: {mm_per_px: number, true_scale: boolean} | null}} known
 * @param {string} key @param {Point} at @returns {Miss | null} */
export function missOf({ pieces, photo }, key, at) {
  const conductive = (pieces ?? []).filter((piece) => piece.role === "conductive" && piece.outline.length > 2);
  if (!pieces || !conductive.length) return null;
  const here = pieceAt(pieces, at);
  if (here && here.role === "conductive") return null;
  const gaps = conductive.map((piece) => ({ piece, px: away(piece, at) }));
  const { piece, px } = gaps.reduce((a, b) => (b.px < a.px ? b : a));
  const mm = px * (photo?.mm_per_px ?? 0);
  if (mm < (key.includes(".") ? LEG_MM : LEAD_MM)) return null;
  return { wall: here && here.role === "insulating" ? here : null, near: piece, mm: photo?.true_scale ? mm : null };
}
