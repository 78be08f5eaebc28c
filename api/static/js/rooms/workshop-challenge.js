// @ts-check
/** The challenge of a workshop: rules with their numbers, added, changed and taken out. */

import { el, plate } from "../dom.js";
import { nameOf, say } from "../words.js";
import { field, numberField, textField } from "./fields.js";

// The hint about a golf ball: 42.67 mm across at the least (Rules of Golf, equipment rules), so 40.7 cm3.

/** What a new rule asks for. @type {Record<string, object>} */
const FRESH = {
  "lights-lit": { at_least: 3 },
  "dough-volume": { dough: "", at_most_cm3: 50 },
  "side-by-side": {},
  "light-colours": { at_least: 2 },
  "nothing-to-watch": {},
  "time-limit": { minutes: 20 },
};
const REPEATED = "dough-volume"; // one for each dough
const MOST = 20;

/** @param {string} rule */
const words = (rule) => say(`workshop_rule_${rule.replaceAll("-", "_")}`);

/** @param {import("./workshop-parts.js").How} how */
export function challengePart({ entry, edit }) {
  const tell = (/** @type {(challenge: any) => object} */ change, redraw = false) => {
    edit(({ challenge }) => ({ challenge: { ...challenge, ...change(challenge) } }), redraw);
  };
  /** @type {any[]} */ const rules = entry.challenge.rules;
  const rows = rules.map((rule, i) => ruleRow(rule, i, entry, (patch) => {
    tell((now) => ({ rules: now.rules.map((/** @type {any} */ one, /** @type {number} */ n) => (n === i ? { ...one, ...patch } : one)) }));
  }, () => tell((now) => ({ rules: now.rules.filter((/** @type {any} */ _, /** @type {number} */ n) => n !== i) }), true)));
  const open = Object.keys(FRESH).filter((kind) => kind === REPEATED || !rules.some((one) => one.rule === kind));
  const add = (/** @type {string} */ kind) =>
    tell((now) => ({ rules: [...now.rules, { rule: kind, ...FRESH[kind], ...named(kind, entry) }] }), true);
  const offered = open.map((kind) => plate(words(kind), () => add(kind), { id: `add-${kind}` }));
  return [
    textField({ id: "challenge", label: say("workshop_challenge_title"), hint: say("workshop_challenge_hint"), value: entry.challenge.title, most: 60 },
      (title) => tell(() => ({ title }))),
    ...rows,
    offered.length && rules.length < MOST
      ? el("details", { class: "part", open: !rules.length }, el("summary", {}, say("workshop_rule_add")), el("div", { class: "choices" }, ...offered))
      : null,
  ];
}

/** @param {string} kind @param {any} entry */
const named = (kind, entry) =>
  kind === REPEATED ? { dough: (entry.doughs.find((/** @type {any} */ one) => one.role === "conductive") ?? entry.doughs[0])?.name ?? "pink" } : {};

/** @param {any} rule @param {number} i @param {any} entry @param {(patch: object) => void} change @param {() => void} remove */
function ruleRow(rule, i, entry, change, remove) {
  const id = `rule-${i}`;
  return el("div", { class: "rule", role: "group", "aria-label": words(rule.rule) },
    el("h2", {}, words(rule.rule)),
    plate(say("colours_remove"), remove, { kind: "quiet", "aria-label": say("workshop_remove", { what: words(rule.rule) }) }),
    ...numbers(rule, id, entry, change));
}

/** @param {any} rule @param {string} id @param {any} entry @param {(patch: object) => void} change */
function numbers(rule, id, entry, change) {
  const atLeast = (/** @type {number} */ min, /** @type {number} */ max) =>
    numberField({ id, label: say("workshop_at_least"), value: rule.at_least, min, max }, (at_least) => change({ at_least }));
  if (rule.rule === "lights-lit") return [atLeast(1, 200)];
  if (rule.rule === "light-colours") return [atLeast(2, 12)];
  if (rule.rule === "time-limit") {
    return [numberField({ id, label: say("workshop_minutes"), value: rule.minutes, min: 1, max: 1440 }, (minutes) => change({ minutes }))];
  }
  if (rule.rule !== "dough-volume") return [];
  /** @type {string[]} */ const all = [...new Set([...entry.doughs.map((/** @type {any} */ one) => one.name), rule.dough])];
  const choice = el("select", { onchange: () => change({ dough: choice.value }) },
    ...all.map((one) => el("option", { value: one, selected: one === rule.dough }, nameOf(one))));
  return [
    field({ id: `${id}-dough`, label: say("workshop_of_dough") }, choice),
    numberField({ id, label: say("workshop_at_most_cm3"), hint: say("workshop_cm3_hint"), value: rule.at_most_cm3, min: 1, max: 100_000 }, (at_most_cm3) => change({ at_most_cm3 })),
  ];
}
