// @ts-check
/** Answer: alarm, place, why, what to do, what will light; the rest on demand. */

import { el, plate, symbol, tabs } from "../dom.js";
import { pictureUrl } from "../server.js";
import { say } from "../words.js";

/** @param {any} app */
export function answer(app) {
  const { inspection, finding } = app.state();
  const { report } = inspection;
  const found = report.findings[finding];
  const now = statesNow(inspection);
  return {
    words: [
      el("article", { class: "slip answer" }, ...(found ? fault(app, found) : good(report, now)), lights(report, now)),
      more(app, report),
    ],
    foot: [
      plate(say("numbers"), () => app.set({ numbers: !app.state().numbers }), { "aria-pressed": String(app.state().numbers) }),
      plate(say("done"), () => app.lookAgain(), { kind: "main" }),
    ],
  };
}

/** How each light is now: as the helper sees it, else as the sums say. @param {any} inspection @returns {Map<string, string>} */
function statesNow({ report, case: told }) {
  const seen = new Map(told.leds.map((/** @type {any} */ led) => [led.id, led.seen]));
  return new Map(report.leds.map((/** @type {any} */ led) => [led.id, seen.get(led.id) ?? led.state]));
}

/** @param {any} app @param {any} found */
function fault(app, found) {
  const { level } = app.state();
  const choices = ["ask", "look", "do"].map((value) => ({ value, words: say(value) }));
  return [
    el("h1", { class: "say" }, found.why),
    el("p", { class: "do", "aria-live": "polite" }, ...(level === "do" ? verbFirst(found.do) : [found[level]])),
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

/** @param {any} report @param {Map<string, string>} now */
function lights(report, now) {
  const then = report.remedies[0]?.then ?? {};
  const items = report.leds.map((/** @type {any} */ led) => {
    const before = /** @type {string} */ (now.get(led.id));
    const after = then[led.id] ?? before;
    const changed = after !== before;
    const will = before === "off" && after === "bright" ? "on" : after;
    const words = changed
      ? say(`light_will_${will}`)
      : say(report.remedies.length ? "light_stays" : "light_now", { state: before });
    const pair = report.remedies.length
      ? [symbol(`led-${before}`, "led"), symbol("then", "arrow"), symbol(`led-${after}`, "led")]
      : [symbol(`led-${before}`, "led")];
    return el("li", { class: changed ? "changed" : "" },
      el("span", { class: "pair" }, ...pair), el("b", {}, led.id), ` ${words}`);
  });
  return el("div", { class: "full" }, el("ul", { class: "lights", "aria-label": say("lights_label") }, ...items));
}

/** @param {any} app @param {any} report */
function more(app, report) {
  const { numbers } = app.state();
  const picture = { class: "plate", href: pictureUrl(app.state().inspection.id), download: "doughsight.png" };
  return el("div", { class: "more-found" },
    numbers && figures(report), others(app, report), allSteps(report), check(report),
    el("div", { class: "plates" }, lumpsPlate(app, "on-phone"), el("a", picture, say("picture_save"))),
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

/** @param {any} app @param {any} report */
function others(app, report) {
  const rest = report.findings.map((/** @type {any} */ one, /** @type {number} */ i) => ({ one, i }))
    .filter(({ i }) => i !== app.state().finding);
  if (!rest.length) return null;
  return part("also", el("ul", { class: "others" }, ...rest.map(({ one, i }) =>
    el("li", {},
      el("span", { class: `level ${one.level}` }, symbol(`level-${one.level}`), say(`level_${one.level}`)),
      el("span", {}, one.why),
      plate(say("show"), () => app.set({ finding: i }), { kind: "quiet push", "aria-label": `${say("show")}: ${one.why}` })))));
}

/** Shown when the first remedy has more steps than the slip tells. @param {any} report */
function allSteps(report) {
  const steps = report.remedies[0]?.steps ?? [];
  if (steps.length < 2) return null;
  return part("steps_all", el("ol", {}, ...steps.map((/** @type {any} */ step) => el("li", {}, step.do))));
}

/** @param {any} report */
function check(report) {
  return report.next_check && part("next_check", el("p", { class: "label" }, report.next_check.why));
}

/** @param {any} report */
function cautions(report) {
  const said = [...(report.photo.warnings ?? []), ...report.cautions];
  if (!said.length) return null;
  return part("cautions", el("ul", { class: "plain" }, ...said.map((/** @type {string} */ one) => el("li", {}, one))));
}

/** @param {any} report */
function figures(report) {
  const then = report.remedies[0]?.then_mA ?? {};
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
const round = (value) => (Math.abs(value) < 10 ? value.toFixed(1) : value.toFixed(0));
