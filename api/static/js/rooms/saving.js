// @ts-check
/**
 * Keeps what is typed without a plate for it, one change after the other. No DOM here.
 *
 * @typedef {{entry: any, revision: number} & Record<string, any>} Kept what the server keeps
 * @typedef {"kept" | "soon" | "quicker" | "refused" | "unreachable"} State
 */

import { same } from "../merge.js";
import { Refused } from "../server.js";

const PAUSE_MS = 500; // a pause in typing (estimated)
const AGAIN_MS = 3000;

/** @param {{kept: Kept, put: (entry: any, after: number) => Promise<Kept>, changed: () => void}} how
 * `changed` is called whenever `state` is another one, or something was kept */
export function createSaving({ kept, put, changed }) {
  const saving = {
    kept,
    entry: kept.entry,
    /** @type {State} */ state: "kept",
    /** What the server said against it. */
    said: "",
    /** What another page has kept meanwhile. @type {Kept | null} */ theirs: null,
    edit,
    flush,
    takeTheirs,
    keepMine,
  };
  let timer = 0;
  let sending = false;

  /** @param {any} entry @param {boolean} [atOnce] */
  function edit(entry, atOnce = false) {
    saving.entry = entry;
    if (saving.state === "quicker") return;
    turn("soon");
    later(atOnce ? 0 : PAUSE_MS);
  }

  /** @param {number} ms */
  function later(ms) {
    clearTimeout(timer);
    timer = /** @type {any} */ (setTimeout(send, ms));
  }

  function flush() {
    if (saving.state === "soon" || saving.state === "unreachable") return send();
    return Promise.resolve();
  }

  async function send() {
    clearTimeout(timer);
    if (sending) return;
    const entry = saving.entry;
    sending = true;
    try {
      saving.kept = await put(entry, saving.kept.revision);
      sending = false;
      if (saving.entry !== entry) return later(0);
      turn("kept", true);
    } catch (error) {
      sending = false;
      failed(error, entry);
    }
  }

  /** @param {unknown} error @param {any} entry what was sent */
  function failed(error, entry) {
    if (!(error instanceof Refused)) {
      turn("unreachable");
      return later(AGAIN_MS);
    }
    if (error.status === 409 && error.told?.workshop) {
      // What was sent may have arrived though the answer was lost.
      if (same(error.told.workshop.entry, entry)) {
        saving.kept = error.told.workshop;
        return saving.entry === entry ? turn("kept", true) : later(0);
      }
      saving.theirs = error.told.workshop;
      return turn("quicker", true);
    }
    if (saving.entry !== entry) return later(0);
    saving.said = error.message;
    turn("refused", true);
  }

  function takeTheirs() {
    saving.kept = /** @type {Kept} */ (saving.theirs);
    saving.entry = saving.kept.entry;
    saving.theirs = null;
    turn("kept", true);
  }

  function keepMine() {
    saving.kept = /** @type {Kept} */ (saving.theirs);
    saving.theirs = null;
    turn("soon", true);
    return send();
  }

  /** @param {State} state @param {boolean} [anyway] */
  function turn(state, anyway = false) {
    const other = saving.state !== state;
    saving.state = state;
    if (other || anyway) changed();
  }

  return saving;
}
