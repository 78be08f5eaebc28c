// @ts-check
/**
 * Which lights are on; then the next check: what we see, what to do, how long it takes; an answer is one tap. Then what
 * it may be.
 */

import { el, plate, svg, symbol } from "../dom.js";
import { inside } from "../geometry.js";
import { narrowLamp, wideLamp } from "../lamp.js";
import { entriesOf } from "../entry-marks.js";
import { dropUnderside, hasUnderside, takeUnderside, undersideTold } from "../underside.js";
import { say } from "../words.js";
import { alarm } from "./answer.js";
import { asksLights, lightMarks, lightPlace, lightsState, whichLights } from "./which-lights.js";

const MOST_LETTERS = 45; // of the sentence on top
const FEW_LETTERS = 21; // so short a sentence needs the next one to be understood
const MOST_SUSPECTS = 5;
const LEAST = 0.05; // less likely than this is no pea
const PEAS = 10;
const SIGNS = /** @type {Record<string, string>} */ ({
  all: "level-good", lights: "led-dim", bright: "led-bright", dim: "led-dim", dark: "led-off", across: "answer-across",
  nothing: "answer-nothing", change: "answer-change", same: "answer-same", unsure: "answer-unsure",
});
const OF_LUMPS = ["pinch-apart", "press-together", "knead"];

/** @type {import("./screen.js").Screen} */
export const check = {
  tell,
  step: 3,
  back: "answer",
  tied: true,
  alarm,
  state: { asked: null, pending: null, checkNote: "", checkPick: null, ...lightsState },
  picture: {
    room: 0.12,
    marks: (state, scale, view) => (asksLights(state) ? lightMarks(state, scale, view) : marks(state, scale)),
    lamp: (state, body) => {
      const at = asksLights(state) ? lightPlace(state) : shownPlace(state);
      return at ? narrowLamp(at, body) : wideLamp(body);
    },
    overlay: (state) => ({ finding: null, layers: layersOf(state), level: "do", remedy: null, when: "now" }),
    thread: (state) => {
      const at = !asksLights(state) && shownPlace(state);
      return at ? { at, words: "" } : null;
    },
  },
};

/** @param {any} app */
function tell(app) {
  if (asksLights(app.state())) return whichLights(app);
  const { inspection, checkNote, pending, loose, level } = app.state();
  const { report } = inspection;
  const asked = askedOf(app.state());
  const note = pending && loose ? say("check_kept") : checkNote;
  return {
    words: [
      el("article", { class: "slip answer checking" }, ...(asked ? question(app, asked) : verdict(report))),
      note && el("p", { class: "note soft", role: "status" }, note),
      asked && answers(app, asked),
      below(app, asked),
      el("div", { class: "more-found" }, level === "do" && suspects(report, inspection.case.age), soFar(app, report), asked && others(app, report)),
    ],
    foot: asked ? [] : [
      plate(say("done"), () => app.lookAgain(), { kind: "main" }),
    ],
  };
}

/** Whether the dialogue is the main thing: a light is seen to be other than it should, and the photo shows nothing to
 * mend. @param {any} inspection */
export const isMain = ({ report, case: told }) => Boolean(report.enquiry)
  && (report.checked.length > 0 || told.leds.some((/** @type {any} */ led) => led.seen))
  && report.findings.every((/** @type {any} */ one) => one.level === "watch" || one.code === "seen-differs");

/** The check that is shown: the best one, or another that the helper chose. @param {any} state */
function askedOf({ inspection, checkPick }) {
  const { next_check: best, other_checks: rest } = inspection.report;
  return best && ([best, ...rest].find((one) => keyOf(one) === checkPick) ?? best);
}

/** @param {any} one */
const keyOf = (one) => `${one.action} ${one.parts.join(" ")}`;

/** Where the check is made, or what was named lies. @param {any} state */
const placeOf = (state) => (askedOf(state) ?? state.inspection.report.named[0])?.at ?? null;

/** The same, where the level shows it. @param {any} state */
const shownPlace = (state) => (state.level === "ask" ? null : placeOf(state));

