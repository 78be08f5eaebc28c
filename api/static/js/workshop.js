// @ts-check
/**
 * The doughs of the day, remembered in this browser and proposed on the next photo. No DOM here.
 *
 * @typedef {import("./geometry.js").Point} Point
 * @typedef {import("./job.js").Dough} Dough
 * @typedef {import("./job.js").Job} Job
 * @typedef {{name: string, role: import("./job.js").Role, rgb: number[]}} Known
 * @typedef {Record<string, Point[]>} Proposal places found for a dough that is not tapped yet, by `keyOf`
 */

import { apart, suggestName } from "./dough-names.js";

const KEY = "doughsight-doughs";
const MOST = 24; // doughs of a case
const SAME = 20; // CIE 1976 difference below which a ring shows a dough that was tapped already (estimated)
const TABLE_TAPS = 6; // places of blank paper taken from the mat

/** @param {Dough} dough */
export const keyOf = (dough) => dough.id ?? dough.name;

/** @returns {Known[]} none where nothing is remembered or it cannot be read */
export function remembered() {
  try {
    const told = JSON.parse(localStorage.getItem(KEY) ?? "[]");
    return Array.isArray(told) ? told.filter((one) => one?.name && one.role && one.rgb?.length === 3).slice(0, MOST) : [];
  } catch {
    return [];
  }
}

/** @param {Dough[]} palette doughs that were never tapped or found stay as they were remembered */
export function remember(palette) {
  const known = palette.filter((one) => one.rgb).map(({ name, role, rgb }) => ({ name, role, rgb }));
  try {
    if (known.some((one) => one.role === "conductive")) localStorage.setItem(KEY, JSON.stringify(known));
  } catch {
    // a private window forgets
  }
}

export function forgetDoughs() {
  try {
    localStorage.removeItem(KEY);
  } catch {
    // nothing was remembered
  }
}

/** The doughs of the day, not tapped yet. @param {Job} job @param {Known[]} known @returns {Job} */
export const seeded = (job, known) =>
  job.palette.length ? job : { ...job, palette: known.map((one) => ({ ...one, taps: [] })) };

/** Doughs with a known colour that nobody has tapped yet. @param {Job} job */
export const untapped = (job) => job.palette.filter((one) => !one.taps.length && one.rgb);

/** The job as it would be if the proposal were taken. @param {Job} job @param {Proposal | null} proposal @returns {Job} */
export function withProposal(job, proposal) {
  if (!proposal) return job;
  const taken = (/** @type {Dough} */ one) => (one.taps.length ? one : { ...one, taps: proposal[keyOf(one)] ?? [] });
  return { ...job, palette: job.palette.map(taken) };
}

/** What of a proposal still stands: that of doughs which are not tapped yet. @param {Job} job
 * @param {Proposal | null} proposal @returns {Proposal | null} */
export function standing(job, proposal) {
  const open = untapped(job).map(keyOf).filter((key) => proposal?.[key]?.length);
  return open.length ? Object.fromEntries(open.map((key) => [key, /** @type {Proposal} */ (proposal)[key]])) : null;
}

/** The first dough that is neither tapped nor found, else the first one. @param {Job} job @param {Proposal | null} proposal */
export function firstOpen(job, proposal) {
  const at = withProposal(job, proposal).palette.findIndex((one) => !one.taps.length);
  return Math.max(at, 0);
}

/** What the mat's rings tell: doughs of the day lie on the ring of their role that looks most like them, others
 * are new, but for those that were tapped already; the table is blank paper.
 * @param {Job} job @param {{pads: {pad: number, role: any, taps: Point[], rgb: number[]}[], table: Point[]}} mat
 * @returns {{job: Job, proposal: Proposal}} */
export function fromMat(job, mat) {
  const palette = [...job.palette];
  /** @type {Proposal} */ const proposal = {};
  for (const { pad, role, taps, rgb } of mat.pads) {
    if (palette.some((one) => one.taps.length && one.rgb && apart(one.rgb, rgb) < SAME)) continue;
    const open = untapped({ ...job, palette }).filter((one) => one.role === role && !proposal[keyOf(one)]);
    const like = open.sort((a, b) => apart(/** @type {number[]} */ (a.rgb), rgb) - apart(/** @type {number[]} */ (b.rgb), rgb))[0];
    const dough = like ?? { name: suggestName(rgb, palette.map((one) => one.name)), role, rgb, taps: [], pad };
    if (!like && palette.length < MOST) palette.push(dough);
    proposal[keyOf(dough)] = taps;
  }
  const table = palette.find((one) => one.role === "table");
  const paper = mat.table.slice(0, TABLE_TAPS);
  if (!table && paper.length) palette.push({ name: "table", role: "table", rgb: [235, 235, 230], taps: [] });
  if (paper.length && !table?.taps.length) proposal[table ? keyOf(table) : "table"] = paper;
  return { job: { ...job, palette }, proposal };
}
