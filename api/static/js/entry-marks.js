// @ts-check
/** Draws entries: leads, legs of LEDs, ends of other parts, and ghosts of suggestions. */

import { svg } from "./dom.js";
import { distance, middle, toScreen, turned } from "./geometry.js";
import { entryAt, targets, thing } from "./job.js";
import { cased, mark, open, tag, use } from "./marks.js";
import { say } from "./words.js";

/**
 * @typedef {import("./geometry.js").Point} Point @typedef {import("./job.js").Job} Job
 * @typedef {{scale: number, view: import("./geometry.js").View, hand?: string}} Seen `scale` is photo pixels per CSS
 *   pixel, `hand` the one that the plates of the picture are near to
 * @typedef {{missed: Map<string, string>, chosen: (key: string) => boolean, names: (key: string) => string, tags?: boolean}} Told
 *   `missed`: what is said of entries that miss the dough; `tags` false: LEDs have no tag
 */

const SIGN = 36; // length of the sign of a part, as on the server's pictures
const SMALLEST = 0.6;

/** All entries of the job, and a tag for each LED and part where it covers least. @param {Job} job @param {Seen} seen @param {Told} told */
export function entryMarks(job, seen, told) {
  const keys = targets(job).filter((key) => entryAt(job, key));
  const taken = keys.map((key) => /** @type {Point} */ (entryAt(job, key)));
  const bodies = [...job.leds.flatMap(ledLine), ...job.parts.flatMap((part) => partLine(part, seen.scale))];
  const ends = keys.map((key) => entryMark(job, key, told));
  const misses = keys.filter((key) => told.missed.has(key)).flatMap((key) =>
    placedTag([/** @type {Point} */ (entryAt(job, key))], /** @type {string} */ (told.missed.get(key)), taken, seen, { least: 8 }));
  const named = [...(told.tags === false ? [] : job.leds), ...job.parts].flatMap((one) => placedTag(endsOf(one), nameOf(one), taken, seen));
  return [...bodies, ...ends, ...named, ...misses];
}

/** Only a tag for each of these LEDs. @param {Job} job @param {import("./job.js").Led[]} leds @param {Seen} seen */
export function nameTags(job, leds, seen) {
  const taken = /** @type {Point[]} */ (targets(job).map((key) => entryAt(job, key)).filter(Boolean));
  return leds.flatMap((one) => placedTag(endsOf(one), one.id, taken, seen));
}

/** @param {any} one an LED or a part */
const nameOf = (one) => (one.order === "guess" ? `${one.id}?` : one.id);

/** Where the tag of a thing may be hung: its middle, else one of its ends. @param {any} one @returns {Point[]} */
function endsOf(one) {
  const [a, b] = "kind" in one ? [one.a, one.b] : [one.long_leg, one.short_leg];
  return /** @type {Point[]} */ ([a && b ? middle(a, b) : null, a, b].filter(Boolean));
}

/** One entry, that can be chosen with keys. @param {Job} job @param {string} key @param {Told} told */
function entryMark(job, key, { missed, chosen, names }) {
  const sign = signOf(job, key);
  const off = missed.get(key);
  const one = mark(/** @type {Point} */ (entryAt(job, key)),
    chosen(key) && svg("circle", { class: "chosen", r: off ? 20 : 17 }),
    off ? broken(sign) : use(sign));
  one.classList.add("entry");
  if (off) one.classList.add("missed");
  one.dataset.key = key;
  one.setAttribute("tabindex", "0");
  one.setAttribute("role", "button");
  one.setAttribute("aria-label", off ? `${names(key)}: ${off}` : names(key));
  return one;
}

/** @param {Job} job @param {string} key */
function signOf(job, key) {
  const [id, end] = key.split(".");
  if (!end) return `lead-${id}`;
  if (end === "a" || end === "b") return `end-${end}`;
  return thing(job, id).order === "ask" ? "leg-ask" : end === "long_leg" ? "leg-long" : "leg-short";
}

/** A mark that misses the dough is broken in two along a crack. @param {string} sign */
function broken(sign) {
  const half = (/** @type {string} */ side, /** @type {string} */ move) =>
    svg("g", { transform: move }, svg("g", { "clip-path": `url(#crack-${side})` }, use(sign)));
  return svg("g", { transform: "scale(1.2)" }, half("left", "translate(-3.6 -1.8)"), half("right", "translate(3.6 1.8)"));
}

/** The LED between its legs: a long tail and a short one; dotted while it is not known which is which.
 * @param {import("./job.js").Led} one */
function ledLine({ long_leg: long, short_leg: short, order }) {
  if (!long || !short) return [];
  const body = middle(long, short);
  if (order === "ask") return cased(open([long, short]), "guess");
  const guess = order === "guess" ? "guess" : "";
  return [...cased(open([long, body]), `plus ${guess}`), ...cased(open([short, lerp(short, body, 0.6)]), guess)];
}

/** A part: a thick line from end to end with its sign on it. @param {import("./job.js").Part} part @param {number} k */
function partLine(part, k) {
  const { a, b } = part;
  if (!a || !b) return [];
  const line = [svg("path", { class: "case part-line", d: open([a, b]) }), svg("path", { class: "core part-line", d: open([a, b]) })];
  const sign = part.kind === "wire" ? null : part.kind === "switch" ? `switch-${part.closed === false ? "open" : "closed"}` : part.kind;
  if (!sign) return line;
  const size = Math.min(1, Math.max(SMALLEST, distance(a, b) / k / (SIGN + 18)));
  const on = mark(middle(a, b), svg("g", { transform: `scale(${size})` }, use(sign)));
  // Buzzer and motor stand upright, the others lie along their line.
  if (part.kind === "switch" || part.kind === "resistor") on.dataset.turn = String((Math.atan2(b[1] - a[1], b[0] - a[0]) * 180) / Math.PI);
  return [...line, on];
}

