// @ts-check
/**
 * Plane geometry of the photo view; no DOM here.
 * Photo points are [x, y] in photo pixels, screen points [x, y] in CSS pixels inside the picture box.
 *
 * @typedef {[number, number]} Point
 * @typedef {{x: number, y: number, w: number, h: number}} Box   A part of the photo, in photo pixels.
 * @typedef {{w: number, h: number}} Size
 */

/** The smallest box of the shape of `size` that holds `content`, with the same middle.
 * @param {Box} content @param {Size} size @returns {Box} */
export function fit(content, size) {
  const k = Math.max(content.w / size.w, content.h / size.h);
  const w = k * size.w;
  const h = k * size.h;
  return { x: content.x + (content.w - w) / 2, y: content.y + (content.h - h) / 2, w, h };
}

/** @param {Box} box @param {number} share of the longer side @returns {Box} */
export function padded(box, share) {
  const pad = share * Math.max(box.w, box.h);
  return { x: box.x - pad, y: box.y - pad, w: box.w + 2 * pad, h: box.h + 2 * pad };
}

/** @param {Point[]} points at least one @returns {Box} */
export function bounds(points) {
  const xs = points.map((p) => p[0]);
  const ys = points.map((p) => p[1]);
  const x = Math.min(...xs);
  const y = Math.min(...ys);
  return { x, y, w: Math.max(...xs) - x, h: Math.max(...ys) - y };
}

/** Photo pixels per CSS pixel. @param {Box} view @param {Size} size */
export const pxPerCss = (view, size) => view.w / size.w;

/** @param {Box} view @param {Size} size @param {Point} at on the screen @returns {Point} */
export function toPhoto(view, size, at) {
  return [view.x + (at[0] / size.w) * view.w, view.y + (at[1] / size.h) * view.h];
}

/** @param {Box} view @param {Size} size @param {Point} at in the photo @returns {Point} */
export function toScreen(view, size, at) {
  return [((at[0] - view.x) / view.w) * size.w, ((at[1] - view.y) / view.h) * size.h];
}

/** Zoom so that the photo point `at` stays where it is; `factor` above 1 comes nearer.
 * @param {Box} view @param {Point} at @param {number} factor @returns {Box} */
export function zoomAt(view, at, factor) {
  const w = view.w / factor;
  const h = view.h / factor;
  return { x: at[0] - (at[0] - view.x) / factor, y: at[1] - (at[1] - view.y) / factor, w, h };
}

/** The view after two fingers went from `before` to `after`: the points under them stay under them.
 * @param {Box} view @param {Size} size @param {[Point, Point]} before @param {[Point, Point]} after
 * @returns {Box} */
export function pinched(view, size, before, after) {
  const factor = Math.max(distance(...after), 1) / Math.max(distance(...before), 1);
  const held = toPhoto(view, size, middle(...before));
  const zoomed = zoomAt(view, held, factor);
  const now = toPhoto(zoomed, size, middle(...after));
  return { ...zoomed, x: zoomed.x + held[0] - now[0], y: zoomed.y + held[1] - now[1] };
}

/** Keep the view near the photo: no further out than the whole, no nearer than `least` pixels across.
 * @param {Box} view @param {Size} photo @param {Size} size @param {number} least @returns {Box} */
export function clamped(view, photo, size, least = 60) {
  const whole = fit({ x: 0, y: 0, w: photo.w, h: photo.h }, size);
  const w = Math.min(Math.max(view.w, Math.min(least, whole.w)), whole.w);
  const h = (w * size.h) / size.w;
  const x = between(view.x + (view.w - w) / 2, w, photo.w);
  const y = between(view.y + (view.h - h) / 2, h, photo.h);
  return { x, y, w, h };
}

/** @param {number} start @param {number} length @param {number} whole */
function between(start, length, whole) {
  if (length >= whole) return (whole - length) / 2;
  return Math.min(Math.max(start, 0), whole - length);
}

/** @param {Point} a @param {Point} b */
export const distance = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);

/** @param {Point} a @param {Point} b @returns {Point} */
export const middle = (a, b) => [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];

/** Whether a point lies in a closed outline (even-odd rule). @param {Point[]} outline @param {Point} at */
export function inside(outline, at) {
  let odd = false;
  for (let i = 0, j = outline.length - 1; i < outline.length; j = i++) {
    const [xi, yi] = outline[i];
    const [xj, yj] = outline[j];
    if (yi > at[1] !== yj > at[1] && at[0] < ((xj - xi) * (at[1] - yi)) / (yj - yi) + xi) odd = !odd;
  }
  return odd;
}

/** The nearest of `spots` within `radius` screen pixels, or null.
 * @template {{at: Point}} T
 * @param {T[]} spots @param {Point} at on the screen @param {number} radius
 * @param {Box} view @param {Size} size @returns {T | null} */
export function nearest(spots, at, radius, view, size) {
  let best = null;
  let reach = radius;
  for (const spot of spots) {
    const gap = distance(toScreen(view, size, spot.at), at);
    if (gap <= reach) {
      best = spot;
      reach = gap;
    }
  }
  return best;
}

/** Where the loupe goes: above the thumb, on the side away from the hand, always inside the picture.
 * @param {Point} at on the screen @param {Size} size @param {number} radius @param {"right" | "left"} hand
 * @returns {Point} */
export function loupeAt(at, size, radius, hand) {
  const away = hand === "right" ? -1 : 1;
  const reach = radius + 44;
  let x = at[0] + away * reach;
  if (x < radius || x > size.w - radius) x = at[0] - away * reach;
  const y = at[1] - reach;
  const inX = Math.min(Math.max(x, radius + 4), Math.max(size.w - radius - 4, radius + 4));
  const inY = Math.min(Math.max(y, radius + 4), Math.max(size.h - radius - 4, radius + 4));
  return [inX, inY];
}
