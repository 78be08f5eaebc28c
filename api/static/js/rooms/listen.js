// @ts-check
/**
 * Hears what happens in a workshop, as server-sent events, and comes back by itself after sleep or a lost network.
 *
 * @typedef {"coming" | "live" | "lost" | "out"} State `lost`: what is shown may be old; `out`: it is closed to this device
 */

import { forgetHere, wasPutOut } from "../here.js";
import { Refused, ask } from "../server.js";

const DEAD_MS = 12_000; // the server says every 5 s that it is still there: two of them are missing
const AGAIN_MS = 2000;
const PATIENCE_MS = 5000;
const CLOSED = [401, 403, 404];

/**
 * @param {string} address of the workshop, as seen from this page
 * @param {{heard: (told: any) => void, changed: (state: State, words: string) => void}} how
 * @returns {{again: () => void, refresh: () => Promise<void>}} `again`: at once; `refresh`: also where nothing is pushed
 */
export function listen(address, { heard, changed }) {
  /** @type {EventSource | null} */ let source = null;
  /** @type {any} */ let timer = null;
  /** @type {State} */ let state = "coming";
  let last = 0;
  let newest = 0;

  /** Told by the stream and by an answer at the same time: what is older comes too late. @param {any} told */
  function hear(told) {
    if (state === "live" && told.at_ms < newest) return;
    newest = told.at_ms;
    heard(told);
  }

  /** @param {State} next @param {string} [words] */
  function turn(next, words = "") {
    if (next === state) return;
    state = next;
    changed(next, words);
  }

  function stop() {
    clearTimeout(timer);
    source?.close();
    source = null;
  }

  function alive() {
    last = performance.now();
    clearTimeout(timer);
    timer = setTimeout(lost, DEAD_MS);
    turn("live");
  }

  function open() {
    stop();
    source = new EventSource(`${address}/events`);
    source.addEventListener("queue", (event) => {
      hear(JSON.parse(event.data));
      alive();
    });
    source.addEventListener("still", alive);
    source.addEventListener("out", again);
    source.onerror = lost;
    timer = setTimeout(lost, DEAD_MS);
  }

  /** The browser would try again, too, but it stops at some errors and tells nobody which. */
  function lost() {
    stop();
    turn("lost");
    timer = setTimeout(again, AGAIN_MS);
  }

  /** Ask first: a stream that is refused says no word. */
  async function again() {
    stop();
    try {
      await refresh();
      if (state !== "out") open();
    } catch {
      lost();
    }
  }

  async function refresh() {
    try {
      const answer = await ask("GET", `${address}/queue`, undefined, AbortSignal.timeout(PATIENCE_MS));
      hear(await answer.json());
    } catch (error) {
      if (!(error instanceof Refused) || !CLOSED.includes(error.status)) throw error;
      stop();
      if (wasPutOut(error)) void forgetHere().catch(() => undefined);
      turn("out", error.message);
    }
  }

  // A phone that slept has a stream that nobody feeds any more.
  const wake = () => {
    if (!document.hidden && state !== "out" && (state === "lost" || performance.now() - last > DEAD_MS / 2)) again();
  };
  document.addEventListener("visibilitychange", wake);
  addEventListener("online", wake);
  addEventListener("pageshow", (event) => event.persisted && state !== "out" && again());
  addEventListener("pagehide", stop);
  open();
  return { again, refresh };
}
