// @ts-check
/** Size: a thing of known size in the photo, tapped; told back in words. */

import { el, plate, symbol } from "../dom.js";
import { readMat } from "../doughs.js";
import { scaleOf } from "../job.js";
import { sizeLine } from "../dough-marks.js";
import { zoomPlates } from "../plates.js";
import { say } from "../words.js";

/** What can be in the photo, with how many places are tapped at most. @type {[import("../job.js").SizeKind, number][]} */
const KINDS = [["mat", 0], ["card", 4], ["coin", 2], ["points", 2]];
const most = (/** @type {string} */ kind) => Object.fromEntries([...KINDS, ["corners", 4]])[kind];

/** @type {import("./screen.js").Screen} */
export const size = {
  tell,
  step: 1,
  back: "colours",
  state: { matNote: null, matAsked: false },
  picture: {
    taps: true,
    extent: ({ job }) => job.size.points,
    tappable: ({ job }) => job.size.points.length < most(job.size.kind),
    tap: (app, at) => setPoints(app, [...app.state().job.size.points, at]),
    spots: ({ job }) => job.size.points.map((/** @type {any} */ at, /** @type {number} */ n) => ({ key: `${n}`, at })),
    move: (app, key, at) =>
      setPoints(app, app.state().job.size.points.map((/** @type {any} */ p, /** @type {number} */ n) => (String(n) === key ? at : p))),
    marks: ({ job }) => sizeLine(job.size.points),
    plates: zoomPlates,
  },
};

/** @param {any} app @param {object} patch */
function change(app, patch) {
  const { job } = app.state();
  app.edit({ ...job, size: { ...job.size, ...patch } });
}

/** @param {any} app @param {[number, number][]} points */
const setPoints = (app, points) => change(app, { points });

/** What the size is told by, in words, with what follows from it. @param {any} state */
export function sizeWords({ job, looked, photo }) {
  const { kind, points, mm } = job.size;
  const scale = scaleOf(job);
  if (!scale) return { words: say(points.length ? "size_part" : "size_none"), told: false };
  if (scale.mm_per_px) return { words: say("size_pixel"), told: false };
  const words = say(kind === "card" ? `size_told_card_${points.length}` : `size_told_${kind}`, { mm });
  const wide = looked?.photo.true_scale && photo?.w ? say("size_wide", { cm: Math.round((looked.photo.mm_per_px * photo.w) / 10) }) : "";
  return { words: `${words} ${wide}`.trim(), told: true };
}

/** What to do next. @param {any} size */
function how({ kind, points, mm }) {
  const n = points.length;
  if (kind === "mat") return say("size_how_mat");
  if (kind === "card") return say(`size_how_card_${n}`);
  if (kind === "corners") return say("size_how_corners");
  if (n < 2) return say(`size_how_${kind}_${n}`);
  return say(mm ? "size_how_2" : `size_how_${kind}_mm`);
}

/** @param {any} app */
function tell(app) {
  const { job } = app.state();
  const { kind, mm } = job.size;
  const ready = Boolean(scaleOf(job));
  return {
    words: [
      el("div", { class: "intro" },
        el("h1", { class: "say" }, say("size_title")),
        el("p", { class: "label soft" }, how(job.size))),
      el("div", { class: "kinds", role: "group", "aria-label": say("size_title") },
        ...KINDS.map(([value]) => plate(say(`size_kind_${value}`), () => choose(app, value), { "aria-pressed": String(kind === value) }))),
      ["points", "coin"].includes(kind) && field(app, kind, mm),
      note(app),
    ],
    foot: [
      plate(say("size_skip"), () => {
        app.edit({ ...job, size: { kind: "points", points: [], mm: null } });
        app.go("colours");
      }),
      plate(say("size_done"), () => (ready ? app.go("colours") : app.speak(how(job.size))),
        { kind: "main", "aria-disabled": String(!ready) }),
    ],
  };
}

/** @param {any} app @param {string} kind @param {number | null} mm */
const field = (app, kind, mm) => el("div", { class: "fields" },
  el("label", { class: "label", for: "mm" }, say(kind === "coin" ? "size_mm_coin" : "size_mm")),
  el("input", {
    type: "number", inputmode: "decimal", min: "1", step: "any", value: mm ?? "", id: "mm",
    onchange: (/** @type {any} */ event) => change(app, { mm: Number(event.target.value) > 0 ? Number(event.target.value) : null }),
  }));

/** @param {any} app @param {import("../job.js").SizeKind} kind */
async function choose(app, kind) {
  if (kind === app.state().job.size.kind) return;
  app.set({ matNote: null });
  if (kind !== "mat") return change(app, { kind, points: [], mm: null, sides_mm: undefined });
  app.set({ matAsked: true });
  const against = await readMat(app);
  app.set({ matNote: against, matAsked: false });
}

/** What the server says of it: what it is told, or why it cannot be. @param {any} app */
function note(app) {
  const { previewNote, matNote, matAsked } = app.state();
  if (matAsked) return el("p", { class: "note soft" }, say("size_mat_look"));
  const against = matNote ?? previewNote;
  const { words, told } = sizeWords(app.state());
  if (!against && !told) return null;
  const level = against ? "fix" : "good";
  return el("p", { class: "note", role: "status" }, symbol(`level-${level}`, `level ${level}`), el("span", {}, against ?? words));
}
