// @ts-check
/** The lamp over the bench: wide over the whole sculpture, narrow over one place. */

/** @typedef {import("./geometry.js").Box} Box @typedef {import("./screens/screen.js").Lamp} Lamp */

/** @param {Box} body the box round the sculpture @returns {Lamp} */
export const wideLamp = ({ x, y, w, h }) => ({ at: [x + w / 2, y + h / 2], r: Math.max(w, h) * 0.95, dark: 0.5, core: 0.6 });

/** @param {import("./geometry.js").Point} at @param {Box} body @returns {Lamp} */
export const narrowLamp = (at, { w, h }) => ({ at, r: Math.max(w, h) * 0.74, dark: 0.62, core: 0.34 });
