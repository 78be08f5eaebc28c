// @ts-check
/** What was corrected, drawn on the photo: strokes with the sign of what they paint, cuts and joins as blades. */

import { svg } from "./dom.js";
import { cased, mark, open } from "./marks.js";

/** @typedef {import("./geometry.js").Point} Point */
/** @typedef {{kind: "stroke" | "cut" | "join", width: number, look: string, points: Point[], sign?: string}} Drawn
 * `width` of a stroke in photo pixels; `look` is the class of its middle line, `sign` stands at its beginning */

/** @param {Drawn} line @returns {Node[]} */
export function lineMarks({ kind, width, look, points, sign = "" }) {
  const d = open(points);
  if (kind !== "stroke") return [...blades(d, kind), ...stops(points)];
  const band = svg("path", { class: "brush", d, "stroke-width": width });
  const begin = sign && mark(points[0], svg("circle", { class: "disc", r: 11 }), svg("text", {}, sign));
  return [band, ...cased(d, look), ...(begin ? [begin] : [])];
}

/** Two blades with an opening for a cut; for a join they are filled. @param {string} d @param {string} kind */
function blades(d, kind) {
  const parts = [svg("path", { class: "blade-case", d }), svg("path", { class: "blade", d })];
  return kind === "cut" ? [...parts, svg("path", { class: "blade-gap", d })] : parts;
}

/** A stop across each end. @param {Point[]} points */
function stops(points) {
  const ends = [[points[0], points[1]], [/** @type {Point} */ (points.at(-1)), /** @type {Point} */ (points.at(-2))]];
  return ends.map(([at, next]) => {
    const turn = (Math.atan2(next[1] - at[1], next[0] - at[0]) * 180) / Math.PI;
    const one = mark(at, svg("path", { class: "stop-case", d: "M0-10V10" }), svg("path", { class: "stop-core", d: "M0-10V10" }));
    one.setAttribute("data-turn", turn.toFixed(1));
    return one;
  });
}
