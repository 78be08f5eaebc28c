// @ts-check
/**
 * Plane geometry of the photo view; no DOM here.
 * Photo points are [x, y] in photo pixels, screen points [x, y] in CSS pixels inside the picture box.
 *
 * @typedef {[number, number]} Point
 * @typedef {{x: number, y: number, w: number, h: number}} Box   A part of the photo, in photo pixels.
 * @typedef {Box & {turn?: number}} View   A box turned about its middle: the photo is seen `turn` degrees clockwise.
 * @typedef {{w: number, h: number}} Size
 */

const SNAP_DEG = 8; // a twist that ends so near a quarter turn meant the quarter (estimated)

/** A vector turned clockwise as seen on a screen. @param {Point} v @param {number} degrees @returns {Point} */
export function turned([x, y], degrees) {
  if (!degrees) return [x, y];
  const [c, s] = QUARTERS[((degrees % 360) + 360) % 360] ?? [Math.cos((degrees * Math.PI) / 180), Math.sin((degrees * Math.PI) / 180)];
  return [x * c - y * s, x * s + y * c];
}
/** Quarter turns are exact. */
const QUARTERS = /** @type {Record<number, Point>} */ ({ 0: [1, 0], 90: [0, 1], 180: [-1, 0], 270: [0, -1] });

/** @param {Box} box @returns {Point} */
export const centre = (box) => [box.x + box.w / 2, box.y + box.h / 2];

/** @param {Point} at the middle @param {number} w @param {number} h @param {number | undefined} turn @returns {View} */
function around([x, y], w, h, turn) {
  const box = { x: x - w / 2, y: y - h / 2, w, h };
  return turn ? { ...box, turn } : box;
}

/** Width and height of the upright box round a turned one. @param {Size} size @param {number} [turn] @returns {Size} */
function extent({ w, h }, turn = 0) {
  const [a, b] = [turned([w, h], turn), turned([w, -h], turn)];
  return { w: Math.max(Math.abs(a[0]), Math.abs(b[0])), h: Math.max(Math.abs(a[1]), Math.abs(b[1])) };
}

/** The smallest view of the shape of `size` that holds `content`, with the same middle.
 * @param {Box} content @param {Size} size @param {number} [turn] @returns {View} */
export function fit(content, size, turn = 0) {
  const seen = extent(content, turn);
  const k = Math.max(seen.w / size.w, seen.h / size.h);
  return around(centre(content), k * size.w, k * size.h, turn);
}

/** The upright box, in photo pixels, that a view shows: all of it at quarter turns, else what surely is on the screen.
 * @param {View} view @returns {Box} */
