// @ts-check
/** Colours: tap each dough, say which one conducts; the doughs of the day are proposed. */

import { el, plate, svg, symbol, tabs } from "../dom.js";
import { apart } from "../dough-names.js";
import { accept, editDough, forget, removeDough, rename, setRole, tapDough } from "../doughs.js";
import { proposed } from "../dough-marks.js";
import { outlines, samples } from "../marks.js";
import { zoomPlates } from "../plates.js";
import { nameOf, say } from "../words.js";
import { keyOf, remembered, withProposal } from "../workshop.js";
import { sizeWords } from "./size.js";

const ALIKE = 18; // CIE 1976 difference below which a phone confuses two doughs under room light (estimated)
const ROLES = ["conductive", "insulating", "table"];

/** @type {import("./screen.js").Screen} */
export const colours = {
  tell,
  step: 1,
  back: "start",
  state: { active: 0, adding: false, guessed: [], proposal: null, seeking: false, looked: null },
  picture: {
    taps: true,
    tappable: () => true,
    tap: (app, at) => tapDough(app, at),
    spots: ({ job, proposal }) => withProposal(job, proposal).palette.flatMap((/** @type {any} */ dough, /** @type {number} */ i) =>
      dough.taps.map((/** @type {any} */ at, /** @type {number} */ n) => ({ key: `${i}.${n}`, at }))),
    move,
    extent: ({ job, proposal }) => withProposal(job, proposal).palette.flatMap((/** @type {any} */ one) => (one.role === "table" ? [] : one.taps)),
    marks: ({ job, active, adding, proposal }) =>
      [...samples(job.palette, adding ? -1 : active), ...proposed(job.palette, (/** @type {any} */ one) => proposal?.[keyOf(one)] ?? [])],
    lines: ({ pieces }) => outlines(pieces ?? []),
    plates: zoomPlates,
  },
};

/** A tap on dough was dragged, or a place that was proposed. @param {any} app @param {string} key @param {[number, number]} at */
function move(app, key, at) {
  const [i, n] = key.split(".").map(Number);
  const { job, proposal } = app.state();
  const put = (/** @type {any[]} */ taps) => taps.map((p, m) => (m === n ? at : p));
  const dough = job.palette[i];
  if (dough.taps.length) return editDough(app, i, { taps: put(dough.taps) });
  app.set({ proposal: { ...proposal, [keyOf(dough)]: put(proposal[keyOf(dough)]) } });
}

/** @param {any} app */
function tell(app) {
  const state = app.state();
  const { job, adding, proposal, active } = state;
  const alike = alikeNow(state);
  const last = alike[0] ? Math.max(...alike[0].at.filter((at) => at >= 0)) : -1;
  const rows = job.palette.flatMap((/** @type {any} */ one, /** @type {number} */ i) => [
    row(app, one, i, i === active && !adding, bracket(alike[0]?.at, i)),
    i === last && alikeNote(alike[0], true),
  ]);
  return {
    words: [intro(state), ...rows, ...notes(state, alike), job.palette.length > 0 && more(app), remembered().length > 0 && forgetRow(app)],
    foot: proposal
      ? [plate(say("colours_add"), () => app.set({ adding: true }), { disabled: adding }),
        plate(say("colours_accept"), () => accept(app), { kind: "main" })]
      : foot(app),
  };
}

/** @param {any} app */
function foot(app) {
  const { job, adding } = app.state();
  const ready = job.palette.some((/** @type {any} */ one) => one.role === "conductive" && one.taps.length);
  return [
    plate(say("colours_add"), () => app.set({ adding: true }), { disabled: !job.palette.length || adding }),
    plate(say("colours_next"), () => (ready ? app.go("entries") : app.speak(say("colours_need"))),
      { kind: "main", "aria-disabled": String(!ready) }),
  ];
}

/** @param {any} state */
function intro({ job, active, adding, proposal, seeking, guessed }) {
  const next = job.palette[active];
  const doughs = job.palette.filter((/** @type {any} */ one) => one.role !== "table");
  const unsure = doughs.length > 1 && doughs.every((/** @type {any} */ one) => guessed.includes(keyOf(one)));
  const open = next && !next.taps.length && !proposal?.[keyOf(next)];
  const title = proposal ? "colours_known" : open && !adding ? null : "colours_title";
  const hint = adding ? say("colours_tap_new")
    : seeking ? say("colours_seeking")
      : proposal ? job.size.kind !== "mat" && say("colours_known_how") // from the mat's rings, not from the last photo
        : unsure ? say("colours_which")
          : open ? say("colours_open_how")
            : next ? say("colours_active", { n: active + 1, name: next.name }) : say("colours_first");
  return el("div", { class: "intro" },
    el("h1", { class: "say" }, title ? say(title) : say("colours_open", { n: active + 1, name: next.name })),
    hint && el("p", { class: "label soft" }, hint));
}

/** @param {any} app @param {any} dough @param {number} i @param {boolean} active @param {string} joined */
function row(app, dough, i, active, joined) {
  const { guessed } = app.state();
  const name = el("input", {
    value: nameOf(dough.name),
    maxlength: 40,
    "aria-label": say("colours_name"),
    autocomplete: "off",
    onchange: (/** @type {any} */ event) => rename(app, i, event.target.value.trim()),
  });
  const pick = () => app.set({ active: i, adding: false });
  const choose = el("button", {
    type: "button", class: "choose", "aria-label": `${say("colours_choose")}: ${nameOf(dough.name)}`,
    "aria-pressed": String(active), onclick: pick,
  }, blob(dough.rgb));
  const table = dough.role === "table" && !active;
  const side = active
    ? plate(say("colours_remove"), () => removeDough(app, i), { kind: "quiet" })
    : table ? plate(say("colours_change"), pick, { kind: "quiet" }) : el("span", { class: "small soft" }, taps(app.state(), dough));
  const roles = tabs(ROLES.map((value) => ({ value, words: say(`role_${value}`) })), dough.role,
    (role) => setRole(app, i, role), { label: say("colours_role"), tight: true });
  if (guessed.includes(keyOf(dough))) roles.classList.add("guessed");
  return el("article", { class: `dough ${active ? "active" : ""} ${joined}` },
    choose, el("span", { class: "named" }, `${i + 1}`, name), side, !table && roles);
}

