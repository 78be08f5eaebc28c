// @ts-check
/** What changes the palette: taps, roles, names, and what is proposed on a new photo. */

import { suggestName } from "./dough-names.js";
import { colourAt } from "./flow.js";
import { renamed } from "./job.js";
import * as server from "./server.js";
import { firstOpen, forgetDoughs, fromMat, keyOf, remember, remembered, seeded, standing, untapped, withProposal } from "./workshop.js";

/** @typedef {import("./geometry.js").Point} Point */

/** @param {any} app @param {number} i @param {object} patch */
export function editDough(app, i, patch) {
  const { job } = app.state();
  app.edit({ ...job, palette: job.palette.map((/** @type {any} */ one, /** @type {number} */ n) => (n === i ? { ...one, ...patch } : one)) });
}

/** A tap on the photo: one place more of the active dough, or a new dough. @param {any} app @param {Point} at */
export async function tapDough(app, at) {
  const { job, active, adding, photo } = app.state();
  if (!adding && job.palette.length) return tapKnown(app, active, at);
  const rgb = await colourAt(photo, [at]);
  const { job: now } = app.state();
  const role = nextRole(now.palette);
  const taken = now.palette.map((/** @type {any} */ one) => one.name);
  const name = role === "table" && !taken.includes("table") ? "table" : suggestName(rgb ?? [128, 128, 128], taken);
  app.edit({ ...now, palette: [...now.palette, { name, role, taps: [at], rgb }] });
  app.set({ active: now.palette.length, adding: false, guessed: [...app.state().guessed, name] });
}

/** A dough of the day that was not tapped yet is tapped once; then the next one is asked for.
 * @param {any} app @param {number} i @param {Point} at */
function tapKnown(app, i, at) {
  const { job, proposal, photo } = app.state();
  const first = !job.palette[i].taps.length;
  if (first) void recolour(app, keyOf(job.palette[i]), photo, at);
  editDough(app, i, { taps: [...job.palette[i].taps, at] });
  const now = app.state().job;
  const left = standing(now, proposal);
  const open = withProposal(now, left).palette.some((/** @type {any} */ one) => !one.taps.length);
  app.set({ proposal: left, active: first && open ? firstOpen(now, left) : i });
}

/** A dough of the day that had to be tapped looks other here than it was told: from now on it is as it was tapped.
 * @param {any} app @param {string} key @param {any} photo @param {Point} at */
async function recolour(app, key, photo, at) {
  const rgb = await colourAt(photo, [at]).catch(() => null);
  if (!rgb || app.state().photo?.id !== photo.id) return;
  app.rebase((/** @type {any} */ job) => ({ ...job, palette: job.palette.map((/** @type {any} */ one) => (keyOf(one) === key ? { ...one, rgb } : one)) }));
}

/** The role that is most likely asked for next: one of each, then the table. @param {any[]} palette */
export function nextRole(palette) {
  const has = (/** @type {string} */ role) => palette.some((one) => one.role === role);
  return ["conductive", "insulating", "table"].find((role) => !has(role)) ?? "insulating";
}

/** One tap says which dough conducts: of two doughs the other one, whose role was only proposed, is then the other.
 * @param {any} app @param {number} i @param {string} role */
export function setRole(app, i, role) {
  const { job, guessed } = app.state();
  const doughs = job.palette.filter((/** @type {any} */ one, /** @type {number} */ n) => n === i || one.role !== "table");
  const other = doughs.length === 2 && role !== "table" && doughs.find((/** @type {any} */ one) => one !== job.palette[i]);
  const turns = other && other.role === role && guessed.includes(keyOf(other));
  const opposite = role === "conductive" ? "insulating" : "conductive";
  const palette = job.palette.map((/** @type {any} */ one, /** @type {number} */ n) =>
    (n === i ? { ...one, role } : turns && one === other ? { ...one, role: opposite } : one));
  const told = keyOf(job.palette[i]);
  app.edit({ ...job, palette });
  app.set({ guessed: guessed.filter((/** @type {string} */ key) => key !== told) });
}

