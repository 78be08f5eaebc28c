// @ts-check
/** What is told on demand: a list of plates, of which one is open at a time. */

import { el, plate, symbol } from "../dom.js";
import { flowUrl, pictureUrl, seeingUrl } from "../server.js";
import { dropUnderside, hasUnderside, takeUnderside, undersideTold } from "../underside.js";
import { say } from "../words.js";
import { arrangements, figures } from "./figures.js";
import { notes, others, othersOf, otherwise } from "./found.js";
import { allSteps, otherPlans, planOf, planPicture, plansOf } from "./plans.js";

/**
 * @typedef {object} Detail
 * @property {string} key
 * @property {(state: any) => any} when whether there is anything to tell
 * @property {(app: any) => any[]} [body] what stands below its plate
 * @property {boolean} [hints] it may be told on every level
 * @property {boolean} [marks] it adds something to the photo; on a laptop its plate stands there
 * @property {(state: any) => Record<string, any>} [slots] of its words
 * @property {(state: any) => string | null} [level] of the gravest thing it tells
 */

const LEVELS = ["stop", "fix", "watch"];

/** @param {string[]} levels */
const gravest = (levels) => LEVELS.find((level) => levels.includes(level)) ?? null;

const youngest = (/** @type {any} */ { inspection }) => inspection.case.age === "6-8";

/** @type {Detail[]} */
const DETAILS = [
  { key: "steps", when: (state) => (planOf(state).plan?.steps.length ?? 0) > 1, body: (app) => [allSteps(app)],
    slots: (state) => ({ n: planOf(state).plan.steps.length }) },
  { key: "others", when: (state) => othersOf(state).length, body: (app) => [others(app)], hints: true,
    slots: (state) => ({ n: othersOf(state).length }), level: (state) => gravest(othersOf(state).map(({ one }) => one.level)) },
  { key: "plans", when: (state) => planOf(state).plan && plansOf(state).length > 1, body: (app) => [otherPlans(app)] },
  { key: "check", when: ({ inspection }) => inspection.report.enquiry, body: check, hints: true },
  { key: "lumps", when: ({ inspection }) => inspection.report.lumps.length, body: () => [said("lumps_says")], marks: true },
  { key: "flow", when: ({ inspection }) => inspection.report.pack, body: flow, marks: true },
  { key: "numbers", when: (state) => state.inspection.report.pack && !youngest(state), body: numbers, marks: true },
  { key: "otherwise", when: ({ inspection }) => inspection.report.otherwise.length, body: (app) => [otherwise(app)] },
  { key: "notes", when: ({ inspection }) => inspection.report.notes.length, body: (app) => [notes(app)],
    slots: ({ inspection }) => ({ n: inspection.report.notes.length }) },
  { key: "arrangements", when: ({ inspection }) => inspection.report.arrangements.length > 1, body: ways },
  { key: "seen", when: () => true, body: seen, level: ({ inspection }) => (inspection.report.photo.warnings?.length ? "watch" : null) },
  { key: "below", when: ({ inspection }) => inspection.report.pack, body: below },
  { key: "keep", when: () => true, body: pictures, hints: true },
  { key: "cautions", when: ({ inspection }) => inspection.report.cautions.length, body: cautions, hints: true },
];

/** Whether the level keeps nothing back. @param {any} state */
export const toldAll = ({ level, inspection, finding }) => level === "do" || !inspection.report.findings[finding];

/** Which detail is open, null where a hint keeps it back or there is nothing of the kind. @param {any} state */
export function opened(state) {
  const one = DETAILS.find(({ key }) => key === state.open);
  return one && told(state, one) ? state.open : null;
}

/** @param {any} state @param {Detail} one */
const told = (state, { when, hints }) => Boolean((hints || toldAll(state)) && when(state));

/** @param {any} app @param {string} key */
function turnOver(app, key) {
  const open = opened(app.state()) === key ? null : key;
  // The flow is told of the sculpture as it is.
  const picked = open === "flow" && app.state().picked ? { picked: { ...app.state().picked, when: "now" } } : {};
  app.set({ open, spot: null, ...picked });
  // All of what it tells if there is room, its plate in any case.
  for (const what of [`[data-open="${key}"]`, `[data-key="${key}"]`]) document.querySelector(what)?.scrollIntoView({ block: "nearest" });
}

