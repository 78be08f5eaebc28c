// @ts-check
/**
 * What if: changes that are tried, where everything then is, and how they become part of the job. No DOM here.
 *
 * @typedef {import("./geometry.js").Point} Point
 * @typedef {{do: "turn" | "pull-out" | "put-back", part: string} | {do: "move", entry: string, to: Point}
 *   | {do: "cut", points: Point[]} | {do: "cells", count: number}} Change
 * @typedef {{at: Record<string, Point>, out: string[], cuts: Point[][], cells: number}} Stand
 */

import { newLed } from "./job.js";

const BEYOND_MM = 1.5; // a knife goes a little further than the line, in the sums, too (estimated)
const SEEN_GLOW = 0.04; // so much more or less light can be seen (estimated)

/** @param {string} entry */
export const partOf = (entry) => entry.split(".")[0];

/** How things stand as the case tells them. @param {any} told @returns {Stand} */
function asTold(told) {
  /** @type {Record<string, Point>} */
  const at = { "pack.plus": told.pack.plus, "pack.minus": told.pack.minus };
  for (const led of told.leds) {
    at[`${led.id}.long`] = led.long_leg;
    at[`${led.id}.short`] = led.short_leg;
  }
  for (const part of told.parts ?? []) {
    at[`${part.id}.a`] = part.a;
    at[`${part.id}.b`] = part.b;
  }
  return { at, out: [], cuts: [], cells: told.pack.cells ?? 4 };
}

/** Names of the ends of a part, in their order. @param {Stand} stand @param {string} part */
export const endsOf = (stand, part) => Object.keys(stand.at).filter((name) => partOf(name) === part);

/** Where everything is after these changes, made in their order. @param {any} told a case @param {Change[]} changes */
export const standAfter = (told, changes) => changes.reduce(changed, asTold(told));

/** @param {Stand} stand @param {Change} change @returns {Stand} */
function changed(stand, change) {
  if (change.do === "turn") {
    const [one, two] = endsOf(stand, change.part);
    return { ...stand, at: { ...stand.at, [one]: stand.at[two], [two]: stand.at[one] } };
  }
  if (change.do === "pull-out") return { ...stand, out: [...stand.out, change.part] };
  if (change.do === "put-back") return { ...stand, out: stand.out.filter((part) => part !== change.part) };
  if (change.do === "move") return { ...stand, at: { ...stand.at, [change.entry]: change.to } };
  if (change.do === "cut") return { ...stand, cuts: [...stand.cuts, change.points] };
  return { ...stand, cells: change.count };
}

/** One change more; cells or places in a row of the same thing are one change.
 * @param {Change[]} changes @param {Change} change */
export function withChange(changes, change) {
  const last = changes.at(-1);
  const instead = last?.do === change.do
    && (change.do === "cells" || (change.do === "move" && change.entry === /** @type {any} */ (last).entry));
  return [...(instead ? changes.slice(0, -1) : changes), change];
}

/** The entry of a target of the job, and back: `L1.long_leg` is `L1.long`, `plus` is `pack.plus`. @param {string} target */
export const entryOf = (target) => (target.includes(".") ? target.replace(/_leg$/, "") : `pack.${target}`);

/** @param {string} entry */
export const targetOf = (entry) => (entry.startsWith("pack.") ? entry.slice(5) : entry.replace(/\.(long|short)$/, ".$1_leg"));

/** What the picture shows of a stand: leads, and the LEDs and parts with these ids. @param {Stand} stand @param {any} told
 * @param {(id: string) => boolean} which @param {boolean} leads */
export function shownJob({ at, out }, told, which, leads) {
  const here = (/** @type {any} */ one) => !out.includes(one.id) && which(one.id);
  const leds = told.leds.filter(here).map((/** @type {any} */ one) => ({ ...one, long_leg: at[`${one.id}.long`], short_leg: at[`${one.id}.short`] }));
  const parts = (told.parts ?? []).filter(here).map((/** @type {any} */ one) => ({ ...one, a: at[`${one.id}.a`], b: at[`${one.id}.b`] }));
  return /** @type {any} */ ({ plus: leads ? at["pack.plus"] : null, minus: leads ? at["pack.minus"] : null, leds, parts });
}

/** The job of a sculpture that has been changed so. What was seen lit was seen before.
 * @param {any} job @param {any} told the case that the changes are about @param {Change[]} changes @param {number} mmPerPx */
export function changedJob(job, told, changes, mmPerPx) {
  const { at, out, cuts, cells } = standAfter(told, changes);
  const leds = job.leds
    .filter((/** @type {any} */ led) => !out.includes(led.id))
    .map((/** @type {any} */ led) =>
      (at[`${led.id}.long`] ? { ...led, long_leg: at[`${led.id}.long`], short_leg: at[`${led.id}.short`], seen: null } : led));
  const parts = (/** @type {any[]} */ all) => all.filter((one) => !out.includes(one.id))
    .map((one) => (at[`${one.id}.a`] ? { ...one, a: at[`${one.id}.a`], b: at[`${one.id}.b`] } : one));
  return {
    ...job,
    plus: at["pack.plus"],
    minus: at["pack.minus"],
    leds: leds.length ? leds : [newLed([])],
    cuts: [...job.cuts, ...cuts.map((points) => ({ points: longer(points, BEYOND_MM / mmPerPx) }))],
    parts: parts(job.parts),
    base: {
      ...job.base,
      ...(cells !== (told.pack.cells ?? 4) && { pack: withCells(job.base.pack ?? {}, told.pack, cells) }),
    },
  };
}

/** The pack with other cells; what was measured of it counts for each cell. @param {any} pack @param {any} told @param {number} cells */
function withCells(pack, told, cells) {
  const share = cells / (told.cells ?? 4);
  const scaled = (/** @type {string} */ key) => (pack[key] ? { [key]: pack[key] * share } : {});
  return { ...pack, cells, ...scaled("emf_V"), ...scaled("internal_ohm") };
}

/** The line with both ends further out. @param {Point[]} line @param {number} more in photo pixels @returns {Point[]} */
export function longer(line, more) {
  if (line.length < 2) return line;
  const out = line.map((p) => /** @type {Point} */ ([...p]));
  const last = out.length - 1;
  for (const [end, before] of [[0, 1], [last, last - 1]]) {
    const [dx, dy] = [line[end][0] - line[before][0], line[end][1] - line[before][1]];
    const share = more / (Math.hypot(dx, dy) || 1);
    out[end] = [line[end][0] + dx * share, line[end][1] + dy * share];
  }
  return out;
}

/** What becomes of a light: a key of the catalogue. @param {any} led as the server answers */
export function becomes({ now, then, out }) {
  if (out) return "out";
  if (now.state !== then.state) return now.state === "off" && then.state === "bright" ? "on" : then.state;
  if (then.state === "off") return "stays_off";
  const more = then.glow - now.glow;
  if (Math.abs(more) < SEEN_GLOW) return `stays_${then.state}`;
  return more > 0 ? "brighter" : "dimmer";
}

/** Lights by what becomes of them, those that change. @param {any[]} leds @returns {[string, string[]][]} */
export function news(leds) {
  /** @type {Map<string, string[]>} */ const told = new Map();
  for (const led of leds) {
    const what = becomes(led);
    if (!what.startsWith("stays_")) told.set(what, [...(told.get(what) ?? []), led.id]);
  }
  return [...told];
}
