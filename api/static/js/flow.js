// @ts-check
/** What talks to the server: sending the photo, previews, inspections, and trying again without a network. */

import { isOut, takeAsked } from "./here.js";
import { askedOf, correctionsOf, emptyJob, fromCase, paletteOf, scaled, scaleOf, toCase, wholeJob } from "./job.js";
import { tellNews } from "./news.js";
import { isMain } from "./screens/check.js";
import { createSending } from "./sending.js";
import * as server from "./server.js";
import { framed } from "./shrink.js";
import { settleUnderside } from "./underside.js";
import { newToken } from "./upload.js";
import { say } from "./words.js";
import { withProposal } from "./workshop.js";

const WAITS_MS = [1000, 2000, 4000, 8000, 15_000]; // before the next try when nobody answers
const PREVIEW_AFTER_MS = 120; // longer than between the steps of a drag, shorter than between two taps (estimated)
const SLOW_MS = 8000;
const ALIKE = 0.01; // frames of the same shape, as the same phone makes them

/** @param {any} app */
export function createFlow(app) {
  /** @type {any} */ let retryTimer = null;
  /** @type {any} */ let previewTimer = null;
  /** @type {AbortController | null} */ let running = null;
  let tries = 0;
  const { send } = createSending(app, {
    failed: (error) => failed(error, {
      title: say("error_photo"), back: null, plate: say("start_choose"), act: () => app.pick("chooser"),
    }),
    broken: (away) => (away ? offline() : retrySoon(true)),
    landed: () => {
      tries = 0;
      previewSoon();
    },
  });

  /** @param {unknown} error @param {{title: string, back: string | null, plate?: string, act?: () => void}} how */
  function failed(error, how) {
    if (error instanceof server.Unreachable) return offline();
    if (isOut(error)) return;
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
    retrySoon(false);
  }

  /** @param {boolean} tell in the bar, where the screen does not say so already */
  function retrySoon(tell) {
    clearTimeout(retryTimer);
    retryTimer = setTimeout(retry, WAITS_MS[Math.min(tries, WAITS_MS.length - 1)]);
    tries += 1;
    if (tell) tellNews({ words: say("news_kept"), act: retryNow });
  }

  function retryNow() {
    tries = 0;
    return retry();
  }

  /** Send what is waiting: first the photo, then what was asked about it. */
  async function retry() {
    clearTimeout(retryTimer);
    if (!app.state().photo) return;
    await send();
    const { photo, wanted, screen, offlineFrom } = app.state();
    if (!photo?.id) return;
    if (photo.again) return lookAgain();
    if (wanted) return inspect();
    if (screen === "offline") app.go(offlineFrom);
  }

  /** A new photo from the camera, a file, a drop or the clipboard. @param {Blob} file @param {boolean} keepJob */
  async function takePhoto(file, keepJob) {
    const url = URL.createObjectURL(file);
    const natural = await measured(url);
    const size = natural && framed(natural);
    const { photo: before, inspection, job: told } = app.state();
    // The same sculpture again: the marks are a good start if the frame has the same shape.
    const alike = keepJob && size && before?.w && Math.abs(size.w / size.h - before.w / before.h) < ALIKE;
    const job = alike ? scaled(told, size.w / before.w) : emptyJob();
    const next = alike ? "entries" : "colours";
    const again = keepJob && inspection ? inspection.id : null;
    const sculpture = takeAsked() ?? (keepJob ? before?.sculpture : null) ?? null;
    const first = keepJob ? (before?.first ?? again) : null; // the inspection of its first photo, for the record
    const photo = { id: null, sculpture, first, token: newToken(), url, w: size?.w ?? 0, h: size?.h ?? 0, natural, file, again };
    tries = 0;
    app.begin(photo, job, { screen: again || !size ? "waiting" : next, wait: { what: "photo" }, offlineFrom: next });
    await send();
    if (app.state().photo?.token !== photo.token || !app.state().photo.id) return;
    if (again) await lookAgain();
    else if (!size) app.go("colours");
  }

  /** Another photo of the sculpture that was looked at: the server carries over what was told. */
  async function lookAgain() {
    const { photo, job } = app.state();
    const other = () => app.state().photo?.id !== photo.id;
    const byHand = () => app.go(app.state().offlineFrom);
    try {
      const inspection = await watched("wait_again", (token) => server.again(photo.again, photo.id, token));
      // Who went back and corrected the marks by hand meanwhile wants them as they are.
      if (other() || app.state().job !== job) return;
      const carried = fromCase(inspection.case);
      app.begin({ ...photo, again: null }, carried, found(inspection, askedOf(carried, photo.id)));
    } catch (error) {
      if (other()) return;
      if (error instanceof server.Refused) app.set({ photo: { ...app.state().photo, again: null } });
      failed(error, { title: say("again_refused"), back: null, plate: say("again_by_hand"), act: byHand });
    }
  }

  /** What the page shows when an inspection is there. @param {any} inspection @param {string} asked */
  function found(inspection, asked) {
    const { pieces } = inspection.report;
    return { inspection, asked, finding: 0, wanted: false, loose: false, pieces, screen: isMain(inspection) ? "check" : "answer" };
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
      app.begin(keptPhoto(photo), fromCase(told), { screen: "colours" });
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
    const { photo, proposal } = app.state();
    const job = withProposal(app.state().job, proposal);
    const palette = paletteOf(job);
    // What is waited for brings its own outlines, and sooner where nothing else is worked on.
    if (app.state().screen === "waiting") return;
    if (!photo?.id || !palette.some((dough) => dough.role === "conductive")) {
      app.set({ pieces: null, looked: null, previewNote: null });
      return;
    }
    running?.abort();
    const mine = new AbortController();
    running = mine;
    app.set({ previewing: true });
    try {
      const report = await server.preview({ photo: photo.id, palette, scale: scaleOf(job), ...correctionsOf(job) }, mine.signal);
      if (running === mine) app.set({ pieces: report.pieces, looked: { ...report, doughs: palette.map((one) => one.name) }, previewNote: null, previewing: false });
    } catch (error) {
      if (mine.signal.aborted) return;
      if (forgotten(error)) return void send();
      app.set({ previewing: false, previewNote: error instanceof server.Refused ? error.message : null });
      if (error instanceof server.Unreachable) app.set({ loose: true });
    }
  }

  /** Waits for an inspection on the waiting screen, which tells how far it is.
   * @param {string} title @param {(token: string) => Promise<any>} work */
  async function watched(title, work) {
    const token = newToken();
    app.set({ screen: "waiting", wait: { what: "case", title, stage: "", slow: false } });
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
      return await work(token);
    } finally {
      clearInterval(timer);
    }
  }

  async function inspect() {
    const before = app.state().screen;
    const from = ["offline", "waiting"].includes(before) ? app.state().offlineFrom : before;
    app.set({ wanted: true, offlineFrom: from });
    try {
      await watched("wait_title", async (token) => {
        await send();
        const { job, photo } = app.state();
        if (!photo?.id) return;
        const asked = askedOf(job, photo.id);
        // Nothing was changed since: what was checked so far still holds.
        const { inspection: last, asked: lastAsked } = app.state();
        const checks = last && asked === lastAsked ? last.case.checks : [];
        const inspection = await server.inspect({ ...toCase(job, photo.id), checks }, token);
        if (app.state().photo?.id !== photo.id) return;
        app.set({ ...found(inspection, asked), adding: false });
        settleUnderside(app);
      });
    } catch (error) {
      if (forgotten(error)) return void inspect();
      if (!(error instanceof server.Unreachable)) app.set({ wanted: false });
      failed(error, { title: say("error_case"), back: from });
    }
  }

  /** A sculpture by the address of its draft, from another phone or another day.
   * @param {string} id @param {import("./sync.js").Draft | any} sync */
  async function open(id, sync) {
    app.set({ screen: "waiting", wait: { what: "kept" }, offlineFrom: "start" });
    try {
      const draft = /** @type {server.Draft} */ (await server.draft(id, 0));
      const inspection = draft.inspection && (await server.inspection(draft.inspection));
      const job = wholeJob(draft.job);
      const begun = job.plus || job.minus || job.leds.some((led) => led.long_leg || led.short_leg);
      const then = inspection ? found(inspection, askedOf(job, draft.photo.id)) : { screen: begun ? "entries" : "colours" };
      app.begin(keptPhoto(draft.photo), job, then);
      sync.opened(draft);
      if (!inspection) previewSoon();
    } catch (error) {
      const away = error instanceof server.Unreachable;
      const plate = away ? say("offline_now") : say("link_start");
      const act = () => (away ? open(id, sync) : app.go("start"));
      if (!away) history.replaceState(null, "", location.pathname + location.search);
      if (!away) failed(error, { title: say("link_gone"), back: null, plate, act });
      else app.set({ screen: "trouble", trouble: { title: say("offline_title"), text: say("link_waits"), plate, act } });
      if (away) addEventListener("online", () => app.state().screen === "trouble" && open(id, sync), { once: true });
    }
  }

  addEventListener("online", () => app.state().screen === "offline" || !app.state().photo?.id ? retryNow() : undefined);
  return { takePhoto, sample, previewSoon, inspect, retry: retryNow, send, open };
}

