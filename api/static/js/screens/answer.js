// @ts-check
/** Answer: alarm, place, why, what to do, what will light; the rest on demand. */

import { el, plate, symbol, tabs } from "../dom.js";
import { roomPlate, roomsOf } from "../here.js";
import { narrowLamp, wideLamp } from "../lamp.js";
import { say } from "../words.js";
import { details, layerPlates, opened, toldAll } from "./details.js";
import { changes } from "./found.js";
import { lights, statesNow } from "./lights.js";
import { nowThen, planOf, planWords, unplugsFirst } from "./plans.js";
import { openWhatIf } from "../trials.js";

/** @type {import("./screen.js").Screen} */
export const answer = {
  tell,
  step: 3,
  back: "entries",
  tied: true,
  alarm,
  state: { finding: 0, open: null, traced: null, spot: null, picked: null },
  picture: { room: 0.12, lamp, overlay, thread, plates: layerPlates },
};

/** What gets hot is said before everything, here and while checks are made. @param {any} state */
export function alarm({ inspection }) {
  const hot = inspection?.report.findings.some((/** @type {any} */ one) => one.level === "stop");
  return hot ? say("stop_bar") : null;
}

/** Which light is walked now. @param {any} state */
const tracedOf = (state) => (toldAll(state) && state.open === "trace" ? state.traced : null);

/** The lamp narrows from ask to do. @param {any} state @param {import("../geometry.js").Box} body */
function lamp(state, body) {
  const found = state.inspection?.report.findings[state.finding];
  if (placeOf(state)) return narrowLamp(placeOf(state), body);
  const wide = ["flow", "lumps", "arrangements"].includes(state.open) || tracedOf(state);
  const narrow = found && !wide && state.level !== "ask" && planOf(state).when === "now";
  return narrow ? narrowLamp(found.at, body) : wideLamp(body);
}

/** Where a note or a doubtful contact lies that was asked for. @param {any} state */
const placeOf = (state) => (toldAll(state) && ["notes", "otherwise"].includes(state.open) ? state.spot : null);

/** Layers of the server's overlay; it keeps back what the level does not tell. @param {any} state */
function overlay(state) {
  const { inspection, finding, level } = state;
  const any = inspection.report.findings.length > 0;
  const { plan, when } = planOf(state);
  const open = opened(state);
  const alone = (/** @type {string[]} */ layers, led = null) =>
    ({ finding: null, layers, level: "do", remedy: null, when: "now", led });
  if (tracedOf(state)) return alone(["trace"], tracedOf(state));
  if (open === "flow") return alone(["flow", "leads", "legs", "lights", ...(inspection.case.age === "6-8" ? [] : ["numbers"])]);
  if (open === "otherwise") return alone(["leads", "legs", "contacts"]);
  const added = open === "lumps" ? ["lumps"] : open === "numbers" ? ["numbers", "lights"] : [];
  return { finding: any ? finding : null, layers: [any ? "answer" : "lights", ...added], level: any ? level : "do", remedy: plan?.rank ?? null, when };
}

/** @param {any} state */
function thread(state) {
  if (placeOf(state)) return { at: placeOf(state), words: "" };
  if (tracedOf(state) || ["flow", "otherwise"].includes(opened(state) ?? "")) return null;
  const found = state.inspection.report.findings[state.finding];
  return found && state.level !== "ask" && planOf(state).when === "now" ? { at: found.at, words: cutTag(found, state) } : null;
}

/** The length of the cut, where the plan makes the cut that the finding tells. @param {any} found @param {any} state */
function cutTag(found, state) {
  const { plan } = planOf(state);
  if (state.level !== "do" || found.cut_mm === null) return "";
  if (plan && !plan.steps.some((/** @type {any} */ step) => String(step.line) === String(found.cut))) return "";
  const told = /(\d+(?:[.,]\d+)?)\u00a0/.exec(found.do); // the same figure as in the sentence
  return told ? say("tag_cut", { mm: told[1] }) : "";
}

/** @param {any} app */
function tell(app) {
  const { inspection, finding, level, here } = app.state();
  const { report } = inspection;
  const found = report.findings[finding];
  const now = statesNow(inspection);
  const plan = !found || level === "do" ? planOf(app.state()).plan ?? report.remedies[0] : null;
  return {
    words: [
      el("article", { class: "slip answer" }, ...(found ? fault(app, found) : good(app, now)), lights(report, now, plan, walk(app))),
      el("div", { class: "more-found" },
        asksLights(app.state(), now) && lookAgain(app),
        report.pack && !isSure(app.state(), now) && recordPlate(app.state()),
        ...(here?.role === "owner" ? [] : roomsOf(here)).map((room) => roomPlate(room)),
        report.pack && plate(say("whatif_open"), () => openWhatIf(app), { "data-key": "what-if" }), details(app)),
    ],
    foot: [
      nowThen(app) ?? (report.enquiry && plate(say("check_open"), () => app.go("check"))),
      ...next(app, now),
    ],
  };
}

