// @ts-check
/** Entries: the leads, then the legs of each LED, then the ends of other parts; suggestions as ghosts. */

import { el, plate, symbol } from "../dom.js";
import { entryMarks, ghostMarks } from "../entry-marks.js";
import { distance } from "../geometry.js";
import { ghostsOf, takenAll, takenAt } from "../ghosts.js";
import { entryAt, lacking, newLed, nextTarget, targets, thing, turnedRound, withEntry, withThing } from "../job.js";
import { missOf } from "../misses.js";
import { zoomPlates } from "../plates.js";
import { say } from "../words.js";
import { beads } from "./beads.js";
import { card } from "./cards.js";
import { openParts } from "./parts.js";

/** @typedef {import("../geometry.js").Point} Point */

const GHOST_CSS = 14; // a tap so near a ghost means the ghost
const TOUCH_CSS = 28;
const SAME_CSS = 5; // no two legs of an LED stand so close: the thumb tapped twice

/** @type {import("./screen.js").Screen} */
export const entries = {
  tell,
  step: 2,
  back: "colours",
  // target: what is asked for now; led: the LED or part whose card is open; mark: the entry chosen on the picture
  state: { target: "plus", led: null, mark: null, ghostsOff: false },
  picture: {
    taps: true,
    room: 0.08,
    tappable: ({ target }) => target !== null,
    tap,
    touch,
    choose,
    remove,
    extent: (state) => ghosts(state).flatMap((one) => one.legs ?? [one.at]),
    spots: ({ job }) => targets(job).flatMap((key) => {
      const at = entryAt(job, key);
      return at ? [{ key, at }] : [];
    }),
    move,
    marks: (state, scale, view) => [
      ...ghostMarks(ghosts(state), state.job, { scale, view, hand: state.hand }),
      ...entryMarks(state.job, { scale, view, hand: state.hand }, {
        missed: missed(state), chosen: (key) => isChosen(state, key), names: (key) => nameOf(state.job, key),
      }),
    ],
    plates: zoomPlates,
  },
};

/** The sentence that asks for an entry. @param {any} job @param {string} key */
export function asking(job, key) {
  const [id, end] = key.split(".");
  const buzzer = thing(job, id)?.kind === "buzzer" ? "_buzzer" : "";
  return say(`entries_${end ?? id}${buzzer}`, { id });
}

/** @param {any} job @param {string} key */
function nameOf(job, key) {
  const [id, end] = key.split(".");
  if (!end) return say(id);
  return say(`${end}${thing(job, id)?.kind === "buzzer" ? "_buzzer" : ""}`, { id });
}

/** Lit is the mark that was chosen, and the legs of which one is asked for. @param {any} state @param {string} key */
const isChosen = ({ mark, target }, key) => key === mark || Boolean(target?.endsWith(".order") && ofTarget(key) === ofTarget(target));

/** @param {any} state */
const reportOf = (state) => state.looked ?? state.inspection?.report ?? null;

/** What was suggested and neither told nor refused. @param {any} state */
const ghosts = (state) => (state.ghostsOff ? [] : ghostsOf(state.job, reportOf(state)));

/** What is said of each entry that misses the dough. @param {any} state @returns {Map<string, string>} */
function missed(state) {
  const known = { pieces: state.pieces, photo: reportOf(state)?.photo ?? null };
  const told = targets(state.job).flatMap((key) => {
    const at = entryAt(state.job, key);
    const miss = at && missOf(known, key, at);
    if (!miss) return [];
    const { wall, near, mm } = miss;
    const words = wall ? say("loupe_wall", { name: wall.colour })
      : mm === null ? say("miss_beside", { name: near?.colour }) : say("miss_beside_mm", { mm: Math.max(1, Math.round(mm)), name: near?.colour });
    return [/** @type {[string, string]} */ ([key, words])];
  });
  return new Map(told);
}

/** @param {any} app */
function tell(app) {
  const state = app.state();
  const { job, target, led, mark } = state;
  const chosen = thing(job, led) ?? (mark === "plus" || mark === "minus" ? { id: mark } : null);
  const misses = missed(state);
  const title = target ? asking(job, target) : say("entries_all");
  return {
    words: [
      el("div", { class: "intro" }, el("h1", { class: "say" }, title), help(state, misses)),
      beads(app, misses),
      chosen && card(app, chosen),
      el("div", { class: "plates entry-more" },
        plate(say("part_add"), () => openParts(app), { kind: "quiet", disabled: job.parts.length >= 30 }),
        ...offers(app)),
    ],
    foot: [
      el("div", { class: "three-plates" },
        plate(say("undo"), () => back(app, app.undo), { disabled: !app.canUndo() }),
        plate(say("redo"), () => back(app, app.redo), { disabled: !app.canRedo() }),
        target?.endsWith(".order")
          ? plate(say("entries_unsure"), () => ordered(app, withThing(job, target.split(".")[0], { order: "guess" })))
          : plate(say("entries_add"), () => addLed(app), { disabled: job.leds.length >= 60 })),
      mainPlate(app),
    ],
  };
}

/** What to do besides the title: first what misses, then how. @param {any} state @param {Map<string, string>} misses */
function help({ job, target, led }, misses) {
  const first = [...misses.keys()].find((key) => key.split(".")[0] === led) ?? [...misses.keys()][0];
  if (first) {
    return el("p", { class: "label miss" }, symbol("level-fix", "level fix"),
      el("span", {}, say("miss_told", { what: nameOf(job, first), where: misses.get(first) })));
  }
  if (led && !target) return null;
  const how = !target ? "entries_drag" : target.endsWith(".order") ? "entries_order_how"
    : target.includes(".") || target === "minus" ? "entries_loupe" : "entries_where";
  return el("p", { class: "label soft" }, say(how));
}

