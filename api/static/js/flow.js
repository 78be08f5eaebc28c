// @ts-check
/** What talks to the server: sending the photo, previews, inspections, and trying again without a network. */

import { correctionsOf, emptyJob, fromCase, paletteOf, scaled, scaleOf, toCase } from "./job.js";
import { isMain } from "./screens/check.js";
import * as server from "./server.js";
import { say } from "./words.js";

const RETRY_MS = 5000;
const PREVIEW_AFTER_MS = 350;
const SLOW_MS = 8000;

/** @param {any} app */
export function createFlow(app) {
  /** @type {any} */ let retryTimer = null;
  /** @type {any} */ let previewTimer = null;
  /** @type {AbortController | null} */ let running = null;
  /** @type {Promise<void> | null} */ let sending = null;

  /** @param {unknown} error @param {{title: string, back: string | null, plate?: string, act?: () => void}} how */
  function failed(error, how) {
    if (error instanceof server.Unreachable) return offline();
    const told = error instanceof server.Refused && error.message ? error.message : say("error_unknown");
    app.set({
      screen: "trouble",
      trouble: { text: told, plate: say("error_again"), act: () => app.go(how.back ?? "start"), ...how },
    });
    if (!(error instanceof server.Refused)) console.warn(error);
  }

  function offline() {
    const { screen } = app.state();
    const from = screen === "waiting" ? app.state().offlineFrom : screen;
    app.set({ screen: "offline", offlineFrom: from === "offline" ? app.state().offlineFrom : from });
    clearTimeout(retryTimer);
    retryTimer = setTimeout(retry, RETRY_MS);
  }

  /** Send what is waiting: first the photo, then the case if it was asked for. */
  async function retry() {
    clearTimeout(retryTimer);
    const { photo, wanted, screen, offlineFrom } = app.state();
    if (!photo) return;
    if (!photo.id) {
      await send();
      if (!app.state().photo?.id) return;
    }
    if (wanted) return inspect();
    if (screen === "offline") app.go(offlineFrom);
  }

  /** A new photo from the camera, a file, a drop or the clipboard. @param {Blob} file @param {boolean} keepJob */
  async function takePhoto(file, keepJob) {
    const url = URL.createObjectURL(file);
    const size = await measured(url);
    const before = app.state().photo;
    // The same sculpture again: the marks are a good start if the frame has the same shape.
    const again = keepJob && size && before && Math.abs(size.w / size.h - before.w / before.h) < 0.01;
    const job = again ? scaled(app.state().job, size.w / before.w) : emptyJob();
    const screen = size ? (again ? "entries" : "colours") : "waiting";
    const photo = { id: null, url, w: size?.w ?? 0, h: size?.h ?? 0, file };
    app.begin(photo, job, { screen, wait: { what: "photo" }, offlineFrom: "colours" });
    await send();
    if (!size && app.state().photo?.id) app.go("colours");
  }

  function send() {
    sending ??= sendNow().finally(() => (sending = null));
    return sending;
  }

  async function sendNow() {
    const { photo } = app.state();
    if (!photo || photo.id) return;
    try {
      const kept = await server.sendPhoto(photo.file);
      if (app.state().photo?.file !== photo.file) return;
      if (photo.w && photo.w !== kept.width) app.replaceJob(scaled(app.state().job, kept.width / photo.w));
      app.set({ photo: { ...photo, id: kept.id, w: kept.width, h: kept.height, url: server.photoUrl(kept.id) } });
      previewSoon();
    } catch (error) {
      failed(error, {
        title: say("error_photo"), back: null, plate: say("start_choose"), act: () => app.pick("chooser"),
      });
    }
  }

  /** The server forgot the photo (it was deleted there): send it again, if it is still here.
   * @param {unknown} error @returns {boolean} */
  function forgotten(error) {
    const { photo } = app.state();
    if (!(error instanceof server.Refused) || error.status !== 404 || !photo?.file) return false;
    app.set({ photo: { ...photo, id: null, url: URL.createObjectURL(photo.file) } });
    return true;
  }

  /** @param {string} name */
  async function sample(name) {
    app.set({ screen: "waiting", wait: { what: "photo" }, offlineFrom: "start" });
    try {
      const { photo, case: told } = await server.loadSample(name);
      const kept = { id: photo.id, url: server.photoUrl(photo.id), w: photo.width, h: photo.height, file: null };
      app.begin(kept, fromCase(told), { screen: "colours" });
      previewSoon();
    } catch (error) {
      failed(error, { title: say("error_title"), back: "start" });
    }
  }

  /** Ask for the outlines once the tapping pauses. */
  function previewSoon() {
    clearTimeout(previewTimer);
    previewTimer = setTimeout(preview, PREVIEW_AFTER_MS);
  }

  async function preview() {
    const { job, photo } = app.state();
    const palette = paletteOf(job);
    if (!photo?.id || !palette.some((dough) => dough.role === "conductive")) {
      app.set({ pieces: null, previewNote: null });
      return;
    }
    running?.abort();
    const mine = new AbortController();
    running = mine;
    app.set({ previewing: true });
    try {
      const report = await server.preview({ photo: photo.id, palette, scale: scaleOf(job), ...correctionsOf(job) }, mine.signal);
      if (running === mine) app.set({ pieces: report.pieces, previewNote: null, previewing: false });
    } catch (error) {
      if (mine.signal.aborted) return;
      if (forgotten(error)) return void send();
      app.set({ previewing: false, previewNote: error instanceof server.Refused ? error.message : null });
      if (error instanceof server.Unreachable) app.set({ loose: true });
    }
  }

  async function inspect() {
    const token = `t${Math.random().toString(36).slice(2)}`;
    const before = app.state().screen;
    const from = before === "offline" ? app.state().offlineFrom : before;
    app.set({ screen: "waiting", wait: { what: "case", stage: "", slow: false }, wanted: true, offlineFrom: from });
    const began = Date.now();
    const timer = setInterval(async () => {
      const stage = await server.stage(token).catch(() => "");
      const { screen, wait } = app.state();
      const slow = Date.now() - began > SLOW_MS;
      if (screen === "waiting" && wait.what === "case" && (stage !== wait.stage || slow !== wait.slow)) {
        app.set({ wait: { ...wait, stage, slow } });
      }
    }, 400);
    try {
      await send();
      const { job, photo } = app.state();
      if (!photo?.id) return;
      const told = toCase(job, photo.id);
      const asked = JSON.stringify(told);
      // Nothing was changed since: what was checked so far still holds.
      const { inspection: last, asked: lastAsked } = app.state();
      const checks = last && asked === lastAsked ? last.case.checks : [];
      const inspection = await server.inspect({ ...told, checks }, token);
      app.set({ inspection, asked, finding: 0, wanted: false, loose: false, pieces: inspection.report.pieces });
      app.go(isMain(inspection) ? "check" : "answer");
    } catch (error) {
      if (forgotten(error)) return void inspect();
      if (!(error instanceof server.Unreachable)) app.set({ wanted: false });
      failed(error, { title: say("error_case"), back: from });
    } finally {
      clearInterval(timer);
    }
  }

  addEventListener("online", () => app.state().screen === "offline" && retry());
  return { takePhoto, sample, previewSoon, inspect, retry };
}

