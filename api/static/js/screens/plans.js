// @ts-check
/** Plans: which remedy is looked at, and whether the picture shows it now or as it will be. */

import { el, tabs } from "../dom.js";
import { remedyUrl } from "../server.js";
import { knows, say } from "../words.js";

const MOST_PLANS = 3;
const MANY = new Set(["cut", "turn", "move"]);
const OF_NOW = new Set(["flow", "trace", "otherwise", "notes"]);
const LIVE = new Set(["cut", "swap-leads"]); // before these the pack is unplugged

/** The plan that picture and slip are about, null where a hint keeps it back; a new answer starts at the first.
 * @param {any} state @returns {{plan: any, when: "now" | "then"}} */
export function planOf({ inspection, finding, level, picked }) {
  const remedies = inspection?.report.remedies ?? [];
  if (level !== "do" || finding !== 0 || !remedies.length) return { plan: null, when: "now" };
  const mine = picked?.of === inspection.id ? picked : { rank: 1, when: "now" };
  const plan = remedies.find((/** @type {any} */ one) => one.rank === mine.rank) ?? remedies[0];
  return { plan, when: mine.when };
}

/** @param {any} app @param {{rank?: number, when?: string}} patch */
function pick(app, patch) {
  const { plan, when } = planOf(app.state());
  const picked = { of: app.state().inspection.id, rank: plan.rank, when, ...patch };
  // Walks, flow and single places are of the sculpture as it is now.
  const open = picked.when === "then" && OF_NOW.has(app.state().open) ? { open: null, spot: null } : {};
  app.set({ picked, ...open });
}

/** `Now` and `After the cut`, which change what the picture shows in place. @param {any} app */
export function nowThen(app) {
  const { plan, when } = planOf(app.state());
  if (!plan) return null;
  const choices = [{ value: "now", words: say("plan_now") }, { value: "then", words: afterWords(plan) }];
  const chosen = (/** @type {string} */ value) => {
    pick(app, { when: value });
    app.speak(value === "then" ? `${afterWords(plan)}: ${foretold(plan)}` : say("plan_now"));
  };
  return tabs(choices, when, chosen, { label: say("plan_tabs"), tight: true });
}

/** @param {any} plan */
export function afterWords(plan) {
  const actions = new Set(plan.steps.map((/** @type {any} */ step) => step.action));
  const [action] = actions;
  if (plan.steps.length === 1) return say(knows(`plan_after_${action}`) ? `plan_after_${action}` : "plan_after_other");
  if (actions.size === 1 && MANY.has(action)) return say(`plan_after_many_${action}`);
  return say(plan.steps.length === 2 ? "plan_after_both" : "plan_after_all");
}

/** What shines then, in words. @param {any} plan */
function foretold(plan) {
  const ids = (/** @type {string} */ state) => Object.keys(plan.then).filter((id) => plan.then[id] === state);
  const said = ["bright", "dim", "off"].filter((state) => ids(state).length);
  return said.map((state) => say(`plan_then_${state}`, { ids: ids(state) })).join(say("comma"));
}

/** @param {number} seconds */
const timeWords = (seconds) => (seconds < 90
  ? say("plan_time_s", { n: Math.max(5, 5 * Math.round(seconds / 5)) })
  : say("plan_time_min", { n: Math.round(seconds / 60) }));

/** What to do, in words: as the finding says it where the plan does just that.
 * @param {any} plan @param {any} found */
export function planWords(plan, found) {
  const [first, ...others] = plan.steps;
  if (others.length) return `${first.do} ${say("plan_more", { n: others.length })}`;
  const same = first.action === "cut" ? String(first.line) === String(found.cut) : first.action === "turn" && found.parts.includes(first.parts[0]);
  return same ? found.do : plan.do;
}

/** Whether the pack is to be unplugged before this plan, though nothing is hot. @param {any} report @param {any} plan */
export function unplugsFirst(report, plan) {
  const hot = report.findings.some((/** @type {any} */ one) => one.level === "stop");
  const live = (/** @type {any} */ step) => LIVE.has(step.action) || step.parts.some((/** @type {string} */ name) => name.startsWith("pack"));
  return Boolean(plan) && !hot && plan.steps.some(live);
}

/** All steps of the plan, with the numbers that stand on the picture. @param {any} app */
export function allSteps(app) {
  const { plan } = planOf(app.state());
  return el("ol", { class: "steps" }, ...plan.steps.map((/** @type {any} */ step) => el("li", {}, step.do)));
}

/** The best plans. @param {any} state @returns {any[]} */
export const plansOf = ({ inspection }) => inspection.report.remedies.slice(0, MOST_PLANS);

/** A plate for each of the best plans; one of them is looked at. @param {any} app */
export function otherPlans(app) {
  const { plan } = planOf(app.state());
  const plates = plansOf(app.state()).map((/** @type {any} */ one) =>
    el("li", {}, el("button", {
      type: "button",
      class: "plate plan",
      "data-key": `plan-${one.rank}`,
      "aria-pressed": String(one.rank === plan.rank),
      onclick: () => pick(app, { rank: one.rank }),
    },
    el("b", {}, say("plan_rank", { rank: one.rank })),
    el("span", {}, shortWords(one)),
    el("span", { class: "small" }, `${foretold(one)}. ${timeWords(one.seconds)}`))));
  return el("ol", { class: "plans" }, ...plates);
}

/** The plan in a line. @param {any} plan */
function shortWords(plan) {
  const [first, ...others] = plan.steps;
  return others.length ? `${first.do} ${say("plan_more", { n: others.length })}` : first.do;
}

/** Now and afterwards as a picture to keep. @param {any} app */
export function planPicture(app) {
  const { plan } = planOf(app.state());
  if (!plan) return null;
  const href = remedyUrl(app.state().inspection.id, plan.rank);
  return el("a", { class: "plate", href, download: `doughsight-remedy-${plan.rank}.png` }, say("plan_save"));
}
