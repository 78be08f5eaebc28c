// @ts-check
/** Lines drawn by hand, made small enough to be sent. No DOM here. */

/** @typedef {import("./geometry.js").Point} Point */

export const MOST_POINTS = 500; // the public format takes no more in one line

/** Distance of `p` from the segment `a` to `b`. @param {Point} p @param {Point} a @param {Point} b */
export function offSegment(p, a, b) {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  const length2 = dx * dx + dy * dy;
  const t = length2 ? Math.min(1, Math.max(0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length2)) : 0;
  return Math.hypot(p[0] - a[0] - t * dx, p[1] - a[1] - t * dy);
}

/** The line with no point that lies nearer than `off` to the line without it (Douglas and Peucker 1973).
 * Both ends stay. Without recursion, so that a long line cannot exhaust the stack.
 * @param {Point[]} line @param {number} off @returns {Point[]} */
export function simplified(line, off) {
  if (line.length < 3) return line;
  const kept = new Set([0, line.length - 1]);
  const open = [[0, line.length - 1]];
  while (open.length) {
    const [from, to] = /** @type {number[]} */ (open.pop());
    let far = off;
    let at = -1;
    for (let i = from + 1; i < to; i += 1) {
      const d = offSegment(line[i], line[from], line[to]);
      if (d > far) [far, at] = [d, i];
    }
    if (at < 0) continue;
    kept.add(at);
    open.push([from, at], [at, to]);
  }
  return line.filter((_, i) => kept.has(i));
}

/** The line with 500 points at most, each to a tenth of a pixel; the tolerance grows until they are few enough.
 * @param {Point[]} line @param {number} off @returns {Point[]} */
export function bounded(line, off) {
  let out = simplified(line, off);
  for (let wide = off * 1.5; out.length > MOST_POINTS; wide *= 1.5) out = simplified(line, wide);
  return out.map((p) => [Math.round(p[0] * 10) / 10, Math.round(p[1] * 10) / 10]);
}

/** @param {Point[]} line */
export const lengthOf = (line) => line.slice(1).reduce((sum, p, i) => sum + Math.hypot(p[0] - line[i][0], p[1] - line[i][1]), 0);
