// @ts-check
/** Entries: the sheet with the kinds of other parts. */

import { newPart } from "../job.js";
import { openSheet, sheetChoice } from "../sheets.js";
import { say } from "../words.js";

const KINDS = /** @type {import("../job.js").PartKind[]} */ (["wire", "switch", "resistor", "buzzer", "motor"]);

/** @param {any} app */
export function openParts(app) {
  openSheet(say("part_which"), KINDS.map((kind) => sheetChoice(say(`part_${kind}`), () => {
    const { job } = app.state();
    const one = newPart(job, kind);
    app.edit({ ...job, parts: [...job.parts, one] });
    app.set({ target: `${one.id}.a`, led: one.id, mark: null });
  })));
}