/** Size of a picture that this browser can show, or null. @param {string} url @returns {Promise<{w: number, h: number} | null>} */
function measured(url) {
  return new Promise((resolve) => {
    const image = new Image();
    image.onload = () => resolve({ w: image.naturalWidth, h: image.naturalHeight });
    image.onerror = () => resolve(null);
    image.src = url;
  });
}

/** Mean colour of the photo round a point, sRGB 0 to 255. @param {string} url @param {[number, number][]} taps
 * @returns {Promise<number[] | null>} */
export async function colourAt(url, taps) {
  const image = new Image();
  image.src = url;
  try {
    await image.decode();
  } catch {
    return null;
  }
  const canvas = new OffscreenCanvas(9, 9);
  const pen = canvas.getContext("2d", { willReadFrequently: true });
  if (!pen) return null;
  const sum = [0, 0, 0];
  for (const [x, y] of taps) {
    pen.drawImage(image, Math.round(x) - 4, Math.round(y) - 4, 9, 9, 0, 0, 9, 9);
    const { data } = pen.getImageData(0, 0, 9, 9);
    for (let i = 0; i < data.length; i += 4) for (let c = 0; c < 3; c += 1) sum[c] += data[i + c];
  }
  return sum.map((v) => Math.round(v / (81 * taps.length)));
}