/** What comes next: to look again once it is mended, to say whether the lights shine, or to keep what is done.
 * @param {any} app @param {Map<string, string>} now */
function next(app, now) {
  const state = app.state();
  if (isSure(state, now)) return [lookAgain(app), recordPlate(state, "main")];
  if (asksLights(state, now)) return [plate(say("answer_lit"), () => allLit(app), { kind: "main" })];
  return [lookAgain(app, "main")];
}

/** @param {any} app @param {string} [kind] */
const lookAgain = (app, kind = "") => plate(say("done"), () => app.lookAgain(), { kind });

/** @param {any} state @param {string} [kind] */
function recordPlate({ inspection, photo }, kind = "") {
  const first = photo?.first ? `&before=${photo.first}` : "";
  return roomPlate({ words: say("answer_record"), href: `rooms/finish?case=${inspection.id}${first}` }, kind);
}

/** Every light is on, by the sums and by all that was told. @param {any} state @param {Map<string, string>} now */
const isSure = ({ inspection: { report } }, now) => !report.findings.length && isLit(now) && !report.suspects.length;

/** @param {Map<string, string>} now */
const isLit = (now) => now.size > 0 && [...now.values()].every((state) => state === "bright");

/** Nothing is wrong in the photo, and nobody has said how the lights look. @param {any} state @param {Map<string, string>} now */
const asksLights = (state, now) => !state.inspection.report.findings.length && isLit(now) && !isSure(state, now)
  && state.inspection.case.leds.every((/** @type {any} */ led) => !led.seen);

/** The helper sees them all shine. @param {any} app */
function allLit(app) {
  const { job } = app.state();
  app.edit({ ...job, leds: job.leds.map((/** @type {any} */ led) => ({ ...led, seen: "bright" })) });
  app.inspect();
}

/** Choosing a light walks its legs; choosing it again puts the answer back. @param {any} app */
function walk(app) {
  const state = app.state();
  if (!toldAll(state) || !state.inspection.report.traces.length) return null;
  const id = tracedOf(state);
  const pick = (/** @type {string} */ led) => {
    const picked = state.picked ? { picked: { ...state.picked, when: "now" } } : {};
    app.set({ open: led === id ? null : "trace", traced: led, spot: null, ...picked });
    const said = document.querySelector(".traced");
    said?.scrollIntoView({ block: "nearest" });
    app.speak(said?.textContent ?? "");
  };
  return { id, pick };
}

/** A question or where to look is all there is on its level. @param {any} app @param {any} found */
function fault(app, found) {
  const { level, inspection } = app.state();
  const { plan } = planOf(app.state());
  const choices = ["ask", "look", "do"].map((value) => ({ value, words: say(value) }));
  const does = plan ? planWords(plan, found) : found.do;
  const unplug = unplugsFirst(inspection.report, plan);
  return [
    found.level === "watch" && sign("watch"),
    el("h1", { class: "say", "aria-live": "polite" }, level === "do" ? found.why : found[level]),
    changes(app),
    level === "do" && el("p", { class: "do", "aria-live": "polite" },
      ...(unplug ? [el("b", {}, say("plan_unplug")), ` ${does}`] : verbFirst(does))),
    tabs(choices, level, (value) => app.setLevel(value), { label: say("tabs_label") }),
  ];
}

/** @param {string} level */
const sign = (level) => el("p", { class: `level ${level}` }, symbol(`level-${level}`), say(`level_${level}`));

/** The first words of an instruction in bold, up to the first comma or full stop. @param {string} text */
function verbFirst(text) {
  const end = text.search(/[,.:،]/);
  return end > 0 && end < text.length - 1 ? [el("b", {}, text.slice(0, end)), text.slice(end)] : [text];
}

/** Nothing is wrong: either every light is on, or it is said what else it may be.
 * @param {any} app @param {Map<string, string>} now */
function good(app, now) {
  const state = app.state();
  const sure = isSure(state, now);
  const title = sure ? "good_title" : "quiet_title";
  const rest = sure ? say("good_do")
    : `${isLit(now) ? `${say("guess_good")} ` : ""}${say(asksLights(state, now) ? "quiet_ask" : "quiet_do")}`;
  return [
    sign(sure ? "good" : "watch"),
    el("h1", { class: "say" }, say(title)),
    changes(app),
    el("p", { class: "do" }, rest),
  ];
}
