// @ts-check
/** What if, on the picture: how each light would be over its body, legs and leads to drag, a line to draw. */

import { lineMarks } from "../correction-marks.js";
import { svg } from "../dom.js";
import { entryMarks } from "../entry-marks.js";
import { bounds, middle, turned } from "../geometry.js";
import { wideLamp } from "../lamp.js";
import { simplified } from "../lines.js";
import { mark, outlines } from "../marks.js";
import { zoomPlates } from "../plates.js";
import { add, patch, pull, stand } from "../trials.js";
import { entryOf, partOf, shownJob, targetOf } from "../what-if.js";
import { say } from "../words.js";
import { entryWords, ledsOf } from "./what-if-words.js";

/** @typedef {import("../geometry.js").Point} Point */

const MOST_POINTS = 200; // of a cut that is tried
const HIGH = 30; // of the mark over an LED
const ENTRY = 24; // a leg or lead that stays free to be taken hold of
const LEADS = ["pack.plus", "pack.minus"];
const FOOT = 0.2; // share of the height of the sculpture
const ROUNDS = 30; // in which marks that cover each other move apart

/** @type {import("./screen.js").Picture} */
export const picture = {
  taps: true,
  room: 0.12,
  extent,
  tappable: ({ trying: { tool, aim } }) => tool === "cut" || aim !== null,
  tap,
  spots,
  move: (app, key, to) => isBody(app.state(), key) || add(app, { do: "move", entry: entryOf(key), to }),
  choose: (app, key) => patch(app, { chosen: isBody(app.state(), key) ? key : chosenBy(app, key), note: "" }),
  remove: (app, key) => pull(app, isBody(app.state(), key) ? key : chosenBy(app, key)),
  pen: ({ trying: { tool } }) => (tool === "cut" ? { kind: "cut", width: 0, look: "" } : null),
  drawn: (app, line) => add(app, { do: "cut", points: few(line) }),
  lamp: (_state, body) => ({ ...wideLamp(body), dark: 0.3 }),
  lines: ({ inspection }) => outlines(inspection.report.pieces),
  marks,
  plates: zoomPlates,
};

/** Some room at the foot, where the plates stand. @param {any} state @returns {Point[]} */
function extent({ inspection }) {
  const { x, y, h } = bounds(inspection.report.pieces.flatMap((/** @type {any} */ one) => one.outline));
  return [[x, y + h * (1 + FOOT)]];
}

/** @param {any} app @param {Point} at */
function tap(app, at) {
  const { aim } = app.state().trying;
  if (aim) add(app, { do: "move", entry: aim, to: at });
}

/** The line with no more points than are taken. @param {Point[]} line @returns {Point[]} */
function few(line) {
  let out = line;
  for (let off = 1; out.length > MOST_POINTS; off *= 1.5) out = simplified(line, off);
  return out;
}

/** @param {any} state */
function spots(state) {
  if (state.trying.tool === "cut" || state.trying.aim) return [];
  const { at, out } = stand(state);
  const entries = Object.entries(at).filter(([name]) => !out.includes(partOf(name)))
    .map(([name, place]) => ({ key: targetOf(name), at: place }));
  const bodies = state.inspection.case.leds.map((/** @type {any} */ { id }) => {
    const [x, y] = bodyOf(at, id);
    const [dx, dy] = aside.get(id) ?? [0, 0];
    return { key: id, at: /** @type {Point} */ ([x + dx, y + dy]) };
  });
  return [...bodies, ...entries];
}

/** Whether a key of the picture is an LED, not a leg or lead. @param {any} state @param {string} key */
const isBody = (state, key) => state.inspection.case.leds.some((/** @type {any} */ led) => led.id === key);

/** The LED or part of a leg that was tapped; a lead leaves it as it was. @param {any} app @param {string} key */
const chosenBy = (app, key) => (key.includes(".") ? partOf(key) : app.state().trying.chosen);

/** @param {Record<string, Point>} at @param {string} id @returns {Point} */
const bodyOf = (at, id) => middle(at[`${id}.long`], at[`${id}.short`]);

/** How far the mark of each LED was moved aside when it was drawn last, in photo pixels. @type {Map<string, Point>} */
let aside = new Map();
/** How each LED was shown last: only a light that changes fades. @type {Map<string, string>} */
let shown = new Map();

/** @param {string} id */
const wordsWide = (id) => Math.max(18, 6 + id.length * 7.6);

/** Steps in CSS pixels by which marks as wide as their names move, so that none covers another or what is `fixed`.
 * @param {{id: string, at: Point}[]} bodies in CSS pixels @param {Point[]} fixed middles of other marks
 * @returns {Map<string, Point>} */
export function apart(bodies, fixed) {
  const own = bodies.map(({ id, at }) => ({ id, from: at, x: at[0], y: at[1], w: wordsWide(id) + 32, h: HIGH + 2, free: 1 }));
  const still = fixed.map(([x, y]) => ({ x, y, w: ENTRY, h: ENTRY, free: 0 }));
  for (let round = 0; round < ROUNDS; round += 1) {
    for (const [i, one] of own.entries()) for (const other of [...own.slice(i + 1), ...still]) part(one, other);
  }
  return new Map(own.map(({ id, from, x, y }) => [id, [x - from[0], y - from[1]]]));
}