/** Suggestions: dashed and half through, with what they may be. @param {import("./ghosts.js").Ghost[]} ghosts @param {Job} job
 * @param {Seen} seen */
export function ghostMarks(ghosts, job, seen) {
  const taken = targets(job).map((key) => entryAt(job, key)).filter(Boolean);
  const all = /** @type {Point[]} */ ([...taken, ...ghosts.flatMap((one) => one.legs ?? [one.at])]);
  const marks = ghosts.flatMap(({ lead, at, legs }) => {
    if (lead) return [mark(at, use(`lead-${lead}-ghost`))];
    const line = legs ? [svg("path", { class: "case ghost-line", d: open(legs) }), svg("path", { class: "core ghost-line", d: open(legs) })] : [];
    return [...line, ...(legs ?? [at]).map((one) => mark(one, use("leg-ghost")))];
  });
  const names = ghosts.flatMap(({ lead, at, legs, colour }) =>
    placedTag(legs ? [middle(...legs), ...legs] : [at], say(lead ? `ghost_${lead}` : colour ? `ghost_${colour}` : "ghost_led"), all, seen, { kind: "ghost-tag" }));
  return [...marks, ...names];
}

/** Both leads, and the legs of these LEDs where they are; or `beside` each lead, in the dough there, as they are
 * to be held. @param {Job} job @param {string[]} ids @param {Point[]} beside
 * @param {(at: Point) => boolean} isDough @param {number} k photo pixels per CSS pixel */
export function entriesOf(job, ids, beside, isDough, k) {
  const legs = beside.length ? [] : job.leds.filter((one) => ids.includes(one.id)).flatMap((one) => [
    ...ledLine(one),
    ...["long", "short"].flatMap((leg) => {
      const at = entryAt(job, `${one.id}.${leg}_leg`);
      return at ? [mark(at, use(`leg-${leg}`))] : [];
    }),
  ]);
  const leads = ["plus", "minus"].flatMap((key) => {
    const at = entryAt(job, key);
    return at ? [mark(at, use(`lead-${key}`))] : [];
  });
  const held = beside.map((at, i) => {
    const [dx, dy] = ASIDE.find(([x, y]) => isDough([at[0] + x * k, at[1] + y * k])) ?? ASIDE[0];
    return mark(at, svg("g", { transform: `translate(${dx} ${dy})` }, use(i ? "leg-short" : "leg-long")));
  });
  return [...legs, ...leads, ...held];
}
const ASIDE = /** @type {Point[]} */ ([[25, 0], [-25, 0], [0, 25], [0, -25]]);

/** A tag hung on the one of `ends`, on the side, where the other marks are farthest; it then counts as taken.
 * @param {Point[]} ends @param {string} words @param {Point[]} taken @param {Seen} seen
 * @param {{kind?: string, least?: number}} [how] with less room than `least` it is left out */
function placedTag(ends, words, taken, { scale, view, hand }, { kind = "", least = -1 } = {}) {
  if (!ends.length) return [];
  const size = { w: view.w / scale, h: view.h / scale };
  const seen = { ...size, left: hand === "left" };
  const turn = view.turn ?? 0;
  const half = Math.max(17, 8 + words.length * 3.8);
  const ring = /** @type {Point[]} */ ([
    [0, -30], [half + 18, 0], [-half - 18, 0], [0, 30], [half + 12, -24], [-half - 12, -24], [half + 12, 24], [-half - 12, 24],
  ]);
  const onScreen = (/** @type {Point} */ at) => toScreen(view, size, at);
  const others = taken.map(onScreen);
  const spots = ends.flatMap((end) => {
    const [x, y] = onScreen(end);
    return ring.map((step) => ({ end, step, free: room([x + step[0], y + step[1]], half, others, seen) }));
  });
  const best = spots.reduce((a, b) => (b.free > a.free + 2 ? b : a));
  if (best.free < least) return [];
  const [dx, dy] = turned(best.step, -turn);
  for (const share of half > 40 ? [-0.6, 0, 0.6] : [0]) {
    const [sx, sy] = turned([half * share, 0], -turn);
    taken.push([best.end[0] + (dx + sx) * scale, best.end[1] + (dy + sy) * scale]);
  }
  const one = mark(best.end, tag(words, ...best.step));
  if (kind) one.classList.add(kind);
  return [one];
}

const PLATES = { w: 166, h: 62 }; // in a lower corner stand the plates of the picture

/** CSS pixels from a tag, half so wide, to the nearest mark, at most 32: farther is no better; less where it would not
 * be seen. @param {Point} at @param {number} half @param {Point[]} others
 * @param {{w: number, h: number, left: boolean}} seen `left`: the plates stand there */
function room([tx, ty], half, others, { w, h, left }) {
  const out = tx < half || tx > w - half || ty < 14 || ty > h - 14;
  const aside = left ? tx - half < PLATES.w : tx + half > w - PLATES.w;
  if (out || (aside && ty + 12 > h - PLATES.h)) return -1;
  const beyond = (/** @type {number} */ gap) => Math.max(0, Math.abs(gap) - (half - 17));
  return Math.min(32, ...others.map(([x, y]) => Math.hypot(beyond(x - tx) * 0.8, y - ty)));
}

/** @param {Point} a @param {Point} b @param {number} t @returns {Point} */
const lerp = (a, b, t) => [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];
