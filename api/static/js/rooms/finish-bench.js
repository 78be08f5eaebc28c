// @ts-check
/** Which sculpture a photo is of: asked only if nothing tells. */

import { el, plate, symbol } from "../dom.js";
import { nicknameField } from "../names.js";
import { Refused } from "../server.js";
import { say } from "../words.js";
import { draw, root } from "./room.js";
import { asked } from "./work.js";
import { dayWords } from "./workshop-words.js";

/**
 * The id of the sculpture that this inspection is of. A photo without one is put into that of the bench, and with it
 * the photo of the inspection `before`.
 * @param {string} id of an inspection @param {string | null} before @returns {Promise<string>}
 */
export async function askBench(id, before) {
  const place = await asked("GET", `inspections/${encodeURIComponent(id)}/place`);
  if (place.sculpture) return place.sculpture;
  const here = await asked("GET", "here");
  const earlier = before ? await asked("GET", `inspections/${encodeURIComponent(before)}/place`).catch(() => null) : null;
  const photos = [place.photo, earlier?.photo].filter(Boolean);
  const sculpture = here.sculpture?.id ?? (await asking(place, here));
  for (const photo of photos) await asked("PUT", `sculptures/${sculpture}/photos/${photo}`);
  return sculpture;
}

/** @param {any} place @param {any} here @returns {Promise<string>} */
async function asking(place, here) {
  const known = place.workshop ?? here.workshop?.id;
  const all = known ? [] : await asked("GET", "workshops");
  const workshops = all.filter((/** @type {any} */ one) => !one.ended);
  if (!known && !workshops.length) return new Promise(() => drawNoWorkshop());
  /** @param {string} workshop @param {string} bench */
  const begin = (workshop, bench) => (here.role === "bench"
    ? asked("PUT", "here/bench", { bench })
    : asked("POST", `workshops/${encodeURIComponent(workshop)}/sculptures`, { bench }));
  return new Promise((done) => drawQuestion(known, workshops, async (workshop, bench) => done((await begin(workshop, bench)).id)));
}

function drawNoWorkshop() {
  draw({
    title: say("finish_title"),
    back: { words: say("room_back"), href: "" },
    body: [el("div", { class: "work-empty" }, symbol("state-empty", "state"), el("h1", { class: "say" }, say("finish_no_workshop")))],
    foot: [el("a", { class: "plate main", href: `${root}rooms/workshops` }, say("finish_workshops"))],
  });
}

/** @param {string | undefined} known @param {any[]} workshops
 * @param {(workshop: string, bench: string) => Promise<void>} begin */
function drawQuestion(known, workshops, begin) {
  const choice = el("select", { id: "which" }, ...workshops.map((one) => el("option", { value: one.id }, `${one.entry.name}${say("comma")}${dayWords(one.entry.day)}`)));
  const warning = el("p", { class: "warn", role: "status" });
  const go = async () => {
    const bench = /** @type {HTMLInputElement} */ (document.getElementById("bench-name")).value.trim();
    if (!bench) return void (warning.textContent = say("finish_bench_none"));
    try {
      await begin(known ?? choice.value, bench);
    } catch (error) {
      warning.textContent = error instanceof Refused && error.message ? error.message : say("offline_title");
    }
  };
  const form = el("form", { id: "bench-form", class: "narrow", onsubmit: (/** @type {Event} */ event) => {
    event.preventDefault();
    void go();
  } },
    el("h1", { class: "say" }, say("finish_which_bench")),
    known ? null : el("div", { class: "field" }, el("label", { for: "which" }, say("finish_which_workshop")), choice),
    nicknameField({ id: "bench-name", label: say("finish_bench") }),
    warning);
  draw({
    title: say("finish_title"),
    back: { words: say("room_back"), href: "" },
    body: [form],
    foot: [plate(say("finish_go_on"), () => void go(), { kind: "main" })],
  });
  document.getElementById("bench-name")?.focus();
}
