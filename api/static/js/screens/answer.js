// @ts-check
/** Answer: alarm, place, why, what to do, what will light; the rest on demand. */

import { el, plate, symbol, tabs } from "../dom.js";
import { pictureUrl } from "../server.js";
import { allSteps, nowThen, otherPlans, planOf, planPicture, planWords, pressed, unplugsFirst } from "./plans.js";
import { narrowLamp, wideLamp } from "../lamp.js";
import { figure, say } from "../words.js";

/** @type {import("./screen.js").Screen} */
export const answer = {
  tell,
  step: 3,
  back: "entries",
  tied: true,
  state: { finding: 0, lumps: false, numbers: false, picked: null },
  picture: { room: 0.12, lamp, overlay, thread, plates: (app) => (toldAll(app.state()) ? [lumpsPlate(app, "on-laptop")] : []) },
};

/** Whether the level keeps nothing back. @param {any} state */
const toldAll = ({ level, inspection, finding }) => level === "do" || !inspection.report.findings[finding];

/** The lamp narrows from ask to do. @param {any} state @param {import("../geometry.js").Box} body */
function lamp(state, body) {
  const found = state.inspection?.report.findings[state.finding];
  const narrow = found && state.level !== "ask" && planOf(state).when === "now";
  return narrow ? narrowLamp(found.at, body) : wideLamp(body);
}

/** Layers of the server's overlay; it keeps back what the level does not tell. @param {any} state */
function overlay(state) {
  const { lumps, numbers, inspection, finding, level } = state;
  const any = inspection.report.findings.length > 0;
  const { plan, when } = planOf(state);
  const layers = [any ? "answer" : "lights", ...(lumps ? ["lumps"] : []), ...(numbers ? ["numbers", "lights"] : [])];
  return { finding: any ? finding : null, layers, level: any ? level : "do", remedy: plan?.rank ?? null, when };
}

/** @param {any} state */
function thread(state) {
  const found = state.inspection.report.findings[state.finding];
  return found && state.level !== "ask" && planOf(state).when === "now" ? { at: found.at, words: cutTag(found, state) } : null;
}

/** The length of the cut, where the plan makes the cut that the finding tells. @param {any} found @param {any} state */
function cutTag(found, state) {
  const { plan } = planOf(state);
  if (state.level !== "do" || found.cut_mm === null) return "";
  if (plan && !plan.steps.some((/** @type {any} */ step) => String(step.line) === String(found.cut))) return "";
  const told = /(\d+(?:[.,]\d+)?)\s*mm/.exec(found.do); // the same figure as in the sentence
  return told ? say("tag_cut", { mm: told[1] }) : "";
}

/** @param {any} app */
function tell(app) {
  const { inspection, finding, level } = app.state();
  const { report } = inspection;
  const found = report.findings[finding];
  const now = statesNow(inspection);
  return {
    words: [
      el("article", { class: "slip answer" }, ...(found ? fault(app, found) : good(report, now)),
        lights(report, now, !found || level === "do" ? planOf(app.state()).plan ?? report.remedies[0] : null)),
      more(app, report),
    ],
    foot: [
      nowThen(app) ?? (report.enquiry && plate(say("check_open"), () => app.go("check"))),
      plate(say("done"), () => app.lookAgain(), { kind: "main" }),
    ],
  };
}

/** How each light is now: as the helper sees it, else as the sums say. @param {any} inspection @returns {Map<string, string>} */
function statesNow({ report, case: told }) {
  const seen = new Map(told.leds.map((/** @type {any} */ led) => [led.id, led.seen]));
  return new Map(report.leds.map((/** @type {any} */ led) => [led.id, seen.get(led.id) ?? led.state]));
}

/** A question or where to look is all there is on its level. @param {any} app @param {any} found */
function fault(app, found) {
  const { level, inspection } = app.state();
  const { plan } = planOf(app.state());
  const choices = ["ask", "look", "do"].map((value) => ({ value, words: say(value) }));
  const does = plan ? planWords(plan, found) : found.do;
  const unplug = unplugsFirst(inspection.report, plan);
  return [
    el("h1", { class: "say", "aria-live": "polite" }, level === "do" ? found.why : found[level]),
    level === "do" && el("p", { class: "do", "aria-live": "polite" },
      ...(unplug ? [el("b", {}, say("plan_unplug")), ` ${does}`] : verbFirst(does))),
    tabs(choices, level, (value) => app.setLevel(value), { label: say("tabs_label") }),
  ];
}

/** The first words of an instruction in bold, up to the first comma or full stop. @param {string} text */
function verbFirst(text) {
  const end = text.search(/[,.:]/);
  return end > 0 && end < text.length - 1 ? [el("b", {}, text.slice(0, end)), text.slice(end)] : [text];
}

/** Nothing is wrong: either every light is on, or it is said what else it may be.
 * @param {any} report @param {Map<string, string>} now */
function good(report, now) {
  const lit = now.size > 0 && [...now.values()].every((state) => state === "bright");
  const sure = lit && !report.suspects.length;
  const title = sure ? "good_title" : "quiet_title";
  const rest = sure ? say("good_do") : `${lit ? `${say("guess_good")} ` : ""}${say("quiet_do")}`;
  const level = sure ? "good" : "watch";
  return [
    el("p", { class: `level ${level}` }, symbol(`level-${level}`), say(`level_${level}`)),
    el("h1", { class: "say" }, say(title)),
    el("p", { class: "do" }, rest),
  ];
}

