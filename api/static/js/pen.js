// @ts-check
/** A line while it is being drawn on the picture, by finger, mouse or keys; when it ends the screen takes it over. */

import { distance } from "./geometry.js";
import { bounded } from "./lines.js";
import { lineMarks } from "./correction-marks.js";

/**
 * @typedef {import("./geometry.js").Point} Point
 * @typedef {{kind: "stroke" | "cut" | "join", width: number, look: string}} Pen `width` of a stroke in photo pixels
 * @typedef {{ready: () => boolean, drawing: () => boolean, begin: (at: Point) => void, to: (at: Point) => void,
 *   hover: (at: Point) => void, key: (at: Point) => void, end: () => void, drop: () => void}} HeldPen
 */

const STEP_CSS = 2; // shorter steps of a pointer are its trembling
const OFF_CSS = 1; // so far a line may be simplified: half its own width on the screen

/** @param {SVGGElement} layer
 * @param {{pen: () => Pen | null, drawn: (line: Point[]) => void, said: (what: string) => void,
 *   inPhoto: (at: Point) => Point, scale: () => number}} wishes `scale` is photo pixels per CSS pixel
 * @returns {HeldPen} */
export function createPen(layer, wishes) {
  /** @type {Point[]} */ let line = [];

  /** @param {Point[]} points */
  function show(points) {
    const pen = wishes.pen();
    const parts = pen && points.length > 1 ? lineMarks({ ...pen, points }) : [];
    // Signs and stops come with the whole line: they keep their size, which is set when marks are drawn anew.
    layer.replaceChildren(...parts.filter((one) => one.nodeName === "path"));
  }

  function drop() {
    line = [];
    layer.replaceChildren();
  }

  function end() {
    const done = line;
    drop();
    if (done.length > 1) wishes.drawn(bounded(done, OFF_CSS * wishes.scale()));
  }

  return {
    ready: () => Boolean(wishes.pen()),
    drawing: () => line.length > 0,
    begin: (at) => void (line = [wishes.inPhoto(at)]),
    to(at) {
      if (distance(/** @type {Point} */ (line.at(-1)), at) < STEP_CSS * wishes.scale()) return;
      line.push(wishes.inPhoto(at));
      show(line);
    },
    /** With keys the free end follows the cross. */
    hover: (at) => void (line.length > 0 && show([...line, at])),
    /** Enter begins a line, sets a point, and where that stands already ends the line. */
    key(at) {
      const last = line.at(-1);
      if (last && distance(last, at) < 0.5) return line.length > 1 ? end() : undefined;
      line.push(at);
      show(line);
      wishes.said(line.length > 1 ? "set" : "begun");
    },
    end,
    drop,
  };
}
