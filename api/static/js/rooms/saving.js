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
    leave,
    takeTheirs,
    keepMine,
  };
  let timer = 0;
  /** What is on its way. @type {any} */ let sending = null;

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

  /** The page goes away: what was typed while something is on its way cannot wait for the answer to that. Which of
   * the two is there first nobody knows, so it is sent to follow that, and to be kept in its place. */
  function leave() {
    if (!sending) return flush();
    const { entry } = saving;
    if (sending === entry) return Promise.resolve();
    const { revision } = saving.kept;
    return Promise.allSettled([revision + 1, revision].map((after) => put(entry, after)));
  }

  async function send() {
    clearTimeout(timer);
    if (sending) return;
    const entry = saving.entry;
    sending = entry;
    try {
      saving.kept = await put(entry, saving.kept.revision);
      sending = null;
      if (saving.entry !== entry) return later(0);
      turn("kept", true);
    } catch (error) {
      sending = null;
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
      if ([entry, saving.entry].some((mine) => same(error.told.workshop.entry, mine))) {
        saving.kept = error.told.workshop;
        if (same(saving.kept.entry, saving.entry)) return turn("kept", true);
        return later(0);
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
