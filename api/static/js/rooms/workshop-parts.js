// @ts-check
/** What is told of a workshop, part by part. Each part gets the entry and hands a changed one to `edit`. */

import { suggestName } from "../dough-names.js";
import { el, plate, tabs } from "../dom.js";
import { nameOf, say } from "../words.js";
import { dayField, numberField, textField } from "./fields.js";
import { challengePart } from "./workshop-challenge.js";
import { dayWords, ledWords } from "./workshop-words.js";

/**
 * @typedef {object} How
 * @property {any} entry
 * @property {string | null} deletedOn
 * @property {string[]} leds colours of LEDs
 * @property {(change: (now: any) => object, redraw?: boolean) => void} edit what is to be changed of the entry as it is by
 * then; `redraw` where there is one thing more or less
 */

const AGES = ["6-8", "9-12", "13+"];
const ROLES = ["conductive", "insulating", "table"];
const MOST_DOUGHS = 24;

/** @type {Record<string, (how: How) => import("../dom.js").Child[]>} */
export const PARTS = { name, kit, doughs, ages, challenge: challengePart, keep };

/** @param {How} how */
function name({ entry, edit }) {
  return [
    textField({ id: "name", label: say("workshop_name"), hint: say("workshop_name_hint"), value: entry.name, most: 60, required: true },
      (name) => edit(() => ({ name }))),
    dayField({ id: "day", label: say("workshop_day"), value: entry.day }, (day) => edit(() => ({ day }))),
    textField({ id: "place", label: say("workshop_place"), hint: say("workshop_place_hint"), value: entry.place, most: 60 },
      (place) => edit(() => ({ place }))),
  ];
}

/** @param {How} how */
function kit({ entry, leds, edit }) {
  /** @type {{colour: string, count: number}[]} */ const told = entry.kit.leds;
  const stock = new Map(told.map(({ colour, count }) => [colour, count]));
  const colours = [...leds, ...told.map((one) => one.colour).filter((colour) => !leds.includes(colour))];
  const rows = colours.map((colour) =>
    numberField({ id: `led-${colour}`, label: ledWords(colour), value: stock.get(colour) ?? 0, min: 0, max: 10_000 }, (count) => {
      stock.set(colour, count);
      const counted = colours.map((one) => ({ colour: one, count: stock.get(one) ?? 0 })).filter((one) => one.count > 0);
      edit((now) => ({ kit: { ...now.kit, leds: counted } }));
    }));
  return [
    numberField({ id: "cells", label: say("workshop_cells"), hint: say("workshop_cells_hint"), value: entry.kit.cells, min: 1, max: 8 },
      (cells) => edit((now) => ({ kit: { ...now.kit, cells } }))),
    el("h2", {}, say("workshop_leds")),
    el("p", { class: "hint" }, say("workshop_leds_hint")),
    el("div", { class: "counts" }, ...rows),
  ];
}

/** @param {How} how */
function doughs({ entry, edit }) {
  const change = (/** @type {number} */ i, /** @type {object} */ patch, redraw = false) => {
    edit((now) => ({ doughs: now.doughs.map((/** @type {any} */ one, /** @type {number} */ n) => (n === i ? { ...one, ...patch } : one)) }), redraw);
  };
  const rows = entry.doughs.map((/** @type {any} */ one, /** @type {number} */ i) => doughRow(one, i, change, () => {
    edit((now) => ({ doughs: now.doughs.filter((/** @type {any} */ _, /** @type {number} */ n) => n !== i) }), true);
  }));
  const add = () => edit((now) => ({ doughs: [...now.doughs, newDough(now.doughs)] }), true);
  return [
    el("p", { class: "hint" }, say("workshop_doughs_hint")),
    ...rows,
    entry.doughs.length < MOST_DOUGHS ? el("p", {}, plate(say("workshop_dough_add"), add, { id: "dough-add" })) : null,
  ];
}

/** The first ones are those that every workshop has. @param {any[]} doughs */
function newDough(doughs) {
  const usual = [
    { role: "conductive", rgb: [240, 155, 170] },
    { role: "insulating", rgb: [110, 190, 225] },
    { role: "insulating", rgb: [240, 240, 240] },
  ];
  const next = usual[Math.min(doughs.length, usual.length - 1)];
  return { ...next, name: suggestName(next.rgb, doughs.map((one) => one.name)) };
}

/** @param {any} dough @param {number} i @param {(i: number, patch: object, redraw?: boolean) => void} change
 * @param {() => void} remove */
function doughRow(dough, i, change, remove) {
  const shown = nameOf(dough.name);
  const label = el("input", {
    id: `dough-${i}`,
    value: shown,
    maxlength: 40,
    required: true,
    autocomplete: "off",
    dir: "auto",
    "aria-label": say("colours_name"),
    oninput: () => label.value.trim() && change(i, { name: label.value.trim() }),
  });
  const colour = el("input", {
    type: "color",
    id: `dough-${i}-colour`,
    value: hexOf(dough.rgb),
    "aria-label": say("workshop_dough_colour", { name: shown }),
    onchange: () => change(i, { rgb: rgbOf(colour.value) }),
  });
  const roles = ROLES.map((value) => ({ value, words: say(`role_${value}`) }));
  return el("div", { class: "dough-row", role: "group", "aria-label": shown }, colour, label,
    plate(say("colours_remove"), remove, { kind: "quiet", "aria-label": say("workshop_remove", { what: shown }) }),
    tabs(roles, dough.role, (role) => change(i, { role }, true), { label: say("colours_role"), tight: true }));
}

/** @param {How} how */
function ages({ entry, edit }) {
  const choices = AGES.map((value) => ({ value, words: value }));
  return [
    el("p", { class: "hint" }, say("workshop_ages_hint")),
    tabs(choices, entry.age, (age) => edit(() => ({ age }), true), { label: say("ages") }),
    el("p", { class: "do sample-words" }, say(`workshop_ages_${entry.age === "13+" ? "13" : entry.age.replace("-", "_")}`)),
  ];
}

/** @param {How} how */
function keep({ entry, deletedOn, edit }) {
  const choices = [{ value: "days", words: say("workshop_keep_days") }, { value: "open", words: say("workshop_keep_open") }];
  const open = entry.keep_days === null;
  return [
    el("p", { class: "hint" }, say("workshop_keep_hint")),
    tabs(choices, open ? "open" : "days", (value) => edit(() => ({ keep_days: value === "open" ? null : 30 }), true), { label: say("workshop_part_keep") }),
    open ? null : numberField({ id: "keep-days", label: say("workshop_keep_how"), value: entry.keep_days, min: 1, max: 3650 },
      (keep_days) => edit(() => ({ keep_days }))),
    el("p", { class: "do", id: "deleted-on" }, deletedOn ? say("workshop_deleted_on", { day: dayWords(deletedOn) }) : say("workshop_deleted_never")),
    el("p", {}, el("a", { class: "plate", href: "#delete" }, say("workshop_delete"))),
  ];
}

/** @param {number[]} rgb */
const hexOf = (rgb) => `#${rgb.map((v) => v.toString(16).padStart(2, "0")).join("")}`;

/** @param {string} hex */
const rgbOf = (hex) => [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16));
