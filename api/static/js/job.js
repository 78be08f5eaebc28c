// @ts-check
/**
 * The job: what the helper told us, and how it becomes a case. No DOM here.
 *
 * @typedef {import("./geometry.js").Point} Point
 * @typedef {"conductive" | "insulating" | "table"} Role
 * @typedef {"points" | "mat" | "card" | "corners" | "coin"} SizeKind
 * @typedef {{kind: SizeKind, points: Point[], mm: number | null, sides_mm?: (number | null)[]}} Size
 * @typedef {{as: string, points: Point[], width_mm: number}} Stroke
 * @typedef {{points: Point[]}} Line
 * @typedef {{name: string, role: Role, taps: Point[], rgb: number[] | null, id?: string, pad?: number}} Dough
 * @typedef {{id: string, colour: string, long_leg: Point | null, short_leg: Point | null, seen: string | null}} Led
 * @typedef {{palette: Dough[], size: Size, plus: Point | null, minus: Point | null, leds: Led[],
 *   strokes: Stroke[], cuts: Line[], joins: Line[], base: Record<string, any>}} Job
 */

import { asText } from "./merge.js";

/** @returns {Job} */
export function emptyJob() {
  return {
    palette: [],
    size: { kind: "points", points: [], mm: null },
    plus: null,
    minus: null,
    leds: [newLed([])],
    strokes: [],
    cuts: [],
    joins: [],
    base: {},
  };
}

/** A job that was kept by an older page, or of which only a part was told. @param {Partial<Job>} told @returns {Job} */
export const wholeJob = (told) => ({ ...emptyJob(), ...told });

/** @param {Led[]} leds @returns {Led} */
export function newLed(leds) {
  const taken = new Set(leds.map((led) => led.id));
  let n = 1;
  while (taken.has(`L${n}`)) n += 1;
  return { id: `L${n}`, colour: leds.at(-1)?.colour ?? "red", long_leg: null, short_leg: null, seen: null };
}

/** What can be tapped as an entry, in order: `plus`, `minus`, `L1.long_leg`, ... @param {Job} job */
export function targets(job) {
  return ["plus", "minus", ...job.leds.flatMap((led) => [`${led.id}.long_leg`, `${led.id}.short_leg`])];
}

/** @param {Job} job @param {string} key @returns {Point | null} */
export function entryAt(job, key) {
  if (key === "plus" || key === "minus") return job[key];
  const [id, leg] = key.split(".");
  const led = job.leds.find((one) => one.id === id);
  return led ? /** @type {any} */ (led)[leg] : null;
}

/** @param {Job} job @param {string} key @param {Point | null} at @returns {Job} */
export function withEntry(job, key, at) {
  if (key === "plus" || key === "minus") return { ...job, [key]: at };
  const [id, leg] = key.split(".");
  return withLed(job, id, { [leg]: at });
}

/** @param {Job} job @param {string} id @param {Partial<Led>} patch @returns {Job} */
export function withLed(job, id, patch) {
  return { ...job, leds: job.leds.map((led) => (led.id === id ? { ...led, ...patch } : led)) };
}

/** The first entry not yet tapped, or null. @param {Job} job */
export function nextTarget(job) {
  return targets(job).find((key) => !entryAt(job, key)) ?? null;
}

/** How many places were tapped in all. @param {Job} job */
export function countTaps(job) {
  const taps = job.palette.reduce((sum, dough) => sum + dough.taps.length, 0);
  return taps + job.size.points.length + targets(job).filter((key) => entryAt(job, key)).length;
}

/** What still lacks before the sums can begin: a target key, or null. An untouched LED does not count.
 * @param {Job} job */
export function lacking(job) {
  const begun = job.leds.filter((led) => led.long_leg || led.short_leg);
  const needed = targets({ ...job, leds: begun.length ? begun : job.leds.slice(0, 1) });
  return needed.find((key) => !entryAt(job, key)) ?? null;
}

/** The scale in the public format, or null while it is not told in full.
 * @param {Job} job @returns {Record<string, any> | null} */
export function scaleOf(job) {
  const { kind = "points", points, mm, sides_mm: sides } = job.size;
  const n = points.length;
  if (kind === "mat") return { mat: true };
  if (kind === "card" && (n === 2 || n === 4)) return { card: points };
  if (kind === "corners" && n === 4 && sides?.[0] && sides[1]) return { corners: points, sides_mm: sides };
  if (kind === "coin" && n >= 2 && mm) return { coin: points, mm };
  if (kind === "points" && n === 2 && mm) return { points, mm };
  return !n && job.base.scale?.mm_per_px ? job.base.scale : null;
}

/** @param {any} scale in the public format @returns {Size} */
function sizeFrom(scale) {
  const { points, card, corners, coin, mat, mm, sides_mm } = scale ?? {};
  const kind = mat ? "mat" : card ? "card" : corners ? "corners" : coin ? "coin" : "points";
  const size = { kind, points: points ?? card ?? corners ?? coin ?? [], mm: mm ?? null };
  return /** @type {Size} */ (corners ? { ...size, sides_mm } : size);
}

