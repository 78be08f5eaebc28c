// @ts-check
/** Plates that stand on the picture. */

import { plate } from "./dom.js";
import { say } from "./words.js";

/** @param {any} _app @param {{zoom: (factor: number) => void}} view */
export const zoomPlates = (_app, view) => [
  plate("\u2212", () => view.zoom(1 / 1.6), { kind: "zoom", "aria-label": say("farther") }),
  plate("+", () => view.zoom(1.6), { kind: "zoom", "aria-label": say("nearer") }),
];