/** A photo that the server has. @param {{id: string, width: number, height: number}} photo */
const keptPhoto = ({ id, width, height }) =>
  ({ id, token: id, url: server.photoUrl(id), w: width, h: height, natural: null, file: null, again: null });

/** Size of a picture that this browser can show, or null. @param {string} url @returns {Promise<{w: number, h: number} | null>} */
function measured(url) {
  return new Promise((resolve) => {
    const image = new Image();
    image.onload = () => resolve({ w: image.naturalWidth, h: image.naturalHeight });
    image.onerror = () => resolve(null);
    image.src = url;
  });
}

/** Mean colour of the photo round a point, sRGB 0 to 255.
 * @param {{url: string, w: number}} photo `w` is the width in which the taps are told @param {[number, number][]} taps
 * @returns {Promise<number[] | null>} */
export async function colourAt({ url, w }, taps) {
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
  const k = image.naturalWidth / w; // the photo as it was taken may be larger than it is kept
  for (const [x, y] of taps) {
    pen.drawImage(image, Math.round(x * k) - 4, Math.round(y * k) - 4, 9, 9, 0, 0, 9, 9);
    const { data } = pen.getImageData(0, 0, 9, 9);
    for (let i = 0; i < data.length; i += 4) for (let c = 0; c < 3; c += 1) sum[c] += data[i + c];
  }
  return sum.map((v) => Math.round(v / (81 * taps.length)));
}

