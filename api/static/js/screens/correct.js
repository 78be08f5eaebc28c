// @ts-check
/** Correct: what the photo shows wrongly is painted over, cut or joined by hand. */

import { el, plate, svg, symbol, tabs } from "../dom.js";
import { lineMarks } from "../correction-marks.js";
import { paletteOf } from "../job.js";
import { outlines } from "../marks.js";
import { zoomPlates } from "../plates.js";
import { nameOf, say } from "../words.js";

const BRUSHES_MM = [2, 4, 8]; // a slit, a roll of dough, a patch
const MOST = { strokes: 60, cuts: 60, joins: 30 }; // the public format takes no more
const LIST = /** @type {Record<string, "strokes" | "cuts" | "joins">} */ ({ brush: "strokes", cut: "cuts", join: "joins" });
const FRAME_MM = 200; // without a size the frame counts as so wide, as on the server

/** @type {import("./screen.js").Screen} */
export const correct = {
  tell,
  step: 1,
  back: ({ correctFrom }) => correctFrom,
  state: { tool: "brush", paint: null, brush: 4, correctFrom: "colours", correctNote: null },
  picture: {
    taps: true,
    room: 0.08,
    tappable: () => true,
    pen,
    drawn,
    marks: ({ job, ...state }) => [
      ...job.strokes.flatMap((/** @type {any} */ one) =>
        lineMarks({ kind: "stroke", width: one.width_mm / mmPerPx(state), ...lookOf(job, one.as), points: one.points })),
      ...job.joins.flatMap((/** @type {any} */ one) => lineMarks({ kind: "join", width: 0, look: "", points: one.points })),
      ...job.cuts.flatMap((/** @type {any} */ one) => lineMarks({ kind: "cut", width: 0, look: "", points: one.points })),
    ],
    lines: ({ pieces }) => outlines(pieces ?? []),
    plates: zoomPlates,
  },
};

/** @param {any} state */
const mmPerPx = ({ looked, photo }) => looked?.photo.mm_per_px ?? FRAME_MM / photo.w;

/** What can be painted: the doughs, the table, and what is no dough. @param {any} job
 * @returns {{as: string, words: string, sign: string, rgb: number[] | null}[]} */
function paints(job) {
  const told = new Set(paletteOf(job).map((one) => one.name));
  const doughs = job.palette.map((/** @type {any} */ one, /** @type {number} */ i) => ({ as: one.name, words: nameOf(one.name), sign: `${i + 1}`, rgb: one.rgb, role: one.role }));
  return [
    ...doughs.filter((/** @type {any} */ one) => one.role !== "table" && told.has(one.as)),
    { as: "table", words: say("correct_table"), sign: say("correct_table_sign"), rgb: null },
    { as: "not-dough", words: say("correct_not_dough"), sign: "×", rgb: null },
  ];
}

/** How a stroke of this name is drawn. @param {any} job @param {string} as */
function lookOf(job, as) {
  const role = job.palette.find((/** @type {any} */ one) => one.name === as)?.role;
  const look = role === "conductive" ? "" : role === "insulating" ? "wall-line" : "guess";
  return { look, sign: paints(job).find((one) => one.as === as)?.sign ?? "" };
}

/** The paint that is chosen, or the first one. @param {any} state */
const paintOf = ({ job, paint }) => (paints(job).find((one) => one.as === paint) ?? paints(job)[0]).as;

/** @param {any} state @returns {import("../pen.js").Pen} */
function pen(state) {
  if (state.tool !== "brush") return { kind: state.tool, width: 0, look: "" };
  return { kind: "stroke", width: state.brush / mmPerPx(state), look: lookOf(state.job, paintOf(state)).look };
}

/** @param {any} app @param {[number, number][]} points */
function drawn(app, points) {
  const { job, tool, brush } = app.state();
  const list = LIST[tool];
  if (job[list].length >= MOST[list]) return app.set({ correctNote: say("correct_full", { n: MOST[list] }) });
  const one = tool === "brush" ? { as: paintOf(app.state()), points, width_mm: brush } : { points };
  app.edit({ ...job, [list]: [...job[list], one] });
  app.set({ correctNote: null });
  app.speak(say(`correct_drawn_${tool}`));
}

/** @param {any} job */
const count = (job) => job.strokes.length + job.cuts.length + job.joins.length;

/** @param {any} app */
function tell(app) {
  const { job, tool, brush, correctFrom } = app.state();
  const any = count(job) > 0;
  const tools = ["brush", "cut", "join"].map((value) => ({ value, words: say(`correct_${value}`) }));
  const widths = BRUSHES_MM.map((value) => ({ value, words: say("correct_mm", { mm: value }) }));
  return {
    words: [
      el("div", { class: "intro" },
        el("h1", { class: "say" }, say(`correct_title_${tool}`)),
        el("p", { class: "label soft" }, say(`correct_how_${tool}`))),
      el("div", { class: "drawing" },
        tabs(tools, tool, (value) => app.set({ tool: value }), { label: say("correct_tools") }),
        tool === "brush" && choices(app),
        tool === "brush" && tabs(widths, brush, (value) => app.set({ brush: value }), { label: say("correct_width"), tight: true })),
      note(app),
      any && el("div", { class: "size-row label" }, el("span", {}, say("correct_count", { n: count(job) })),
        plate(say("correct_none"), () => app.edit({ ...job, strokes: [], cuts: [], joins: [] }), { kind: "quiet" })),
    ],
    foot: [
      plate(say("undo"), app.undo, { disabled: !app.canUndo() }),
      plate(say("redo"), app.redo, { disabled: !app.canRedo() }),
      correctFrom === "answer"
        ? plate(say("correct_again"), () => app.inspect(), { kind: "main" })
        : plate(say("size_done"), () => app.go(correctFrom), { kind: "main" }),
    ],
  };
}

/** @param {any} app */
function choices(app) {
  const chosen = paintOf(app.state());
  return el("div", { class: "paints", role: "group", "aria-label": say("correct_colour") },
    ...paints(app.state().job).map((one) =>
      el("button", {
        type: "button", class: "paint", "aria-pressed": String(one.as === chosen),
        onclick: () => app.set({ paint: one.as }),
      }, sample(one), el("span", {}, one.words))));
}

/** A blob with its sign; what is no dough is hatched. @param {{as: string, sign: string, rgb: number[] | null}} one */
function sample({ as, sign, rgb }) {
  const d = "M4 24C1 12 11 3 21 4s21 3 21 16-9 17-20 16S7 35 4 24z";
  const hatch = { table: "M6 14H38M4 21H41M6 28H38", "not-dough": "M10 8 34 33M34 8 10 33M22 5V36" }[as];
  return svg("svg", { class: "blob", viewBox: "0 0 44 40", "aria-hidden": "true" },
    svg("path", { d, fill: rgb ? `rgb(${rgb.join(",")})` : "var(--slip)", stroke: "currentColor", "stroke-width": 2 }),
    hatch && svg("path", { d: hatch, stroke: "currentColor", "stroke-width": 1.5 }),
    svg("circle", { cx: 22, cy: 20, r: 11, class: "disc" }),
    svg("text", { x: 22, y: 20, class: "sign" }, sign));
}

/** What the server said of the last line, or that there are too many. @param {any} app */
function note(app) {
  const { previewNote, previewing, correctNote } = app.state();
  const words = correctNote ?? previewNote;
  if (words) return el("p", { class: "note", role: "status" }, symbol("level-fix", "level fix"), el("span", {}, words));
  return previewing ? el("p", { class: "note soft" }, say("colours_looking")) : null;
}
