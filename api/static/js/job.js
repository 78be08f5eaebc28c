// @ts-check
/**
 * The job: what the helper told us, and how it becomes a case. No DOM here.
 *
 * @typedef {import("./geometry.js").Point} Point
 * @typedef {"conductive" | "insulating" | "table"} Role
 * @typedef {{name: string, role: Role, taps: Point[], rgb: number[] | null}} Dough
 * @typedef {{id: string, colour: string, long_leg: Point | null, short_leg: Point | null, seen: string | null}} Led
 * @typedef {{palette: Dough[], size: {points: Point[], mm: number | null}, plus: Point | null,
 *   minus: Point | null, leds: Led[], base: Record<string, any>}} Job
 */

/** @returns {Job} */
export function emptyJob() {
  return {
    palette: [],
    size: { points: [], mm: null },
    plus: null,
    minus: null,
    leds: [newLed([])],
    base: {},
  };
}

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

/** @param {Job} job @returns {Record<string, any> | null} */
export function scaleOf(job) {
  const { points, mm } = job.size;
  if (points.length === 2 && mm) return { points, mm };
  return job.base.scale?.mm_per_px ? job.base.scale : null;
}

/** @param {Job} job */
export function paletteOf(job) {
  const tapped = job.palette.filter((dough) => dough.taps.length);
  return tapped.map(({ name, role, taps }) => ({ name, role, taps }));
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
  const { checks: _, ...base } = job.base;
  return {
    ...base,
    schema: "doughsight-case/1",
    photo,
    palette: paletteOf(job),
    scale: scaleOf(job),
    pack: { ...(job.base.pack ?? { cells: 4 }), plus: job.plus, minus: job.minus },
    leds,
    materials: Object.fromEntries(measured),
  };
}

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
    size: { points: told.scale?.points ?? [], mm: told.scale?.mm ?? null },
    plus: told.pack?.plus ?? null,
    minus: told.pack?.minus ?? null,
    leds: leds.length ? leds : [newLed([])],
    base: told,
  };
}

/** Places of a case that the page keeps but does not edit, scaled. @param {any} told @param {number} k @returns {any} */
function scaledBase(told, k) {
  /** @param {Point} p */
  const move = (p) => [p[0] * k, p[1] * k];
  const out = { ...told };
  for (const kind of ["strokes", "cuts", "joins"]) {
    if (told[kind]) out[kind] = told[kind].map((/** @type {any} */ one) => ({ ...one, points: one.points.map(move) }));
  }
  if (told.parts) out.parts = told.parts.map((/** @type {any} */ one) => ({ ...one, a: move(one.a), b: move(one.b) }));
  return out;
}

/** All places scaled, when the kept photo has another size than the one that was tapped.
 * @param {Job} job @param {number} k @returns {Job} */
export function scaled(job, k) {
  /** @param {Point | null} p @returns {any} */
  const move = (p) => (p ? [p[0] * k, p[1] * k] : null);
  return {
    ...job,
    palette: job.palette.map((dough) => ({ ...dough, taps: dough.taps.map(move) })),
    size: { ...job.size, points: job.size.points.map(move) },
    plus: move(job.plus),
    minus: move(job.minus),
    leds: job.leds.map((led) => ({ ...led, long_leg: move(led.long_leg), short_leg: move(led.short_leg) })),
    base: scaledBase(job.base, k),
  };
}