/** Lumps by their letters, where lumps are spoken of. @param {any} state */
function layersOf(state) {
  if (asksLights(state)) return []; // how the lights look by the sums would answer the question
  if (state.level === "ask") return ["lights"];
  const asked = askedOf(state);
  const parts = (asked ?? state.inspection.report.named[0])?.parts ?? [];
  const ofLumps = asked ? OF_LUMPS.includes(asked.action) : parts.some((/** @type {string} */ part) => /^[A-Z]+$/.test(part));
  return ofLumps ? ["lights", "lumps"] : ["lights"];
}

/** The leads and the LEDs that the check is about, or where their legs are to be held beside the leads.
 * @param {any} state @param {number} scale */
function marks(state, scale) {
  const asked = state.level !== "ask" && (askedOf(state) ?? state.inspection.report.named[0]);
  const doughs = (state.pieces ?? []).filter((/** @type {any} */ piece) => piece.role === "conductive");
  const isDough = (/** @type {import("../geometry.js").Point} */ at) =>
    doughs.some((/** @type {any} */ piece) => inside(piece.outline, at));
  return entriesOf(state.job, asked ? asked.parts : [], (asked && asked.to_at) || [], isDough, scale);
}

/** @param {any} app @param {any} asked */
function question(app, asked) {
  const { inspection, level } = app.state();
  const soft = (/** @type {string} */ text) => el("p", { class: "label soft" }, text);
  if (level !== "do") { // `look` adds where, on the picture
    return [soft(say("check_ask")), el("h1", { class: "say" }, asked.ask),
      plate(say("check_tell"), () => app.setLevel("do"), { kind: "quiet" })];
  }
  const best = asked === inspection.report.next_check;
  return [soft(asked.why), ...told(asked.do), soft(howLong(asked.seconds, best, inspection.case.age))];
}

/** As many sentences on top as fit, the rest below. @param {string} text */
function told(text) {
  const all = text.split(/(?<=[.?؟])\s+/);
  const most = all[0].length <= FEW_LETTERS ? 1.4 * MOST_LETTERS : MOST_LETTERS;
  let n = 1;
  while (n < all.length && all.slice(0, n + 1).join(" ").length <= most) n += 1;
  const rest = all.slice(n).join(" ");
  return [el("h1", { class: "say" }, all.slice(0, n).join(" ")), rest && el("p", { class: "do" }, rest)];
}

/** @param {string} text */
function inShort(text) {
  const all = text.split(/(?<=[.?؟])\s+/);
  return all.slice(0, all[0].length <= FEW_LETTERS ? 2 : 1).join(" ");
}

/** @param {number} seconds @param {boolean} best @param {string} age */
function howLong(seconds, best, age) {
  if (age === "6-8") return say(seconds <= 12 ? "check_quick" : "check_slow");
  return say(best ? "check_seconds_best" : "check_seconds", { seconds: 5 * Math.ceil(seconds / 5) });
}

/** What it may be and what to do, or that it cannot be told. @param {any} report */
function verdict(report) {
  const likely = new Set(report.suspects.filter((/** @type {any} */ one) => one.probability >= LEAST)
    .map((/** @type {any} */ one) => one.says));
  const sets = report.alike.map((/** @type {string[]} */ names) => names.filter((name) => likely.has(name)))
    .filter((/** @type {string[]} */ names) => names.length > 1);
  const sign = (/** @type {string} */ level, /** @type {string} */ key) =>
    el("p", { class: `level ${level}` }, symbol(`level-${level}`), say(key));
  if (report.named.length) {
    return report.named.flatMap((/** @type {any} */ one, /** @type {number} */ i) => [
      i === 0 && (report.worked ? sign("good", "good_title") : one.mended ? sign("good", "check_mended") : sign("fix", "check_named")),
      el(i ? "h2" : "h1", { class: "say" }, one.says), el("p", { class: "do" }, one.do)]);
  }
  const [first, ...rest] = (report.enquiry_says ?? say("quiet_title")).split(/(?<=[.?؟])\s+/);
  return [
    report.worked ? sign("good", "level_good") : sign("watch", "level_watch"),
    el("h1", { class: "say" }, first), rest.length > 0 && el("p", { class: "do" }, rest.join(" ")),
    ...(report.worked ? [] : sets).map((/** @type {string[]} */ names) =>
      el("p", { class: "label alike" }, el("b", {}, say("check_alike")), " ", names.join(say("comma")))),
  ];
}

