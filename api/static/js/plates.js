// @ts-check
/** Plates that stand on the picture. */

import { plate, symbol } from "./dom.js";
import { say } from "./words.js";

/** @param {any} _app @param {{zoom: (factor: number) => void, turn: (way: 1 | -1) => void}} view */
export const zoomPlates = (_app, view) => [
  plate(symbol("turn-picture"), () => view.turn(1), { kind: "zoom turn", "aria-label": say("picture_turn") }),
  plate("\u2212", () => view.zoom(1 / 1.6), { kind: "zoom", "aria-label": say("farther") }),
  plate("+", () => view.zoom(1.6), { kind: "zoom", "aria-label": say("nearer") }),
];
