// @ts-check
/** Size: two places and how far apart they are. */

import { el, plate } from "../dom.js";
import { sizeLine } from "../marks.js";
import { zoomPlates } from "../plates.js";
import { say } from "../words.js";

/** @type {import("./screen.js").Screen} */
export const size = {
  tell,
  step: 1,
  back: "colours",
  picture: {
    taps: true,
    extent: ({ job }) => job.size.points,
    tappable: ({ job }) => job.size.points.length < 2,
    tap: (app, at) => setPoints(app, [...app.state().job.size.points, at].slice(0, 2)),
    spots: ({ job }) => job.size.points.map((/** @type {any} */ at, /** @type {number} */ n) => ({ key: `${n}`, at })),
    move: (app, key, at) =>
      setPoints(app, app.state().job.size.points.map((/** @type {any} */ p, /** @type {number} */ n) => (String(n) === key ? at : p))),
    marks: ({ job }) => sizeLine(job.size.points),
    plates: zoomPlates,
  },
};

/** @param {any} app @param {[number, number][]} points */
function setPoints(app, points) {
  const { job } = app.state();
  app.edit({ ...job, size: { ...job.size, points } });
}

/** @param {any} app */
function tell(app) {
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
        el("p", { class: "label soft" }, say(`size_how_${points.length}`))),
      el("div", { class: "fields" },
        el("label", { class: "label", for: "mm" }, say("size_mm")), field,
        plate(say("size_card"), () => setMm(85.6), { "aria-pressed": String(mm === 85.6) })),
    ],
    foot: [
      plate(say("size_skip"), () => {
        app.edit({ ...job, size: { points: [], mm: null } });
        app.go("colours");
      }),
      plate(say("size_done"), () => (ready ? app.go("colours") : app.speak(say(`size_how_${points.length}`))),
        { kind: "main", "aria-disabled": String(!ready) }),
    ],
  };
}
