// @ts-check
/** Sends answers to checks, one at a time; what has not gone over yet is kept and sent again. */

import * as keep from "./keep.js";
import { same } from "./merge.js";
import * as server from "./server.js";
import { say } from "./words.js";

const RETRY_MS = 5000;

/**
 * @typedef {{action: string, parts: string[], answer: string}} Check
 * @typedef {{id: string, check: Check | null, after: number}} Pending `check` null: the last one is taken back
 */

/** @param {any} app */
export function createDialogue(app) {
  /** @type {any} */ let timer = null;
  let sending = false;

  /** @param {any} asked @param {string} answer */
  function answer(asked, answer) {
    tell({ action: asked.action, parts: asked.parts, answer });
  }

  /** @param {Check | null} check */
  function tell(check) {
    if (sending) return;
    const { inspection } = app.state();
    const pending = { id: inspection.id, check, after: inspection.report.checked.length };
    app.set({ pending, checkNote: "" });
    send();
  }

  async function send() {
    clearTimeout(timer);
    const { pending } = app.state();
    if (!pending || sending) return;
    sending = true;
    try {
      done(await server.answerCheck(pending), "");
    } catch (error) {
      await failed(error, pending);
    } finally {
      sending = false;
    }
  }

  /** @param {unknown} error @param {Pending} pending */
  async function failed(error, pending) {
    if (error instanceof server.Unreachable) return later();
    const told = error instanceof server.Refused && error.message ? error.message : say("error_unknown");
    if (!(error instanceof server.Refused) || error.status !== 409) return app.set({ pending: null, checkNote: told });
    try {
      done(await server.inspection(pending.id), told);
    } catch {
      later();
    }
  }

  function later() {
    app.set({ loose: true });
    timer = setTimeout(send, RETRY_MS);
  }

  /** @param {any} inspection @param {string} note */
  function done(inspection, note) {
    app.set({ inspection, pending: null, checkPick: null, checkNote: note, loose: false });
  }

  /** After the page was loaded anew: the inspection with its dialogue, and the answer that has not gone over yet.
   * Without a network it is read as it was kept. @param {{id: string, pending: Pending | null, inspection: any}} kept */
  async function restore({ id, pending, inspection: before }) {
    app.set({ pending, inspection: before ?? null, pieces: before?.report.pieces ?? null });
    if (pending) await send();
    else if (before) refresh(id);
    if (!before && !app.state().inspection) await refresh(id);
  }

  /** As the server has it now: another phone may have answered. @param {string} id */
  async function refresh(id) {
    const before = app.state().inspection;
    const inspection = await server.inspection(id).catch(() => null);
    const { inspection: here, pending } = app.state();
    // What was answered here meanwhile is newer.
    if (!inspection || pending || here !== before || (here && same(here, inspection))) return;
    app.set({ inspection, pieces: inspection.report.pieces });
  }

  /** Keeps what would be lost with the page. @param {any} state @param {any} before */
  function changed({ inspection, pending, asked }, before) {
    if (inspection === before.inspection && pending === before.pending) return;
    if (inspection) keep.keepDialogue({ id: inspection.id, pending, asked, inspection });
  }

  addEventListener("online", send);
  return { answer, undo: () => tell(null), restore, changed };
}
