// @ts-check
/** All workshops of this laptop: today's first, a new one, a copy of an earlier one, one from an archive. */

import { el, plate } from "../dom.js";
import * as server from "../server.js";
import { openSheet } from "../sheets.js";
import { say } from "../words.js";
import { dayField, textField } from "./fields.js";
import { draw, root, told } from "./room.js";
import { dayWords, today } from "./workshop-words.js";

/** @type {any[]} */ let all = told.workshops;
let said = "";
let busy = false;

/** @param {string} id @param {string} [part] */
const placeOf = (id, part = "") => `${root}rooms/workshop?id=${encodeURIComponent(id)}${part ? `#${part}` : ""}`;

function show() {
  const now = today();
  const days = [
    { words: say("workshops_today"), rows: all.filter((one) => one.entry.day === now) },
    { words: say("workshops_coming"), rows: all.filter((one) => one.entry.day > now).reverse() },
    { words: say("workshops_past"), rows: all.filter((one) => one.entry.day < now) },
  ].filter((one) => one.rows.length);
  const running = days[0]?.rows.find((one) => one.entry.day === now && !one.ended);
  const fresh = plate(say("workshops_new"), newSheet, { id: "new", kind: running ? "" : "main" });
  draw({
    title: say("workshops_title"),
    back: { words: say("room_back"), href: "./" },
    body: [
      said ? el("p", { class: "warn", role: "alert" }, said) : null,
      busy ? el("p", { class: "do", role: "status" }, say("workshops_bringing")) : null,
      ...(all.length ? days.flatMap(({ words, rows }, i) => [i ? el("h2", {}, words) : el("h1", { class: "say" }, words), ...rows.map(row)]) : empty()),
      bringIn(),
    ],
    foot: running
      ? [fresh, el("a", { class: "plate main", href: placeOf(running.id) }, say("workshops_open_today"))]
      : [fresh],
  });
}

const empty = () => [
  el("h1", { class: "say" }, say("workshops_none")),
  el("p", { class: "do" }, say("workshops_none_do")),
];

/** @param {any} one */
function row(one) {
  const { name, day, place } = one.entry;
  return el("div", { class: "slip whole workshop-row" },
    el("h2", { class: "row-name" }, name),
    el("p", { class: "soft label" }, [dayWords(day), place, one.ended ? say("workshops_over") : ""].filter(Boolean).join(" · ")),
    el("div", { class: "plates" },
      el("a", { class: "plate", href: placeOf(one.id), "aria-label": say("workshops_open_name", { name }) }, say("workshops_open")),
      plate(say("workshops_copy"), () => copySheet(one), { kind: "quiet", "aria-label": say("workshops_copy_name", { name }) })));
}

function newSheet() {
  const entry = { name: "", day: today() };
  sheetThatAsks(say("workshops_new"), say("workshops_make"), [
    textField({ id: "new-name", label: say("workshop_name"), hint: say("workshop_name_hint"), value: "", most: 60, required: true }, (name) => (entry.name = name)),
    dayField({ id: "new-day", label: say("workshop_day"), value: entry.day }, (day) => (entry.day = day)),
  ], async () => {
    const made = await (await server.ask("POST", `${root}workshops`, entry)).json();
    location.assign(placeOf(made.id, "kit"));
  });
}

/** @param {any} one */
function copySheet(one) {
  const wish = { day: today() };
  sheetThatAsks(say("workshops_copy_name", { name: one.entry.name }), say("workshops_copy_make"), [
    el("p", { class: "hint" }, say("workshops_copy_what")),
    dayField({ id: "copy-day", label: say("workshop_day"), value: wish.day }, (day) => (wish.day = day)),
  ], async () => {
    const made = await (await server.ask("POST", `${root}workshops/${encodeURIComponent(one.id)}/copy`, wish)).json();
    location.assign(placeOf(made.id));
  });
}

/** @param {string} title @param {string} words @param {HTMLElement[]} fields @param {() => Promise<void>} act */
function sheetThatAsks(title, words, fields, act) {
  const refused = el("p", { class: "warn", role: "alert" });
  const form = el("form", {
    class: "asking",
    onsubmit: async (/** @type {Event} */ event) => {
      event.preventDefault();
      refused.textContent = await refusal(act);
    },
  }, ...fields, refused, el("button", { type: "submit", class: "plate main" }, words));
  openSheet(title, [form]);
  form.querySelector("input")?.focus();
}

/** An archive of another laptop. */
function bringIn() {
  const file = el("input", { type: "file", accept: ".zip,application/zip", hidden: true, id: "archive", onchange: () => void bring(file) });
  return el("div", { class: "bring" }, file, plate(say("workshops_bring"), () => file.click(), { kind: "quiet", id: "bring", disabled: busy }));
}

/** @param {HTMLInputElement} file */
async function bring(file) {
  const archive = file.files?.[0];
  if (!archive) return;
  busy = true;
  said = "";
  show();
  said = await refusal(async () => {
    const made = await (await server.ask("POST", `${root}workshops/import`, archive)).json();
    location.assign(placeOf(made.id));
  });
  busy = false;
  show();
}

/** What the server says against it, or nothing. @param {() => Promise<void>} act */
async function refusal(act) {
  try {
    await act();
    return "";
  } catch (error) {
    return error instanceof server.Refused ? error.message : say("workshop_unreachable_now");
  }
}

addEventListener("pageshow", (event) => event.persisted && location.reload());
show();