/** @param {any} app @param {number} i @param {string} name */
export function rename(app, i, name) {
  const { job } = app.state();
  if (name && name !== job.palette[i].name) app.edit(renamed(job, i, name));
}

/** @param {any} app @param {number} i */
export function removeDough(app, i) {
  const { job } = app.state();
  app.edit({ ...job, palette: job.palette.filter((/** @type {any} */ _, /** @type {number} */ n) => n !== i) });
  app.set({ active: 0, adding: false });
}

/** What was proposed is right. @param {any} app */
export async function accept(app) {
  const { photo, proposal, job } = app.state();
  const all = withProposal(job, proposal);
  const rgbs = await Promise.all(all.palette.map((one) => (proposal[keyOf(one)] ? colourAt(photo, one.taps) : one.rgb)));
  if (app.state().job !== job) return;
  const palette = all.palette.map((one, i) => ({ ...one, rgb: rgbs[i] ?? one.rgb }));
  app.edit({ ...job, palette });
  app.set({ proposal: null, active: firstOpen({ ...job, palette }, null) });
  remember(palette);
}

/** Nothing is remembered any more; doughs that nobody tapped go. @param {any} app */
export function forget(app) {
  forgetDoughs();
  const { job } = app.state();
  const palette = job.palette.filter((/** @type {any} */ one) => one.taps.length);
  if (palette.length !== job.palette.length) app.edit({ ...job, palette });
  app.set({ proposal: null, active: 0, adding: false });
}

/** Asks for the printed mat in the photo, and proposes the doughs on its rings. @param {any} app
 * @returns {Promise<string | null>} what the server says against it */
export async function readMat(app) {
  const { photo } = app.state();
  if (!photo.id) return null;
  try {
    const mat = await server.mat(photo.id);
    if (app.state().photo?.id !== photo.id) return null;
    const { job, proposal } = fromMat(app.state().job, mat);
    app.edit({ ...job, size: { kind: "mat", points: [], mm: null } });
    app.set({ proposal: standing(job, proposal), active: firstOpen(job, proposal) });
    return null;
  } catch (error) {
    return error instanceof server.Refused ? error.message : null;
  }
}

/** Puts the doughs of the day on a new photo: at once by name, and where they are as soon as the server knows it.
 * @param {any} app */
export function createProposing(app) {
  /** @type {string | null} */ let asked = null;

  /** @param {any} state @param {any} before */
  function changed(state, before) {
    if (before.screen === "colours" && state.screen === "entries" && !state.job.base.palette) remember(state.job.palette);
    if (state.screen !== "colours" || !state.photo) return;
    const known = remembered();
    // In a workshop one device takes the photo and another one opens it.
    const ours = state.photo.file || state.here?.workshop;
    const fresh = state.photo.file !== before.photo?.file || before.screen !== "colours" || state.here !== before.here;
    if (!state.job.palette.length && known.length && fresh && ours) {
      return app.rebase((/** @type {any} */ job) => seeded(job, known));
    }
    if (state.photo.id && asked !== state.photo.id && !state.proposal && untapped(state.job).length) void ask(state);
  }

  /** @param {any} state */
  async function ask({ photo, job }) {
    asked = photo.id;
    const doughs = job.palette.filter((/** @type {any} */ one) => one.rgb).map((/** @type {any} */ { name, role, rgb }) => ({ name, role, rgb }));
    app.set({ seeking: true });
    const { doughs: found } = await server.found({ photo: photo.id, doughs }).catch(() => ({ doughs: [] }));
    const now = app.state();
    if (now.photo?.id !== photo.id) return;
    const byName = new Map(found.map((one) => [one.name, one.taps]));
    const places = Object.fromEntries(now.job.palette.map((/** @type {any} */ one) => [keyOf(one), byName.get(one.name) ?? []]));
    const proposal = standing(now.job, { ...places, ...now.proposal });
    app.set({ seeking: false, proposal, active: firstOpen(now.job, proposal) });
  }

  return { changed };
}