/** Ghosts are taken with the main plate as long as something lacks, else with a plain one; and all may be refused. @param {any} app */
function offers(app) {
  const seen = ghosts(app.state());
  const sure = seen.filter((one) => one.sure);
  return seen.length ? [
    !lacking(app.state().job) && sure.length && plate(say("ghosts_take", { n: sure.length }), () => takeAll(app, sure), { kind: "quiet" }),
    plate(say("ghosts_leave"), () => app.set({ ghostsOff: true }), { kind: "quiet" }),
  ] : [];
}

/** @param {any} app */
function mainPlate(app) {
  const { job } = app.state();
  const lacks = lacking(job);
  const sure = ghosts(app.state()).filter((one) => one.sure);
  if (lacks && sure.length) return plate(say("ghosts_take", { n: sure.length }), () => takeAll(app, sure), { kind: "main" });
  return plate(say("entries_find"), () => (lacks ? missing(app, lacks) : app.inspect()),
    { kind: "main", "aria-disabled": String(Boolean(lacks)) });
}

/** The LED or part of a target. @param {string | null} key */
const ofTarget = (key) => (key?.includes(".") ? key.split(".")[0] : null);

/** Asks for what comes next, and says so. @param {any} app @param {string | null} then @param {string | null} [led] whose card is open */
function ask(app, then, led = ofTarget(then)) {
  app.set({ target: then, led, mark: null });
  if (then) app.speak(asking(app.state().job, then));
}

/** @param {any} app @param {string} lacks */
function missing(app, lacks) {
  app.set({ target: lacks, led: ofTarget(lacks), mark: null });
  app.speak(say("entries_lacks", { what: asking(app.state().job, lacks) }));
}

/** @param {any} app @param {import("../ghosts.js").Ghost[]} sure */
function takeAll(app, sure) {
  app.edit(takenAll(app.state().job, sure));
  ask(app, nextTarget(app.state().job));
}

/** A step back or forth: what is open then is asked for. @param {any} app @param {() => void} step */
function back(app, step) {
  step();
  const { job, led, mark } = app.state();
  const target = nextTarget(job);
  app.set({ target, led: ofTarget(target) ?? (thing(job, led) ? led : null), mark: !target && mark && entryAt(job, mark) ? mark : null });
}

/** @param {any} app */
function addLed(app) {
  const { job } = app.state();
  const one = newLed(job.leds, job.parts);
  app.edit({ ...job, leds: [...job.leds, one] });
  app.set({ target: nextTarget(app.state().job, `${one.id}.long_leg`), led: one.id, mark: null });
}

/** It has been said which leg is the long one, or that nobody can tell. @param {any} app @param {any} job */
function ordered(app, job) {
  app.edit(job);
  const next = nextTarget(job);
  ask(app, next, ofTarget(next) ?? app.state().led);
}

/** A tap for what is asked: which leg, a ghost, or a place. @param {any} app @param {Point} at @param {number} scale */
function tap(app, at, scale) {
  const { job, target } = app.state();
  if (!target) return;
  if (target.endsWith(".order")) return ordered(app, withLong(job, target.split(".")[0], at));
  const twin = targets(job).map((key) => key.split(".")[0] === target.split(".")[0] && entryAt(job, key)).find(Boolean);
  if (twin && distance(twin, at) < SAME_CSS * scale) return;
  const ghost = takenAt(job, ghosts(app.state()), target, at, GHOST_CSS * scale);
  const next = ghost?.job ?? withEntry(job, target, at);
  app.edit(next);
  const then = nextTarget(next, target);
  const miss = missed(app.state()).get(target);
  app.set({ target: then, led: ofTarget(target) ?? ofTarget(then), mark: null });
  const words = [miss && say("miss_told", { what: nameOf(next, target), where: miss }), then && asking(next, then)];
  if (words.some(Boolean)) app.speak(words.filter(Boolean).join(" "));
}

/** The job with the leg of an LED nearer to a place as the long one. @param {any} job @param {string} id @param {Point} at */
function withLong(job, id, at) {
  const { long_leg: long, short_leg: short } = thing(job, id);
  return distance(short, at) < distance(long, at) ? turnedRound(job, id) : withThing(job, id, { order: null });
}

/** A tap where nothing is asked for: on a ghost it takes it, elsewhere nothing is chosen. @param {any} app @param {Point} at @param {number} scale */
function touch(app, at, scale) {
  const { job } = app.state();
  const ghost = takenAt(job, ghosts(app.state()), null, at, TOUCH_CSS * scale);
  if (!ghost) return app.set({ mark: null, led: null });
  app.edit(ghost.job);
  ask(app, nextTarget(ghost.job, ghost.id && `${ghost.id}.long_leg`), ghost.id);
}

/** A mark was tapped. @param {any} app @param {string} key */
function choose(app, key) {
  const { job, target } = app.state();
  const id = ofTarget(key);
  if (target?.endsWith(".order") && id === ofTarget(target)) {
    return ordered(app, withLong(job, /** @type {string} */ (id), /** @type {Point} */ (entryAt(job, key))));
  }
  app.set({ mark: key, led: id, target: null });
}

/** @param {any} app @param {string} key @param {Point} at */
function move(app, key, at) {
  app.edit(withEntry(app.state().job, key, at));
  const { job, target } = app.state();
  app.set({ mark: key, led: target ? app.state().led : ofTarget(key) });
  const miss = missed(app.state()).get(key);
  if (miss) app.speak(say("miss_told", { what: nameOf(job, key), where: miss }));
}

/** A mark is taken off; its place is asked for again. @param {any} app @param {string} key */
export function remove(app, key) {
  app.edit(withEntry(app.state().job, key, null));
  ask(app, key);
}
