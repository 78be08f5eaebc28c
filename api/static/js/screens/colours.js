// @ts-check
/** Colours: tap each dough, pick its role; and, beside it, the size. */

import { el, plate, svg, symbol, tabs } from "../dom.js";
import { apart } from "../dough-names.js";
import { say } from "../words.js";

const ALIKE = 18; // CIE 1976 difference below which a phone confuses two doughs under room light (estimated)

/** @param {any} app */
export function colours(app) {
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
  const told = say("colours_taps", { n: dough.taps.length, role: dough.role });
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

/** @param {any} app */
export function size(app) {
  const { job } = app.state();
  const { points, mm } = job.size;
  const setMm = (/** @type {number | null} */ value) => app.edit({ ...job, size: { points, mm: value } });
  const field = el("input", {
    type: "number", inputmode: "decimal", min: "1", step: "any", value: mm ?? "", id: "mm",
    onchange: (/** @type {any} */ event) => setMm(Number(event.target.value) > 0 ? Number(event.target.value) : null),
  });
  const ready = points.length === 2 && mm;
  return {
    words: [
      el("div", { class: "intro" },
        el("h1", { class: "say" }, say("size_title")),
        el("p", { class: "label soft" }, say("size_how", { n: points.length }))),
      el("div", { class: "fields" },
        el("label", { class: "label", for: "mm" }, say("size_mm")), field,
        plate(say("size_card"), () => setMm(85.6), { "aria-pressed": String(mm === 85.6) })),
    ],
    foot: [
      plate(say("size_skip"), () => {
        app.edit({ ...job, size: { points: [], mm: null } });
        app.go("colours");
      }),
      plate(say("size_done"), () => (ready ? app.go("colours") : app.speak(say("size_how", { n: points.length }))),
        { kind: "main", "aria-disabled": String(!ready) }),
    ],
  };
}
