// @ts-check
/** Suggestions of LEDs and leads: ghosts until the helper takes them. No DOM here. */

import { distance, middle, nearest } from "./geometry.js";
import { newLed, withEntry } from "./job.js";

/** @typedef {import("./geometry.js").Point} Point @typedef {import("./job.js").Job} Job
 * @typedef {{key: string, lead: "plus" | "minus" | null, at: Point, legs: [Point, Point] | null, colour: string | null,
 *   sure: boolean}} Ghost `legs` are in no order: a photo does not show which is the long one
 */

/** From which confidence all are taken at once: of leads 2 in 100 lie astray then (bench_suggestions.py); among LEDs
 * of the samples the only false one has 0.51. */
const SURE_LEAD = 0.5;
const SURE_LED = 0.55;
const SAME_MM = 7; // a told LED so near is the suggested one: the body of a large LED is 10 mm long

/** What was suggested and is not told yet. @param {Job} job
 * @param {{suggestions?: any, photo?: {mm_per_px: number}} | null} report @returns {Ghost[]} */
export function ghostsOf(job, report) {
  const { leads = [], leds = [] } = report?.suggestions ?? {};
  const near = SAME_MM / (report?.photo?.mm_per_px || 0.15);
  const told = job.leds.flatMap(({ long_leg: long, short_leg: short }) => {
    return /** @type {Point[]} */ ([long && short && middle(long, short), long, short].filter(Boolean));
  });
  const isTold = (/** @type {Point} */ at, /** @type {Point[]} */ legs) =>
    told.some((one) => distance(one, at) < near || legs.some((leg) => distance(one, leg) < near / 2));
  return [
    ...leads.map((/** @type {any} */ one) => ({
      key: `ghost.${one.colour}`, lead: one.colour === "red" ? "plus" : "minus", at: one.at, legs: null, colour: null,
      sure: one.confidence >= SURE_LEAD,
    })).filter((/** @type {any} */ one) => !job[/** @type {"plus" | "minus"} */ (one.lead)]),
    ...leds.map((/** @type {any} */ one, /** @type {number} */ i) => ({
      key: `ghost.${i}`, lead: null, at: one.at, legs: one.legs, colour: one.colour,
      sure: Boolean(one.legs) && one.confidence >= SURE_LED,
    })).filter((/** @type {Ghost} */ one) => !isTold(one.at, one.legs ?? [])),
  ];
}

/** The job with a ghost taken. Which leg is the long one has to be asked, unless `long` tells (0 or 1).
 * @param {Job} job @param {Ghost} ghost @param {{led?: string, long?: 0 | 1}} [how] `led`: an LED that waits for its legs
 * @returns {{job: Job, id: string | null}} */
export function taken(job, { lead, at, legs, colour }, { led, long } = {}) {
  if (lead) return { job: withEntry(job, lead, at), id: null };
  const open = job.leds.find((one) => (led ? one.id === led : !one.long_leg && !one.short_leg));
  const one = open ?? newLed(job.leds, job.parts);
  const [a, b] = legs ?? [null, null];
  const placed = legs && { long_leg: long === 1 ? b : a, short_leg: long === 1 ? a : b, order: long === undefined ? "ask" : null };
  const now = /** @type {import("./job.js").Led} */ ({ ...one, colour: colour ?? one.colour, ...placed });
  const leds = open ? job.leds.map((old) => (old === open ? now : old)) : [...job.leds, now];
  return { job: { ...job, leds }, id: one.id };
}

/** The job with all of these taken. @param {Job} job @param {Ghost[]} ghosts */
export const takenAll = (job, ghosts) => ghosts.reduce((before, ghost) => taken(before, ghost).job, job);

/** What a tap for `target` means where a ghost stands: the job with it taken, or null. `reach` in photo pixels.
 * @param {Job} job @param {Ghost[]} ghosts @param {string | null} target @param {Point} at @param {number} reach
 * @returns {{job: Job, id: string | null} | null} */
export function takenAt(job, ghosts, target, at, reach) {
  const [led, leg] = target?.split(".") ?? [];
  const fits = ghosts.filter((one) => (!target || (leg ? leg.endsWith("_leg") && !one.lead : one.lead)));
  const places = fits.flatMap((ghost) => {
    const legs = ghost.legs ?? [];
    return [...(target && legs.length ? [] : [{ ghost, at: ghost.at, n: -1 }]), ...legs.map((place, n) => ({ ghost, at: place, n }))];
  });
  const one = { x: 0, y: 0, w: 1, h: 1 };
  const hit = nearest(places, at, reach, one, one);
  if (!hit) return null;
  if (!target || hit.n < 0) return hit.ghost.lead && target ? { job: withEntry(job, target, hit.at), id: null } : taken(job, hit.ghost);
  const mine = job.leds.find((one) => one.id === led);
  if (!mine || mine.long_leg || mine.short_leg) return { job: withEntry(job, /** @type {string} */ (target), hit.at), id: led };
  const long = /** @type {0 | 1} */ (leg === "long_leg" ? hit.n : 1 - hit.n);
  return taken(job, hit.ghost, { led, long });
}
