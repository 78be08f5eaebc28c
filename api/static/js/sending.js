// @ts-check
/** The photo on its way: how far it is, tried again by itself, while the helper goes on tapping. */

import { countTaps } from "./job.js";
import { newsOver, tellNews } from "./news.js";
import * as server from "./server.js";
import { sendPhoto } from "./upload.js";
import { say } from "./words.js";

const QUIET_MS = 400; // a photo that is there by then needs no words

/**
 * @param {any} app
 * @param {{failed: (error: unknown) => void, broken: (away: boolean) => void, landed: () => void}} then
 * `broken`: nobody answers; `away`: the helper has told nothing yet, so the screen may say so
 */
export function createSending(app, { failed, broken, landed }) {
  /** @type {{token: string, stop: AbortController, done: Promise<void>} | null} */ let going = null;

  /** Sends the photo if it is not there yet; asked twice it is the same one on its way. @returns {Promise<void>} */
  function send() {
    const { photo } = app.state();
    if (!photo || photo.id || !photo.file) return Promise.resolve();
    if (going?.token === photo.token) return going.done;
    going?.stop.abort();
    const stop = new AbortController();
    const mine = { token: photo.token, stop, done: Promise.resolve() };
    going = mine;
    mine.done = sendNow(photo, stop.signal).finally(() => {
      if (going === mine) going = null;
    });
    return mine.done;
  }

  /** @param {any} photo @param {AbortSignal} signal */
  async function sendNow(photo, signal) {
    const began = performance.now();
    const other = () => app.state().photo?.token !== photo.token;
    let words = "";
    const progress = (/** @type {number} */ share) => {
      if (other() || performance.now() - began < QUIET_MS) return;
      words = say("news_sending", { percent: Math.round(share * 100) });
      tellNews({ words });
    };
    try {
      const kept = await sendPhoto(photo, progress, signal);
      if (other()) return;
      newsOver(words);
      newsOver(say("news_kept"));
      land(kept);
    } catch (error) {
      if (other()) return;
      newsOver(words);
      if (error instanceof server.Unreachable) broken(!countTaps(app.state().job));
      else failed(error);
    }
  }

  /** @param {{id: string, width: number, height: number}} kept */
  function land({ id, width, height }) {
    const { photo } = app.state();
    // What this browser shows already need not come back over the same narrow way.
    const url = photo.natural ? photo.url : server.photoUrl(id);
    const there = { ...photo, id, w: width, h: height, url };
    if (photo.w && photo.w !== width) app.rescale(width / photo.w, { photo: there });
    else app.set({ photo: there });
    landed();
  }

  return { send };
}