/** The doughs in the public format; on the printed mat a dough without a tap is looked for on the pads.
 * @param {Job} job */
export function paletteOf(job) {
  const told = job.palette.filter((dough) => dough.taps.length || job.size.kind === "mat");
  return told.map(({ name, role, taps, pad }) => ({ name, role, taps, ...(pad && !taps.length ? { pad } : {}) }));
}

const NO_COLOUR = ["table", "not-dough"]; // what a stroke may paint besides the doughs

/** What was corrected, as the case tells it; strokes of a dough that has gone meanwhile are left out.
 * @param {Job} job @returns {{strokes?: Stroke[], cuts?: Line[], joins?: Line[]}} */
export function correctionsOf(job) {
  const names = new Set([...paletteOf(job).map((dough) => dough.name), ...NO_COLOUR]);
  const all = { strokes: job.strokes.filter((one) => names.has(one.as)), cuts: job.cuts, joins: job.joins };
  return Object.fromEntries(Object.entries(all).filter(([, lines]) => lines.length));
}

/** The dough `i` with another name; its strokes go on being its own, and its first name tells who it is. @param {Job} job @param {number} i
 * @param {string} name @returns {Job} */
export function renamed(job, i, name) {
  const before = job.palette[i].name;
  return {
    ...job,
    palette: job.palette.map((dough, n) => (n === i ? { ...dough, id: dough.id ?? before, name } : dough)),
    strokes: job.strokes.map((one) => (one.as === before ? { ...one, as: name } : one)),
  };
}

/** The case in the public format, with the photo's id. @param {Job} job @param {string} photo */
export function toCase(job, photo) {
  const known = new Map((job.base.leds ?? []).map((/** @type {any} */ led) => [led.id, led]));
  const leds = job.leds
    .filter((led) => led.long_leg && led.short_leg)
    .map((led) => {
      const before = known.get(led.id);
      const model = before && before.colour === led.colour ? before.model : undefined;
      return { ...led, ...(model ? { model } : {}) };
    });
  const names = new Set(job.palette.map((dough) => dough.name));
  const measured = Object.entries(job.base.materials ?? {}).filter(([name]) => names.has(name));
  // A dialogue belongs to its inspection: a new one begins anew.
  const { checks: _, strokes: _strokes, cuts: _cuts, joins: _joins, ...base } = job.base;
  return {
    ...base,
    schema: "doughsight-case/1",
    photo,
    palette: paletteOf(job),
    scale: scaleOf(job),
    pack: { ...(job.base.pack ?? { cells: 4 }), plus: job.plus, minus: job.minus },
    leds,
    ...correctionsOf(job),
    materials: Object.fromEntries(measured),
  };
}

/** What an inspection was asked about, as text: it holds as long as this stays the same. @param {Job} job @param {string} photo */
export const askedOf = (job, photo) => asText(toCase(job, photo));

/** @param {Record<string, any>} told a case in the public format @returns {Job} */
export function fromCase(told) {
  const leds = (told.leds ?? []).map((/** @type {any} */ led) => ({
    id: led.id,
    colour: led.colour ?? "red",
    long_leg: led.long_leg,
    short_leg: led.short_leg,
    seen: led.seen ?? null,
  }));
  return {
    palette: told.palette.map((/** @type {any} */ one) => ({ ...one, taps: one.taps ?? [], rgb: null })),
    size: sizeFrom(told.scale),
    plus: told.pack?.plus ?? null,
    minus: told.pack?.minus ?? null,
    leds: leds.length ? leds : [newLed([])],
    strokes: told.strokes ?? [],
    cuts: told.cuts ?? [],
    joins: told.joins ?? [],
    base: told,
  };
}

/** Places of a case that the page keeps but does not edit, scaled. @param {any} told @param {number} k @returns {any} */
function scaledBase(told, k) {
  /** @param {Point} p */
  const move = (p) => [p[0] * k, p[1] * k];
  const out = { ...told };
  if (told.parts) out.parts = told.parts.map((/** @type {any} */ one) => ({ ...one, a: move(one.a), b: move(one.b) }));
  return out;
}

/** All places scaled, when the kept photo has another size than the one that was tapped.
 * @param {Job} job @param {number} k @returns {Job} */
export function scaled(job, k) {
  /** @param {Point | null} p @returns {any} */
  const move = (p) => (p ? [p[0] * k, p[1] * k] : null);
  /** @template {Line} T @param {T[]} lines */
  const moved = (lines) => lines.map((one) => ({ ...one, points: one.points.map(move) }));
  return {
    ...job,
    palette: job.palette.map((dough) => ({ ...dough, taps: dough.taps.map(move) })),
    size: { ...job.size, points: job.size.points.map(move) },
    plus: move(job.plus),
    minus: move(job.minus),
    leds: job.leds.map((led) => ({ ...led, long_leg: move(led.long_leg), short_leg: move(led.short_leg) })),
    strokes: moved(job.strokes),
    cuts: moved(job.cuts),
    joins: moved(job.joins),
    base: scaledBase(job.base, k),
  };
}