/** @param {any} app @param {any} asked */
function answers(app, asked) {
  const { pending } = app.state();
  const chosen = pending?.check?.answer;
  return el("div", { class: "answers", role: "group", "aria-label": say("check_answers") },
    ...asked.answers.map((/** @type {any} */ one) => {
      const button = plate(one.says, () => app.answerCheck(asked, one.answer), {
        "aria-pressed": chosen === one.answer ? "true" : null, "data-answer": one.answer,
      });
      button.prepend(symbol(SIGNS[one.answer]));
      return button;
    }));
}

/** Suspects as ten peas, those of one name together. @param {any} report @param {string} age */
function suspects(report, age) {
  const chance = /** @type {Map<string, number>} */ (new Map());
  for (const one of report.suspects) chance.set(one.says, (chance.get(one.says) ?? 0) + one.probability);
  const likely = [...chance].filter(([, p]) => p >= LEAST).sort((a, b) => b[1] - a[1]).slice(0, MOST_SUSPECTS);
  if (report.enquiry === "named" || report.worked || !likely.length) return null;
  const heads = [el("b", {}, say("check_suspects")), el("span", { class: "small soft" }, say(age === "6-8" ? "check_more_peas" : "check_in_ten"))];
  return el("div", { class: "suspects" }, ...heads,
    ...likely.flatMap(([says, p]) => [el("span", {}, says), peas(Math.min(PEAS, Math.max(1, Math.round(p * PEAS))))]));
}

/** @param {number} n */
function peas(n) {
  const one = (/** @type {number} */ i) => svg("circle", { class: i < n ? "on" : "off", cx: 7 + 15 * i, cy: 7, r: 5 });
  return svg("svg", { class: "peas", width: 150, viewBox: "0 0 150 14", role: "img", "aria-label": say("check_peas", { n }) },
    ...Array.from({ length: PEAS }, (_, i) => one(i)));
}

/** Who cannot turn the sculpture over for long may photograph its underside instead. @param {any} app @param {any} asked */
function below(app, asked) {
  const { level } = app.state();
  const told = hasUnderside(app.state()) && undersideTold(app.state());
  if (level !== "do" || !(told || asked?.action === "look-underneath")) return null;
  const take = plate(say(told ? "below_again" : "below_take"), () => takeUnderside(), { "data-key": "below-take" });
  const drop = told && plate(say("below_drop"), () => dropUnderside(app), { "data-key": "below-drop" });
  return el("div", { class: "below" }, told, el("div", { class: "plates" }, take, drop));
}

/** @param {any} app @param {any} report */
function soFar(app, report) {
  if (!report.checked.length) return null;
  return el("section", {}, el("h2", {}, say("check_so_far")),
    el("ol", { class: "checked" }, ...report.checked.map((/** @type {any} */ one) => el("li", {}, one.says))),
    plate(say("check_undo"), () => app.undoCheck(), { "data-undo": "" }));
}

/** Checks that may be made instead, when the best one cannot. @param {any} app @param {any} report */
function others(app, report) {
  const asked = askedOf(app.state());
  const texts = new Set([inShort(asked.do)]);
  const rest = [report.next_check, ...report.other_checks]
    .filter((one) => one !== asked && !texts.has(inShort(one.do)) && texts.add(inShort(one.do)));
  if (!rest.length || app.state().level !== "do") return null;
  return el("section", {}, el("h2", {}, say("check_others")),
    el("div", { class: "answers" }, ...rest.map((/** @type {any} */ one) =>
      plate(inShort(one.do), () => app.set({ checkPick: keyOf(one) }), { kind: "quiet" }))));
}
