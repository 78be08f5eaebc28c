// @ts-check
/**
 * Two phones, one sculpture: what both have told since they last agreed, put together. No DOM, no network here.
 * Nothing that was entered is lost: only where both changed the very same thing the later one, `mine`, wins.
 */

/** Places of an LED or another part; as long as none is told, the thing is only a wish to add one. */
const PLACES = ["long_leg", "short_leg", "a", "b"];
/** Lists that are one answer: an end of a line means nothing without the other end. */
const WHOLE = ["points", "rgb", "sides_mm"];

/** @param {any} value */
const isObject = (value) => value !== null && typeof value === "object" && !Array.isArray(value);

/** A job is never changed in place, and most of it is shared by all steps of undo: each part is written out once. */
/** @type {WeakMap<object, string>} */ const written = new WeakMap();

/** The same text for the same things, in whatever order their fields stand. @param {any} value @returns {string} */
export function asText(value) {
  if (value === null || typeof value !== "object") return JSON.stringify(value ?? null);
  let text = written.get(value);
  if (text === undefined) written.set(value, (text = write(value)));
  return text;
}

/** @param {any} value */
function write(value) {
  if (Array.isArray(value)) return `[${value.map(asText).join()}]`;
  const told = Object.keys(value).filter((key) => value[key] !== undefined && value[key] !== null).sort();
  return `{${told.map((key) => `${JSON.stringify(key)}:${asText(value[key])}`).join()}}`;
}

/** @param {any} a @param {any} b */
export const same = (a, b) => a === b || asText(a) === asText(b);

/**
 * @template T
 * @param {T} base what both knew @param {T} mine @param {T} theirs
 * @returns {{job: T, renamed: Record<string, string>}} `renamed`: my LEDs and parts whose name the other one took, too
 */
export function merge(base, mine, theirs) {
  /** @type {Record<string, string>} */ const renamed = {};
  /** @type {any} */ const own = { ...mine };
  for (const list of ["leds", "parts"]) {
    if (own[list]) own[list] = apart(/** @type {any} */ (base), own, /** @type {any} */ (theirs), list, renamed);
  }
  const job = /** @type {any} */ (joined(base, own, theirs, ""));
  return { job: orderedLike(mine, job), renamed };
}

/** My things under other names where both phones used one name for two things.
 * @param {any} base @param {any} mine @param {any} theirs @param {string} list @param {Record<string, string>} renamed */
function apart(base, mine, theirs, list, renamed) {
  const find = (/** @type {any} */ job, /** @type {string} */ id) => job?.[list]?.find((/** @type {any} */ one) => one.id === id);
  const taken = new Set([base, mine, theirs].flatMap((job) => ["leds", "parts"].flatMap((of) => job?.[of] ?? [])).map((one) => one.id));
  return mine[list].map((/** @type {any} */ one) => {
    const [before, other] = [find(base, one.id), find(theirs, one.id)];
    const untouched = !before || PLACES.every((place) => !before[place]);
    if (!other || !untouched || !PLACES.some((place) => one[place] && other[place] && !same(one[place], other[place]))) return one;
    const id = freeName(one.id, taken);
    taken.add(id);
    renamed[one.id] = id;
    return { ...one, id };
  });
}

/** @param {string} id @param {Set<string>} taken */
function freeName(id, taken) {
  const letters = id.replace(/\d+$/, "");
  let n = 1;
  while (taken.has(`${letters}${n}`)) n += 1;
  return `${letters}${n}`;
}

/** @param {any} base @param {any} mine @param {any} theirs @param {string} name of the field @returns {any} */
function joined(base, mine, theirs, name) {
  if (same(mine, base) || same(mine, theirs)) return theirs;
  if (same(theirs, base)) return mine;
  if (name === "size" && (mine?.kind ?? null) !== (theirs?.kind ?? null)) return mine;
  if (isObject(mine) && isObject(theirs)) return joinedObject(isObject(base) ? base : {}, mine, theirs);
  const lists = Array.isArray(mine) && Array.isArray(theirs);
  return lists && !isPoint(mine) && !WHOLE.includes(name) ? joinedList(Array.isArray(base) ? base : [], mine, theirs) : mine;
}

/** @param {any[]} value */
const isPoint = (value) => value.length > 0 && value.every((one) => typeof one === "number");

/** @param {any} base @param {any} mine @param {any} theirs */
function joinedObject(base, mine, theirs) {
  /** @type {any} */ const out = {};
  for (const key of new Set([...Object.keys(theirs), ...Object.keys(mine)])) {
    const value = joined(base[key], mine[key], theirs[key], key);
    if (value !== undefined) out[key] = value;
  }
  return out;
}

/** Item by item: by id, by name, else by all that it is. @param {any[]} base @param {any[]} mine @param {any[]} theirs */
function joinedList(base, mine, theirs) {
  const [before, own, others] = [base, mine, theirs].map((list) => new Map(list.map((one) => [keyOf(one), one])));
  /** @type {[string, any][]} */ const out = [];
  for (const [key, one] of others) {
    if (own.has(key)) out.push([key, joined(before.get(key), own.get(key), one, "")]);
    // Taken out here: it stays out, unless the other phone has changed it since.
    else if (!before.has(key) || !same(one, before.get(key))) out.push([key, one]);
  }
  let last = -1;
  for (const [key, one] of own) {
    const at = out.findIndex(([name]) => name === key);
    if (at >= 0) last = at;
    else if (!before.has(key)) out.push([key, one]);
    else if (!same(one, before.get(key))) out.splice((last += 1), 0, [key, one]);
  }
  return out.map(([, one]) => one);
}

/** What an item is known by. A dough that was renamed keeps its first name as `id`. @param {any} one @returns {string} */
export const keyOf = (one) => (isObject(one) ? one.id ?? one.name : null) ?? asText(one);

/** The fields in my order, so that what did not change reads the same. @param {any} like @param {any} job */
function orderedLike(like, job) {
  const keys = [...new Set([...Object.keys(like), ...Object.keys(job)])].filter((key) => key in job);
  return Object.fromEntries(keys.map((key) => [key, job[key]]));
}

/**
 * What the other phone has changed, by name: `L2`, or one of the fields of the job.
 * @param {any} base @param {any} theirs @returns {{kind: string, name: string}[]}
 */
export function changedThings(base, theirs) {
  /** @type {{kind: string, name: string}[]} */ const out = [];
  for (const key of new Set([...Object.keys(theirs), ...Object.keys(base)])) {
    if (same(base[key], theirs[key])) continue;
    if (!["leds", "parts", "palette"].includes(key)) out.push({ kind: key, name: "" });
    else out.push(...changedItems(base[key] ?? [], theirs[key] ?? []).map((one) => ({ kind: key, name: one.name ?? one.id })));
  }
  return out;
}

/** @param {any[]} base @param {any[]} theirs @returns {any[]} */
function changedItems(base, theirs) {
  const [before, after] = [base, theirs].map((list) => new Map(list.map((one) => [keyOf(one), one])));
  const keys = new Set([...before.keys(), ...after.keys()]);
  return [...keys].filter((key) => !same(before.get(key), after.get(key))).map((key) => after.get(key) ?? before.get(key));
}
