// @ts-check
/** A photo of the flipped sculpture: taken, sent, looked at with the case, and taken away again. */

import { el } from "./dom.js";
import { askedOf } from "./job.js";
import * as server from "./server.js";
import { newToken, sendPhoto } from "./upload.js";
import { figure, say } from "./words.js";

const chooser = () => /** @type {HTMLInputElement} */ (document.getElementById("below"));

export const takeUnderside = () => chooser().click();

/** @param {any} state */
export const hasUnderside = ({ inspection }) => Boolean(inspection?.case.underside);

/** How well the two outlines fit, and what is seen from below. @param {any} state */
export function undersideTold({ inspection }) {
  const { underside, photo } = inspection.report;
  if (!underside) return null;
  const share = Math.round(100 * underside.overlap);
  const fit = photo.true_scale
    ? say("below_fit_mm", { mm: figure(underside.rim_mm, 1), share })
    : say("below_fit", { share });
  return el("ul", { class: "plain underside" }, ...[...underside.says, fit].map((one) => el("li", {}, one)));
}

/** @param {any} job @param {string | null} photo */
function withUnderside(job, photo) {
  const { underside: _, ...base } = job.base;
  return { ...job, base: photo ? { ...base, underside: { photo } } : base };
}

/** The photo may have been deleted meanwhile: then what was told does not point to it any more. @param {any} app */
export function settleUnderside(app) {
  const { job, photo } = app.state();
  if (!job.base.underside || hasUnderside(app.state())) return;
  app.rebase((/** @type {any} */ told) => withUnderside(told, null), (/** @type {any} */ told) => ({ asked: askedOf(told, photo.id) }));
}

/** Looks anew without it; nothing of it is kept. @param {any} app */
export async function dropUnderside(app) {
  const photo = app.state().job.base.underside?.photo;
  app.edit(withUnderside(app.state().job, null));
  await app.inspect();
  if (photo) await server.deletePhoto(photo).catch(() => undefined);
}

/** Listens for the photo that was taken. @param {any} app */
export function createUnderside(app) {
  chooser().addEventListener("change", async () => {
    const file = chooser().files?.[0];
    chooser().value = "";
    if (file) await look(app, file);
  });
}

/** @param {any} app @param {File} file */
async function look(app, file) {
  const { screen, job: before } = app.state();
  const back = screen === "check" ? "check" : "answer";
  const trouble = (/** @type {string} */ text) => app.set({
    screen: "trouble",
    trouble: { title: say("below_refused"), text, plate: say("below_back"), act: () => app.go(back), back: null },
  });
  app.set({ screen: "waiting", wait: { what: "below" }, offlineFrom: back });
  let kept;
  try {
    kept = await sendPhoto({ file, token: newToken(), natural: null }, () => undefined, new AbortController().signal);
  } catch (error) {
    return trouble(error instanceof server.Refused && error.message ? error.message : say("below_offline"));
  }
  app.edit(withUnderside(app.state().job, kept.id));
  app.set({ open: "below" });
  await app.inspect();
  if (app.state().screen !== "trouble") return void document.querySelector(".underside")?.scrollIntoView({ block: "nearest" });
  // What does not fit is not kept: the sculpture stays as it was.
  const { text } = app.state().trouble;
  if (app.state().job.base.underside?.photo === kept.id) app.edit(before);
  await server.deletePhoto(kept.id).catch(() => undefined);
  trouble(text);
}