/** All plates, below the open one what it tells. @param {any} app */
export function details(app) {
  const state = app.state();
  const open = opened(state);
  const rows = DETAILS.filter((one) => told(state, one)).map((one) => {
    const { key, marks, body } = one;
    const words = say(titleOf(state, one), one.slots?.(state));
    const level = one.level?.(state);
    const head = el("button", {
      type: "button", class: `detail ${marks ? "on-phone" : ""}`, "aria-expanded": String(open === key), "data-key": key,
      onclick: () => turnOver(app, key),
    }, level && el("span", { class: `level ${level}` }, symbol(`level-${level}`), say(`level_${level}`)),
    el("span", { class: "title" }, words), symbol("then", "arrow"));
    return el("li", { "data-open": open === key ? key : null }, head,
      open === key && body && el("div", { class: "told" }, ...body(app).filter(Boolean)));
  });
  return el("ul", { class: "details", "aria-label": say("details") }, ...rows);
}

/** On the levels that hint, other findings are questions. @param {any} state @param {Detail} one */
const titleOf = ({ level }, { key }) => (key === "others" && level !== "do" ? "detail_hints" : `detail_${key}`);

/** The plates of what is added to the photo, where they stand on it. @param {any} app */
export function layerPlates(app) {
  const state = app.state();
  if (!toldAll(state)) return [];
  return DETAILS.filter((one) => one.marks && told(state, one)).map(({ key }) =>
    plate(say(`detail_${key}`), () => turnOver(app, key), {
      kind: "on-laptop", "aria-pressed": String(opened(state) === key), "data-key": `on-${key}`,
    }));
}

/** @param {string} key @param {Record<string, any>} [slots] */
const said = (key, slots) => el("p", { class: "label" }, say(key, slots));

/** Below `do` the next check is a question only. @param {any} app */
function check(app) {
  const { report } = app.state().inspection;
  const text = report.next_check && (toldAll(app.state()) ? report.next_check.why : report.next_check.ask);
  return [text && el("p", { class: "label" }, text), plate(say("check_open"), () => app.go("check"), { "data-key": "check-open" })];
}

/** @param {any} app */
function flow(app) {
  const { inspection } = app.state();
  const none = inspection.report.pack.current_mA < 0.05;
  return [said(none ? "flow_none" : "flow_says"), !none && keep(flowUrl(inspection.id), "doughsight-flow.png", "flow_save")];
}

/** @param {any} app */
function numbers(app) {
  const { inspection } = app.state();
  const list = figures(inspection.report, planOf(app.state()).plan ?? inspection.report.remedies[0], inspection.case.age);
  list.id = "numbers";
  return [list];
}

/** @param {any} app */
function ways(app) {
  const { inspection } = app.state();
  return [said("ways_says"), arrangements(inspection.report, inspection.case.age)];
}

/** What is poor about the photo, and what was taken for what. @param {any} app */
function seen(app) {
  const { inspection } = app.state();
  const wide = Math.round(Math.min(Math.max(document.documentElement.clientWidth - 32, 320), 740));
  const src = seeingUrl(inspection.id, wide);
  return [
    bullets(inspection.report.photo.warnings ?? []),
    said("seen_says"),
    el("img", { class: "seeing", src, alt: say("seen_alt"), loading: "lazy" }),
    el("div", { class: "plates" },
      plate(say("seen_correct"), () => app.go("correct"), { "data-key": "correct" }), keep(src, "doughsight-seeing.png", "seen_save")),
  ];
}

/** @param {any} app */
function below(app) {
  if (!hasUnderside(app.state())) {
    return [said("below_why"), plate(say("below_take"), () => takeUnderside(), { "data-key": "below-take" })];
  }
  return [undersideTold(app.state()), el("div", { class: "plates" },
    plate(say("below_again"), () => takeUnderside(), { "data-key": "below-take" }),
    plate(say("below_drop"), () => dropUnderside(app), { "data-key": "below-drop" }))];
}

/** @param {any} app */
function pictures(app) {
  const { inspection, level } = app.state();
  const shown = toldAll(app.state()) ? "do" : level;
  return [el("div", { class: "plates" }, keep(pictureUrl(inspection.id, shown), "doughsight.png", "picture_save"), planPicture(app))];
}

/** @param {string} href @param {string} download @param {string} key */
const keep = (href, download, key) => el("a", { class: "plate", href, download }, say(key));

/** @param {any} app */
function cautions(app) {
  return [bullets(app.state().inspection.report.cautions)];
}

/** @param {string[]} all */
const bullets = (all) => all.length > 0 && el("ul", { class: "plain" }, ...all.map((one) => el("li", {}, one)));