/** Two boxes moved so far that they just touch, the shorter way. @param {any} a @param {any} b `free` is 0 for one that stays */
function part(a, b) {
  const [dx, dy] = [b.x - a.x, b.y - a.y];
  const [over, under] = [(a.w + b.w) / 2 - Math.abs(dx), (a.h + b.h) / 2 - Math.abs(dy)];
  if (over <= 0 || under <= 0) return;
  const [axis, gap, way] = under <= over ? ["y", under, dy] : ["x", over, dx];
  const step = ((way < 0 ? -1 : 1) * gap) / (a.free + b.free);
  a[axis] -= step * a.free;
  b[axis] += step * b.free;
}

/** Leads, legs, and over the body of each LED how it would be: the photo shows the old light.
 * @param {any} state @param {number} scale @param {import("../geometry.js").View} view */
function marks(state, scale, view) {
  const { trying, inspection } = state;
  const now = stand(state);
  const turn = view.turn ?? 0;
  const free = (trying.answer?.free ?? []).map((/** @type {any} */ one) => [targetOf(one.parts[0]), say("whatif_free")]);
  const told = {
    missed: new Map(free), chosen: (/** @type {string} */ key) => entryOf(key) === trying.aim, tags: false,
    names: (/** @type {string} */ key) => entryWords(entryOf(key)),
  };
  const draw = (/** @type {(id: string) => boolean} */ which, /** @type {boolean} */ leads) =>
    entryMarks(shownJob(now, inspection.case, which, leads), { scale, view }, told);
  const toldOf = new Map(ledsOf(state).map((/** @type {any} */ led) => [led.id, led.then.state]));
  const ids = inspection.case.leds.map((/** @type {any} */ led) => led.id);
  const looks = new Map(ids.map((/** @type {string} */ id) => [id, now.out.includes(id) ? "out" : toldOf.get(id) ?? "off"]));
  const onScreen = (/** @type {Point} */ [x, y]) => turned([x / scale, y / scale], turn);
  const held = [...LEADS, `${trying.chosen}.long`, `${trying.chosen}.short`].filter((name) => now.at[name] && !now.out.includes(partOf(name)));
  const steps = apart(ids.map((/** @type {string} */ id) => ({ id, at: onScreen(bodyOf(now.at, id)) })), held.map((name) => onScreen(now.at[name])));
  aside = new Map([...steps].map(([id, [dx, dy]]) => [id, turned([dx * scale, dy * scale], -turn)]));
  const bodies = ids.map((/** @type {string} */ id) => body(bodyOf(now.at, id), id, {
    state: /** @type {string} */ (looks.get(id)), step: /** @type {Point} */ (steps.get(id)), chosen: id === trying.chosen,
    fresh: shown.has(id) && shown.get(id) !== looks.get(id),
  }));
  shown = /** @type {Map<string, string>} */ (looks);
  const knives = now.cuts.flatMap((points) => lineMarks({ kind: "cut", width: 0, look: "", points }));
  // The legs of the chosen LED stay on top, so that a finger finds them; their tails go under its mark.
  const chosen = draw((id) => id === trying.chosen, false);
  const onTop = (/** @type {any} */ node) => node.classList.contains("entry");
  return [...knives, ...draw((id) => id !== trying.chosen, true), ...chosen.filter((node) => !onTop(node)), ...bodies, ...chosen.filter(onTop)];
}

/** @param {Point} at @param {string} id @param {{state: string, step: Point, chosen: boolean, fresh: boolean}} how */
function body(at, id, { state, step, chosen, fresh }) {
  const words = wordsWide(id);
  const wide = words + 30;
  const kind = ["lit", "light", chosen && "picked", state === "out" && "gone", fresh && "fresh"].filter(Boolean).join(" ");
  const far = Math.hypot(...step) > HIGH / 2; // the mark no longer covers the LED: a thread leads to it
  const one = mark(at,
    far && svg("path", { class: "case", d: `M0 0L${step.join(" ")}` }), far && svg("path", { class: "core", d: `M0 0L${step.join(" ")}` }),
    svg("g", { class: kind, transform: `translate(${step.join(" ")})` },
      svg("rect", { class: "tagbox", x: -wide / 2, y: -HIGH / 2, width: wide, height: HIGH, rx: 3 }),
      svg("text", { x: -wide / 2 + 4 + words / 2 }, id),
      svg("use", { href: `#led-${state}`, x: wide / 2 - 28, y: -12, width: 24, height: 24 })));
  one.dataset.key = id;
  one.classList.add("entry");
  one.setAttribute("tabindex", "0");
  one.setAttribute("role", "button");
  one.setAttribute("aria-pressed", String(chosen));
  one.setAttribute("aria-label", `${id} ${say(`whatif_look_${state}`)}`);
  return one;
}