/** How often it was tapped, or where it seems to be. @param {any} state @param {any} dough */
function taps({ proposal, seeking }, dough) {
  const n = dough.taps.length;
  if (n) return say(`colours_taps_${dough.role}`, { n });
  const found = proposal?.[keyOf(dough)]?.length ?? 0;
  return found ? say("colours_found", { n: found }) : seeking ? "" : say("colours_untapped");
}

/** @param {number[] | null} rgb */
function blob(rgb) {
  const d = "M4 24C1 12 11 3 21 4s21 3 21 16-9 17-20 16S7 35 4 24z";
  const fill = rgb ? `rgb(${rgb.join(",")})` : "var(--well)";
  return svg("svg", { class: "blob", viewBox: "0 0 44 40", "aria-hidden": "true" },
    svg("path", { d, fill, stroke: "currentColor", "stroke-width": 2 }));
}

/** @typedef {{at: number[], names: string[]}} Pair which rows look alike; -1 is a table without a row */

/** Pairs that look alike, as the server found them; where it has not seen a dough yet, by the browser's own estimate.
 * @param {any} state @returns {Pair[]} */
export function alikeNow({ job, looked }) {
  const at = (/** @type {string} */ name) => job.palette.findIndex((/** @type {any} */ one) => one.name === name);
  const told = (looked?.findings ?? []).filter((/** @type {any} */ one) => one.code === "colours-too-alike" && one.colours.length === 2);
  const found = told.map((/** @type {any} */ one) => ({ at: one.colours.map(at), names: one.colours }));
  return [...found.filter((/** @type {Pair} */ pair) => pair.at[0] >= 0), ...estimated(job, looked?.doughs ?? [])];
}

/** @param {any} job @param {string[]} seen doughs that the server has looked at @returns {Pair[]} */
function estimated(job, seen) {
  const known = job.palette.map((/** @type {any} */ one, /** @type {number} */ i) => ({ ...one, i })).filter((/** @type {any} */ one) => one.rgb && one.taps.length);
  const alike = (/** @type {any} */ a, /** @type {any} */ b) => a.i < b.i && a.role !== b.role && apart(a.rgb, b.rgb) < ALIKE;
  const open = (/** @type {any} */ a, /** @type {any} */ b) => !seen.includes(a.name) || !seen.includes(b.name);
  return known.flatMap((/** @type {any} */ a) => known.filter((/** @type {any} */ b) => alike(a, b) && open(a, b))
    .map((/** @type {any} */ b) => ({ at: [a.i, b.i], names: [a.name, b.name] })));
}

/** The part of the bracket at a row. @param {number[] | undefined} at @param {number} i */
function bracket(at, i) {
  if (!at) return "";
  const rows = at.filter((one) => one >= 0);
  const [first, last] = [Math.min(...rows), Math.max(...rows)];
  if (i < first || i > last) return "";
  return i === first ? "joined joined-first" : i === last ? "joined joined-end" : "joined";
}

/** @param {Pair} pair @param {boolean} joined whether the bracket ends at it */
function alikeNote({ at, names }, joined) {
  const [a, b] = at.map((i, n) => (i < 0 ? "" : `${i + 1} ${names[n]}`));
  const words = b && names[1] !== "table" ? say("colours_alike", { a, b }) : say("colours_alike_table", { a });
  return el("p", { class: joined ? "note joined joined-last" : "note", role: "status" },
    symbol("level-watch", "level watch"), el("span", {}, words));
}

/** Whether the doughs can be told apart, or what the server said about them. @param {any} state @param {Pair[]} alike */
function notes({ job, previewNote, previewing, looked }, alike) {
  if (previewNote) return [line("fix", "", previewNote)];
  const rest = alike.slice(1).map((pair) => alikeNote(pair, false));
  if (previewing) return [...rest, el("p", { class: "note soft" }, say("colours_looking"))];
  const told = job.palette.filter((/** @type {any} */ one) => one.taps.length).length;
  if (alike.length || told < 2 || !looked) return rest;
  return [line("good", say("colours_apart"), say("colours_apart_more"))];
}

/** @param {string} level @param {string} first @param {string} rest */
function line(level, first, rest) {
  return el("p", { class: "note", role: "status" }, symbol(`level-${level}`, `level ${level}`),
    el("span", {}, first && el("b", {}, `${first} `), rest));
}

/** Size and corrections. @param {any} app */
function more(app) {
  const { words, told } = sizeWords(app.state());
  const { pieces } = app.state();
  return el("div", { class: "size-rows label" },
    el("div", { class: "size-row" }, el("span", {}, words),
      plate(told ? say("size_change") : say("size_add"), () => app.go("size"), { kind: "quiet" })),
    pieces?.length > 0 && el("div", { class: "size-row" }, el("span", {}, say("correct_ask")),
      plate(say("correct_open"), () => app.go("correct"), { kind: "quiet" })));
}

/** @param {any} app */
const forgetRow = (app) => el("div", { class: "size-row label" }, el("span", {}, say("colours_kept")),
  plate(say("colours_forget"), () => forget(app), { kind: "quiet" }));
