// @ts-check
/** Names for dough colours, suggested from what was tapped. No DOM here. */

/** Everyday names and their sRGB values, estimated by eye. @type {[string, number, number, number][]} */
const NAMES = [
  ["red", 205, 45, 45], ["coral", 240, 120, 95], ["rose", 215, 80, 115], ["pink", 240, 155, 170],
  ["orange", 240, 140, 45], ["amber", 225, 165, 60], ["yellow", 240, 215, 75], ["lime", 180, 215, 75],
  ["green", 75, 155, 75], ["mint", 160, 220, 185], ["teal", 40, 140, 140], ["sky", 110, 190, 225],
  ["blue", 50, 95, 190], ["navy", 35, 45, 95], ["violet", 125, 80, 175], ["lilac", 190, 165, 220],
  ["plum", 115, 45, 90], ["brown", 120, 80, 50], ["sand", 215, 190, 145], ["cream", 245, 235, 210],
  ["white", 240, 240, 240], ["grey", 140, 140, 140], ["black", 40, 40, 42],
];

/** The nearest name that is not taken yet. @param {number[]} rgb @param {string[]} taken */
export function suggestName(rgb, taken) {
  const lab = toLab(rgb);
  const by = NAMES.map(([name, ...one]) => ({ name, far: difference(lab, toLab(one)) }));
  by.sort((a, b) => a.far - b.far);
  return by.find((one) => !taken.includes(one.name))?.name ?? `dough ${taken.length + 1}`;
}

/** How far two sRGB colours look apart (CIE 1976 difference). @param {number[]} a @param {number[]} b */
export const apart = (a, b) => difference(toLab(a), toLab(b));

/** @param {number[]} a @param {number[]} b */
const difference = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]);

/** sRGB 0 to 255 as CIE Lab under D65 (IEC 61966-2-1, CIE 15). @param {number[]} rgb */
function toLab(rgb) {
  const [r, g, b] = rgb.map((v) => (v <= 10.31 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4));
  const xyz = [
    (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505,
    0.2126 * r + 0.7152 * g + 0.0722 * b,
    (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089,
  ];
  const [x, y, z] = xyz.map((t) => (t > 0.008856 ? Math.cbrt(t) : 7.787 * t + 16 / 116));
  return [116 * y - 16, 500 * (x - y), 200 * (y - z)];
}
