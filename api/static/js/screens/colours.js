// @ts-check
/** Colours: tap each dough, pick its role. */

import { el, plate, svg, symbol, tabs } from "../dom.js";
import { apart } from "../dough-names.js";
import { outlines, samples } from "../marks.js";
import { zoomPlates } from "../plates.js";
import { say } from "../words.js";

const ALIKE = 18; // CIE 1976 difference below which a phone confuses two doughs under room light (estimated)

/** @type {import("./screen.js").Screen} */
export const colours = {
  tell,
  step: 1,
  back: "start",
  state: { active: 0, adding: false },
  picture: {
    taps: true,
    tappable: () => true,
    tap: (app, at) => app.tapDough(at),
    spots: ({ job }) => job.palette.flatMap((/** @type {any} */ dough, /** @type {number} */ i) =>
      dough.taps.map((/** @type {any} */ at, /** @type {number} */ n) => ({ key: `${i}.${n}`, at }))),
    move,
    marks: ({ job, active, adding }) => samples(job.palette, adding ? -1 : active),
    lines: ({ pieces }) => outlines(pieces ?? []),
    plates: zoomPlates,
  },
};

/** A tap on dough was dragged. @param {any} app @param {string} key @param {[number, number]} at */
function move(app, key, at) {
  const [i, n] = key.split(".").map(Number);
  const taps = app.state().job.palette[i].taps.map((/** @type {any} */ p, /** @type {number} */ m) => (m === n ? at : p));
  app.editDough(i, { taps });
}

/** @param {any} app */
function tell(app) {
  const { job, active, adding } = app.state();
  const ready = job.palette.some((/** @type {any} */ one) => one.role === "conductive" && one.taps.length);
  const next = job.palette[active];
  const hint = adding ? say("colours_tap_new") : next ? say("colours_active", { n: active + 1, name: next.name }) : say("colours_first");
  return {
    words: [
      el("div", { class: "intro" },
        el("h1", { class: "say" }, say("colours_title")),
        hint && el("p", { class: "label soft" }, hint)),
      ...job.palette.map((/** @type {any} */ one, /** @type {number} */ i) => row(app, one, i, i === active && !adding)),
      note(app),
      job.palette.length > 0 && sizeRow(app),
    ],
    foot: [
      plate(say("colours_add"), () => app.set({ adding: true }), { disabled: !job.palette.length || adding }),
      plate(say("colours_next"), () => (ready ? app.go("entries") : app.speak(say("colours_need"))),
        { kind: "main", "aria-disabled": String(!ready) }),
    ],
  };
}

/** @param {any} app @param {any} dough @param {number} i @param {boolean} active */
function row(app, dough, i, active) {
  const change = (/** @type {object} */ patch) => app.editDough(i, patch);
  const roles = ["conductive", "insulating", "table"].map((value) => ({ value, words: say(`role_${value}`) }));
  const told = say(`colours_taps_${dough.role}`, { n: dough.taps.length });
  const name = el("input", {
    value: dough.name,
    maxlength: 40,
    "aria-label": say("colours_name"),
    autocomplete: "off",
    onchange: (/** @type {any} */ event) => change({ name: event.target.value.trim() || dough.name }),
  });
  const choose = el("button", {
    type: "button",
    class: "choose",
    "aria-label": `${say("colours_choose")}: ${dough.name}`,
    "aria-pressed": String(active),
    onclick: () => app.set({ active: i, adding: false }),
  }, blob(dough.rgb));
  return el("article", { class: active ? "dough active" : "dough" },
    choose,
    el("span", { class: "named" }, `${i + 1}`, name),
    active ? plate(say("colours_remove"), () => app.removeDough(i), { kind: "quiet" }) : el("span", { class: "small soft" }, told),
    tabs(roles, dough.role, (role) => change({ role }), { label: say("colours_role"), tight: true }));
}

/** @param {number[] | null} rgb */
function blob(rgb) {
  const d = "M4 24C1 12 11 3 21 4s21 3 21 16-9 17-20 16S7 35 4 24z";
  const fill = rgb ? `rgb(${rgb.join(",")})` : "var(--well)";
  return svg("svg", { class: "blob", viewBox: "0 0 44 40", "aria-hidden": "true" },
    svg("path", { d, fill, stroke: "currentColor", "stroke-width": 2 }));
}

/** Whether the doughs can be told apart, or what the server said about them. @param {any} app */
function note(app) {
  const { job, previewNote, previewing } = app.state();
  if (previewNote) return line("fix", "", previewNote);
  if (previewing) return el("p", { class: "note soft" }, say("colours_looking"));
  const known = job.palette.filter((/** @type {any} */ one) => one.rgb);
  if (known.length < 2) return null;
  for (const a of known) {
    for (const b of known) {
      if (a === b || a.role === b.role || apart(a.rgb, b.rgb) >= ALIKE) continue;
      return line("watch", "", say("colours_alike", { a: a.name, b: b.name }));
    }
  }
  return line("good", say("colours_apart"), say("colours_apart_more"));
}

/** @param {string} level @param {string} first @param {string} rest */
function line(level, first, rest) {
  return el("p", { class: "note" }, symbol(`level-${level}`, `level ${level}`),
    el("span", {}, first && el("b", {}, `${first} `), rest));
}

/** @param {any} app */
function sizeRow(app) {
  const { size, base } = app.state().job;
  const told = size.points.length === 2 && size.mm;
  const words = told ? say("size_told", { mm: size.mm }) : base.scale?.mm_per_px ? say("size_pixel") : say("size_none");
  return el("div", { class: "size-row label" }, el("span", {}, words),
    plate(told ? say("size_change") : say("size_add"), () => app.go("size"), { kind: "quiet" }));
}