export function seenBox(view) {
  const turn = view.turn ?? 0;
  if (turn % 90 === 0) return around(centre(view), extent(view, turn).w, extent(view, turn).h, 0);
  const [c, s] = turned([1, 0], turn).map(Math.abs);
  // The largest square inside: its corners stay within both sides of the turned box.
  const side = Math.min(view.w, view.h) / (c + s);
  return around(centre(view), side, side, 0);
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

/** Photo pixels per CSS pixel. @param {View} view @param {Size} size */
export const pxPerCss = (view, size) => view.w / size.w;

/** @param {View} view @param {Size} size @param {Point} at on the screen @returns {Point} */
export function toPhoto(view, size, at) {
  const k = pxPerCss(view, size);
  const [x, y] = turned([(at[0] - size.w / 2) * k, (at[1] - size.h / 2) * k], -(view.turn ?? 0));
  const [cx, cy] = centre(view);
  return [cx + x, cy + y];
}

/** @param {View} view @param {Size} size @param {Point} at in the photo @returns {Point} */
export function toScreen(view, size, at) {
  const k = pxPerCss(view, size);
  const [cx, cy] = centre(view);
  const [x, y] = turned([at[0] - cx, at[1] - cy], view.turn ?? 0);
  return [size.w / 2 + x / k, size.h / 2 + y / k];
}

/** The view after the photo was shifted by so many CSS pixels on the screen.
 * @param {View} view @param {Size} size @param {Point} by @returns {View} */
export function panned(view, size, by) {
  const k = pxPerCss(view, size);
  const [x, y] = turned([by[0] * k, by[1] * k], -(view.turn ?? 0));
  return { ...view, x: view.x - x, y: view.y - y };
}

/** The view without so many CSS pixels at its foot. @param {View} view @param {Size} size @param {number} css @returns {View} */
export function withoutFoot(view, size, css) {
  const off = view.h * Math.min(css / size.h, 0.9);
  const [x, y] = turned([0, -off / 2], -(view.turn ?? 0));
  const [cx, cy] = centre(view);
  return around([cx + x, cy + y], view.w, view.h - off, view.turn);
}

/** Zoom so that the photo point `at` stays where it is; `factor` above 1 comes nearer.
 * @param {View} view @param {Point} at @param {number} factor @returns {View} */
export function zoomAt(view, at, factor) {
  const [cx, cy] = centre(view);
  const middle = /** @type {Point} */ ([at[0] - (at[0] - cx) / factor, at[1] - (at[1] - cy) / factor]);
  return around(middle, view.w / factor, view.h / factor, view.turn);
}

/** Turned to `turn` so that the photo point `at` stays where it is. @param {View} view @param {Point} at
 * @param {number} turn degrees @returns {View} */
export function turnedAbout(view, at, turn) {
  const [cx, cy] = centre(view);
  const [x, y] = turned([at[0] - cx, at[1] - cy], (view.turn ?? 0) - turn);
  return around([at[0] - x, at[1] - y], view.w, view.h, ((turn % 360) + 360) % 360);
}

/** The nearest quarter turn within reach, else the angle itself. @param {number} turn degrees @returns {number} */
export function snapped(turn) {
  const quarter = Math.round(turn / 90) * 90;
  return Math.abs(turn - quarter) <= SNAP_DEG ? ((quarter % 360) + 360) % 360 : turn;
}

/** The quarter turn that comes next in a direction. @param {number} turn degrees @param {1 | -1} way @returns {number} */
export function nextQuarter(turn, way) {
  const next = way > 0 ? Math.floor(turn / 90 + 1e-6) + 1 : Math.ceil(turn / 90 - 1e-6) - 1;
  return (((next * 90) % 360) + 360) % 360;
}

/** The view after two fingers went from `before` to `after`, nearer, farther or round: the points under them stay
 * under them.
 * @param {View} view @param {Size} size @param {[Point, Point]} before @param {[Point, Point]} after
 * @returns {View} */
export function pinched(view, size, before, after) {
  const factor = Math.max(distance(...after), 1) / Math.max(distance(...before), 1);
  const held = toPhoto(view, size, middle(...before));
  const twisted = turnedAbout(zoomAt(view, held, factor), held, (view.turn ?? 0) + heading(...after) - heading(...before));
  const [x, y] = toScreen(twisted, size, held);
  const [tx, ty] = middle(...after);
  return panned(twisted, size, [tx - x, ty - y]);
}

/** @param {Point} a @param {Point} b degrees */
const heading = (a, b) => (Math.atan2(b[1] - a[1], b[0] - a[0]) * 180) / Math.PI;

/** Keep the view near the photo: no further out than the whole, no nearer than `least` pixels across.
 * @param {View} view @param {Size} photo @param {Size} size @param {number} least @returns {View} */
export function clamped(view, photo, size, least = 60) {
  const turn = view.turn ?? 0;
  const whole = fit({ x: 0, y: 0, w: photo.w, h: photo.h }, size, turn);
  const w = Math.min(Math.max(view.w, Math.min(least, whole.w)), whole.w);
  const h = (w * size.h) / size.w;
  // How far the middle may go from the middle of the photo, along the sides of the screen.
  const most = extent(photo, turn);
  const [cx, cy] = centre(view);
  const off = turned([cx - photo.w / 2, cy - photo.h / 2], turn);
  const held = /** @type {Point} */ ([between(off[0], (most.w - w) / 2), between(off[1], (most.h - h) / 2)]);
  const [x, y] = turned(held, -turn);
  // Aslant the corners of the box round the photo are empty: the middle of the screen stays on the photo.
  const [px, py] = [between(x, photo.w / 2), between(y, photo.h / 2)];
  return around([photo.w / 2 + px, photo.h / 2 + py], w, h, view.turn);
}

/** @param {number} value @param {number} reach */
const between = (value, reach) => Math.min(Math.max(value, -Math.max(reach, 0)), Math.max(reach, 0));

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
 * @param {View} view @param {Size} size @returns {T | null} */
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
  const inside = (/** @type {number} */ v, /** @type {number} */ most) => Math.min(Math.max(v, radius + 4), Math.max(most - radius - 4, radius + 4));
  const above = /** @type {Point} */ ([inside(x, size.w), inside(at[1] - reach, size.h)]);
  // In a small picture it would lie on the spot itself: then it goes below.
  return distance(above, at) > radius ? above : [above[0], inside(at[1] + reach, size.h)];
}
