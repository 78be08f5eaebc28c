// @ts-check
/** Draws places on dough that are only proposed, and what tells the size. */

import { svg } from "./dom.js";
import { cased, closed, mark, open } from "./marks.js";

/** @typedef {import("./geometry.js").Point} Point */

/** Places where a dough seems to be: ghosts, until they are taken or tapped anew.
 * @param {import("./job.js").Dough[]} palette @param {(dough: import("./job.js").Dough) => Point[]} placesOf */
export function proposed(palette, placesOf) {
  return palette.flatMap((dough, i) =>
    (dough.taps.length ? [] : placesOf(dough)).map((at) => {
      const one = mark(at, svg("circle", { class: "disc", r: 11 }), svg("text", {}, String(i + 1)));
      one.classList.add("proposed");
      return one;
    }));
}

/** A line between two places, or a rectangle, with its ends. @param {Point[]} points */
export function sizeLine(points) {
  const line = points.length > 1 ? cased(points.length === 4 ? closed(points) : open(points)) : [];
  const ends = points.map((at) =>
    mark(at,
      svg("path", { class: "case", d: "M-9 0H9M0-9V9" }),
      svg("path", { class: "core", d: "M-9 0H9M0-9V9" })));
  return [...line, ...ends];
}