/** What will light with a plan; without one only how the lights are.
 * @param {any} report @param {Map<string, string>} now @param {any} plan */
function lights(report, now, plan) {
  const items = report.leds.map((/** @type {any} */ led) => {
    const before = /** @type {string} */ (now.get(led.id));
    const after = plan?.then[led.id] ?? before;
    const changed = after !== before;
    const will = before === "off" && after === "bright" ? "on" : after;
    const words = changed ? say(`light_will_${will}`) : say(`light_${plan ? "stays" : "now"}_${before}`);
    const pair = plan
      ? [symbol(`led-${before}`, "led"), symbol("then", "arrow"), symbol(`led-${after}`, "led")]
      : [symbol(`led-${before}`, "led")];
    return el("li", { class: changed ? "changed" : "" },
      el("span", { class: "pair" }, ...pair), el("b", {}, led.id), ` ${words}`);
  });
  return el("div", { class: "full" }, el("ul", { class: "lights", "aria-label": say("lights_label") }, ...items));
}

/** @param {any} app @param {any} report */
function more(app, report) {
  const { numbers, level, inspection } = app.state();
  const all = toldAll(app.state());
  const href = pictureUrl(inspection.id, all ? "do" : level);
  const picture = el("a", { class: "plate", href, download: "doughsight.png" }, say("picture_save"));
  const facts = all && [pressed(say("numbers"), numbers, () => app.set({ numbers: !numbers })), lumpsPlate(app, "on-phone")];
  return el("div", { class: "more-found" },
    allSteps(app), otherPlans(app), all && numbers && figures(report, planOf(app.state()).plan ?? report.remedies[0]),
    others(app, report), check(app, report, all),
    el("div", { class: "plates" }, ...(facts || []), picture, planPicture(app)),
    cautions(report));
}

/** The plate that shows the lumps; it stands on the picture where that is large enough.
 * @param {any} app @param {string} kind */
export function lumpsPlate(app, kind) {
  const { lumps } = app.state();
  return plate(say("lumps"), () => app.set({ lumps: !lumps }), { kind, "aria-pressed": String(lumps) });
}

/** @param {string} title @param {...any} children */
const part = (title, ...children) => el("section", {}, el("h2", {}, say(title)), ...children);

/** The other findings, each in the words of the level; what is said already is not said twice.
 * @param {any} app @param {any} report */
function others(app, report) {
  const { finding, level } = app.state();
  const words = (/** @type {any} */ one) => (level === "do" ? one.why : one[level]);
  const said = new Set(report.findings.slice(finding, finding + 1).map(words));
  const rest = report.findings.map((/** @type {any} */ one, /** @type {number} */ i) => ({ one, i, text: words(one) }))
    .filter((/** @type {any} */ { i, text }) => i !== finding && (level === "do" || (!said.has(text) && said.add(text))));
  if (!rest.length) return null;
  return part(level === "do" ? "also" : "also_hint", el("ul", { class: "others" }, ...rest.map((/** @type {any} */ { one, i, text }) =>
    el("li", {},
      el("span", { class: `level ${one.level}` }, symbol(`level-${one.level}`), say(`level_${one.level}`)),
      el("span", {}, text),
      plate(say("show"), () => app.set({ finding: i }), { kind: "quiet push", "aria-label": `${say("show")}: ${text}` })))));
}

/** Below `do` the next check is a question only. @param {any} app @param {any} report @param {boolean} all */
function check(app, report, all) {
  if (!report.enquiry) return null;
  const text = report.next_check && (all ? report.next_check.why : report.next_check.ask);
  // Without a plan its plate stands in the foot.
  const open = planOf(app.state()).plan && plate(say("check_open"), () => app.go("check"));
  return (text || open) && part("next_check", text && el("p", { class: "label" }, text), open);
}

/** @param {any} report */
function cautions(report) {
  const said = [...(report.photo.warnings ?? []), ...report.cautions];
  if (!said.length) return null;
  return part("cautions", el("ul", { class: "plain" }, ...said.map((/** @type {string} */ one) => el("li", {}, one))));
}

/** @param {any} report @param {any} plan */
function figures(report, plan) {
  const then = plan?.then_mA ?? {};
  const rows = report.leds.map((/** @type {any} */ led) => {
    const after = then[led.id] === undefined ? "" : say("numbers_then", { mA: round(then[led.id]) });
    return say("numbers_led", { id: led.id, mA: round(led.current_mA) }) + after;
  });
  if (report.pack) rows.push(say("numbers_pack", { mA: round(report.pack.current_mA), volts: round(report.pack.terminal_V) }));
  if (!report.photo.true_scale) rows.push(say("numbers_relative"));
  const list = part("numbers_title", el("ul", { class: "numbers" }, ...rows.map((/** @type {string} */ row) => el("li", {}, row))));
  list.id = "numbers";
  return list;
}

/** @param {number} value two digits that mean something */
const round = (value) => figure(value, Math.abs(value) < 10 ? 1 : 0);
