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
 * @typedef {{id: string, colour: string, long_leg: Point | null, short_leg: Point | null, seen: string | null,
 *   order?: "ask" | "guess" | null}} Led `order`: which leg is the long one has still to be asked, or nobody could tell
 * @typedef {"wire" | "switch" | "resistor" | "buzzer" | "motor"} PartKind
 * @typedef {{id: string, kind: PartKind, a: Point | null, b: Point | null, closed?: boolean, ohm?: number | null,
 *   works_mA?: number | null}} Part `a` is the red wire of a buzzer
 * @typedef {{palette: Dough[], size: Size, plus: Point | null, minus: Point | null, leds: Led[],
 *   parts: Part[], strokes: Stroke[], cuts: Line[], joins: Line[], base: Record<string, any>}} Job
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
    parts: [],
    strokes: [],
    cuts: [],
    joins: [],
    base: {},
  };
}

/** A job that was kept by an older page, or of which only a part was told. @param {Partial<Job>} told @returns {Job} */
export const wholeJob = (told) => ({ ...emptyJob(), ...told });

/** @param {Led[]} leds @param {Part[]} [parts] @returns {Led} */
export function newLed(leds, parts = []) {
  const taken = new Set([...leds, ...parts].map((one) => one.id));
  let n = 1;
  while (taken.has(`L${n}`)) n += 1;
  return { id: `L${n}`, colour: leds.at(-1)?.colour ?? "red", long_leg: null, short_leg: null, seen: null };
}

const FIRST_LETTER = { wire: "W", switch: "S", resistor: "R", buzzer: "B", motor: "M" };

/** @param {Job} job @param {PartKind} kind @returns {Part} */
export function newPart(job, kind) {
  const taken = new Set([...job.leds, ...job.parts].map((one) => one.id));
  let n = 1;
  while (taken.has(`${FIRST_LETTER[kind]}${n}`)) n += 1;
  return { id: `${FIRST_LETTER[kind]}${n}`, kind, a: null, b: null, ...(kind === "switch" ? { closed: true } : {}) };
}

/** What can be tapped as an entry, in order: `plus`, `minus`, `L1.long_leg`, ..., `W1.a`, ... @param {Job} job */
export function targets(job) {
  const legs = job.leds.flatMap((led) => [`${led.id}.long_leg`, `${led.id}.short_leg`]);
  return ["plus", "minus", ...legs, ...job.parts.flatMap((part) => [`${part.id}.a`, `${part.id}.b`])];
}

/** The LED or other part with this id. @param {Job} job @param {string | null | undefined} id @returns {any} */
export const thing = (job, id) => [...job.leds, ...job.parts].find((one) => one.id === id) ?? null;

/** @param {Job} job @param {string} key @returns {Point | null} */
export function entryAt(job, key) {
  if (key === "plus" || key === "minus") return job[key];
  const [id, end] = key.split(".");
  return thing(job, id)?.[end] ?? null;
}

/** @param {Job} job @param {string} key @param {Point | null} at @returns {Job} */
export function withEntry(job, key, at) {
  if (key === "plus" || key === "minus") return { ...job, [key]: at };
  const [id, end] = key.split(".");
  return withThing(job, id, { [end]: at });
}

/** The LED or part changed. @param {Job} job @param {string} id @param {object} patch @returns {Job} */
export function withThing(job, id, patch) {
  const changed = (/** @type {any} */ one) => (one.id === id ? { ...one, ...patch } : one);
  return { ...job, leds: job.leds.map(changed), parts: job.parts.map(changed) };
}

/** The LED or part gone. @param {Job} job @param {string} id @returns {Job} */
export function without(job, id) {
  const others = (/** @type {any} */ one) => one.id !== id;
  return { ...job, leds: job.leds.filter(others), parts: job.parts.filter(others) };
}

/** Long and short leg have changed places: the helper has looked. @param {Job} job @param {string} id @returns {Job} */
export function turnedRound(job, id) {
  const { long_leg, short_leg } = thing(job, id);
  return withThing(job, id, { long_leg: short_leg, short_leg: long_leg, order: null });
}

/** What is asked for next, beginning with `from`: an entry not yet tapped, or which leg is the long one, or null.
 * @param {Job} job @param {string | null} [from] */
export function nextTarget(job, from = null) {
  const order = targets(job);
  const rest = [...order.slice(Math.max(order.indexOf(from ?? ""), 0)), ...order];
  return rest.find((key) => !entryAt(job, key)) ?? unordered(job);
}

/** How many places were tapped in all. @param {Job} job */
export function countTaps(job) {
  const taps = job.palette.reduce((sum, dough) => sum + dough.taps.length, 0);
  return taps + job.size.points.length + targets(job).filter((key) => entryAt(job, key)).length;
}

/** The LED of which has to be asked which leg is the long one, as a target `L2.order`, or null. @param {Job} job */
export function unordered(job) {
  const led = job.leds.find((one) => one.order === "ask" && one.long_leg && one.short_leg);
  return led ? `${led.id}.order` : null;
}

/** What still lacks before the sums can begin: a target key, or null. An untouched LED or part does not count.
 * @param {Job} job */
export function lacking(job) {
  const begun = job.leds.filter((led) => led.long_leg || led.short_leg);
  const leds = begun.length ? begun : job.leds.slice(0, 1);
  const needed = targets({ ...job, leds, parts: job.parts.filter((part) => part.a || part.b) });
  return needed.find((key) => !entryAt(job, key)) ?? unordered(job);
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
      const { order: _, ...told } = led;
      return { ...told, ...(model ? { model } : {}) };
    });
  const parts = job.parts.filter((part) => part.a && part.b);
  const names = new Set(job.palette.map((dough) => dough.name));
  const measured = Object.entries(job.base.materials ?? {}).filter(([name]) => names.has(name));
  // A dialogue belongs to its inspection: a new one begins anew.
  const { checks: _, strokes: _strokes, cuts: _cuts, joins: _joins, parts: _parts, ...base } = job.base;
  return {
    ...base,
    schema: "doughsight-case/1",
    photo,
    palette: paletteOf(job),
    scale: scaleOf(job),
    pack: { ...(job.base.pack ?? { cells: 4 }), plus: job.plus, minus: job.minus },
    leds,
    ...(parts.length ? { parts } : {}),
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
    parts: told.parts ?? [],
    strokes: told.strokes ?? [],
    cuts: told.cuts ?? [],
    joins: told.joins ?? [],
    base: told,
  };
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
    parts: job.parts.map((part) => ({ ...part, a: move(part.a), b: move(part.b) })),
    strokes: moved(job.strokes),
    cuts: moved(job.cuts),
    joins: moved(job.joins),
  };
}
