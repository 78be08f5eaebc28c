// @ts-check
/** What is tried on an inspection: changes one after the other, undone, redone, and what comes of them. */

import { headline } from "./screens/what-if-words.js";
import * as server from "./server.js";
import { standAfter, withChange } from "./what-if.js";
import { say } from "./words.js";

/** @typedef {import("./what-if.js").Change} Change */

const MOST_CHANGES = 60;
const RETRY_MS = 4000;

export const NOTHING = {
  /** @type {string | null} */ of: null, // the inspection that is tried on
  /** @type {Change[]} */ changes: [],
  /** @type {Change[]} */ undone: [],
  /** @type {any} */ answer: null,
  /** @type {Change[] | null} */ answered: null, // the changes that it answers
  /** @type {string | null} */ chosen: null,
  /** @type {"move" | "cut" | "cells" | null} */ tool: null,
  /** @type {string | null} */ aim: null, // the leg or lead that the next tap moves
  note: "",
};

/** @param {any} app @param {Partial<typeof NOTHING>} part */
export const patch = (app, part) => app.set({ trying: { ...app.state().trying, ...part } });

/** How things stand after the changes. @param {any} state */
export const stand = ({ inspection, trying }) => standAfter(inspection.case, trying.changes);

/** Opens the screen; the lights as they are come at once. @param {any} app */
export function openWhatIf(app) {
  const { inspection, trying } = app.state();
  if (trying.of !== inspection.id) {
    const dark = inspection.report.leds.find((/** @type {any} */ led) => led.state === "off");
    const chosen = (dark ?? inspection.report.leds[0])?.id ?? null;
    app.set({ trying: { ...NOTHING, of: inspection.id, chosen } });
  }
  app.go("what-if");
  ask(app);
}

/** @param {any} app @param {Change} change */
export function add(app, change) {
  const { inspection, trying: { of, changes } } = app.state();
  if (of !== inspection.id) return openWhatIf(app); // another phone has looked anew
  if (changes.length >= MOST_CHANGES) return patch(app, { note: say("whatif_many") });
  patch(app, { changes: withChange(changes, change), undone: [], aim: null, note: "",
    tool: change.do === "move" ? null : app.state().trying.tool });
  ask(app);
}

/** Out, or back in. @param {any} app @param {string} part */
export const pull = (app, part) => add(app, { do: stand(app.state()).out.includes(part) ? "put-back" : "pull-out", part });

/** @param {any} app */
export function undo(app) {
  const { changes, undone } = app.state().trying;
  patch(app, { changes: changes.slice(0, -1), undone: [...undone, changes.at(-1)], aim: null, note: "" });
  ask(app);
}

/** @param {any} app */
export function redo(app) {
  const { changes, undone } = app.state().trying;
  patch(app, { changes: [...changes, undone.at(-1)], undone: undone.slice(0, -1), note: "" });
  ask(app);
}

/** As it is: all changes go, and come back one by one with `redo`. @param {any} app */
export function reset(app) {
  const { changes, undone } = app.state().trying;
  patch(app, { changes: [], undone: [...undone, ...changes.toReversed()], tool: null, aim: null, note: "" });
  ask(app);
}

let asked = new AbortController();
/** @type {any} */ let later;

/** Asks what comes of the changes; only the last question counts. @param {any} app @param {string} [note] what stays said */
export async function ask(app, note = "") {
  asked.abort();
  clearTimeout(later);
  asked = new AbortController();
  const { signal } = asked;
  const { of, changes } = app.state().trying;
  try {
    const answer = await server.whatIf(/** @type {string} */ (of), changes, signal);
    if (!signal.aborted) show(app, { answer, answered: changes, note });
  } catch (error) {
    if (signal.aborted) return;
    if (error instanceof server.Refused) return refused(app, error);
    patch(app, { note: say("whatif_kept") });
    later = setTimeout(() => ask(app), RETRY_MS);
  }
}

/** @param {any} app @param {Partial<typeof NOTHING>} part */
function show(app, part) {
  patch(app, part);
  if (app.state().screen === "what-if" && app.state().trying.changes.length) app.speak(headline(app.state()));
}

/** What cannot be done is taken back, and it is said why. @param {any} app @param {any} error */
function refused(app, error) {
  const { changes } = app.state().trying;
  const note = error.message || say("error_unknown");
  app.speak(note);
  if (error.status !== 422 || !changes.length) return patch(app, { note });
  patch(app, { changes: changes.slice(0, -1), note });
  ask(app, note);
}
