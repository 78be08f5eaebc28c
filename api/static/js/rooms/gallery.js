// @ts-check
/**
 * The gallery of a workshop, for the projector and the phone: one sculpture at a time. Nothing moves by itself unless
 * somebody asks for it.
 */

import { el, plate, symbol, tabs } from "../dom.js";
import { Refused } from "../server.js";
import { sheetChoice } from "../sheets.js";
import { say } from "../words.js";
import { draw, root, speakOut } from "./room.js";
import { asked, lightList, litWords, photoOf, prefetch, wished } from "./work.js";

/** @typedef {{id: string, title: string, maker: string, overlay: boolean, before: import("./work.js").Look | null,
 * after: import("./work.js").Look}} Slide */

const EACH_MS = 8000; // long enough to read a name and to look (estimated)
const SWIPE_CSS = 50;
const SETTLED_MS = 200;
const still = matchMedia("(prefers-reduced-motion: reduce)");
const leftwards = document.documentElement.dir === "rtl";

let workshop = wished("workshop") ?? "";
let workshopName = "";
/** Where Back leads. */
let home = "";
/** @type {Slide[]} */ let slides = [];
let at = 0;
/** @type {"before" | "after"} */ let when = "after";
/** Whether marks are drawn; null: as each maker chose. @type {boolean | null} */ let marks = null;
let running = 0;

async function start() {
  if (!workshop) workshop = await anyWorkshop();
  if (!workshop) return nothing(say("finish_no_workshop"));
  const where = `workshops/${encodeURIComponent(workshop)}`;
  const [told, here] = await Promise.all([asked("GET", where), asked("GET", "here"), read()]);
  workshopName = told.entry.name;
  if (here.role === "owner") home = `rooms/workshop?id=${encodeURIComponent(workshop)}`;
  if (here.role === "helper") home = "rooms/queue";
  show();
}

async function anyWorkshop() {
  const here = await asked("GET", "here");
  if (here.workshop) return here.workshop.id;
  const all = await asked("GET", "workshops");
  return all[0]?.id ?? "";
}

/** What is finished by now; the slide that is seen stays the one. @returns {Promise<boolean>} whether anything is other */
async function read() {
  /** @type {Slide[]} */ const newer = await asked("GET", `workshops/${encodeURIComponent(workshop)}/gallery`);
  if (JSON.stringify(newer) === JSON.stringify(slides)) return false;
  const seen = slides[at]?.id;
  slides = newer;
  at = Math.max(0, slides.findIndex((one) => one.id === seen));
  return true;
}

/** @param {string} words */
function nothing(words) {
  draw({
    title: workshopName || say("gallery_title"),
    back: { words: say("room_back"), href: home },
    body: [el("div", { class: "work-empty" }, symbol("state-empty", "state"), el("h1", { class: "say" }, words))],
    foot: [plate(say("gallery_look_again"), () => start().catch(failed), { kind: "main" })],
  });
}

/** @param {unknown} error */
function failed(error) {
  nothing(error instanceof Refused && error.message ? error.message : say("offline_title"));
}

/** @param {Slide} one */
const nameOf = (one) => one.title || say("gallery_untitled");

function show() {
  if (!slides.length) return nothing(say("gallery_empty"));
  const slide = slides[at];
  const look = (when === "before" && slide.before) || slide.after;
  const words = say(look === slide.before ? "finish_photo_before" : "finish_photo_now", { name: nameOf(slide) });
  const place = el("div", { class: "slide-photo", onpointerdown: press, onpointerup: release },
    photoOf(look, { marks: marks ?? slide.overlay, wrong: look === slide.before, words }));
  draw({
    title: workshopName,
    under: say("gallery_place", { n: at + 1, of: slides.length }),
    back: { words: say("room_back"), href: home },
    more: more(slide),
    body: [el("article", { class: "slide" },
      place,
      el("div", { class: "slide-words" },
        el("h1", { class: "say" }, nameOf(slide)),
        slide.maker ? el("p", { class: "do" }, say("gallery_by", { maker: slide.maker })) : null,
        lightList(look.lights),
        el("div", { class: "slide-tabs" }, ...choices(slide))))],
    foot: slides.length === 1 ? [] : [
      plate(say("gallery_previous"), () => go(-1), { id: "previous" }),
      running ? plate(say("gallery_stop"), stop, { id: "stop" }) : null,
      plate(say("gallery_next"), () => go(1), { kind: "main", id: "next" }),
    ],
  });
  speakOut(`${words} ${litWords(look)}`);
  if (slide.before) prefetch(slide.before);
  prefetch(slides[(at + 1) % slides.length].after);
}

/** @param {Slide} slide */
function choices(slide) {
  const times = [{ value: "before", words: say("finish_before") }, { value: "after", words: say("plan_now") }];
  const kinds = [{ value: false, words: say("finish_photo") }, { value: true, words: say("finish_marks") }];
  return [
    slide.before && tabs(times, when, (value) => {
      when = value;
      show();
    }, { label: say("finish_when"), tight: true }),
    tabs(kinds, marks ?? slide.overlay, (value) => {
      marks = value;
      show();
    }, { label: say("finish_shown"), tight: true }),
  ];
}

/** @param {Slide} slide */
function more(slide) {
  const sheet = document.getElementById("sheet");
  const whole = document.fullscreenEnabled && !document.fullscreenElement;
  return [
    still.matches ? null : sheetChoice(say(running ? "gallery_stop" : "gallery_run"), running ? stop : run),
    whole ? sheetChoice(say("gallery_whole"), () => void document.documentElement.requestFullscreen()) : null,
    el("a", { class: "plate", href: `${root}rooms/finish?sculpture=${encodeURIComponent(slide.id)}`, onclick: () => sheet && /** @type {any} */ (sheet).close() }, say("gallery_record")),
  ].filter(Boolean);
}

/** On by so many, round and round; whoever comes round sees what was finished meanwhile. @param {number} by */
function go(by) {
  const next = at + by;
  at = (next + slides.length) % slides.length;
  when = "after";
  show();
  if (next !== at) void read().then((other) => other && show(), () => undefined);
}

function run() {
  running = /** @type {any} */ (setInterval(() => go(1), EACH_MS));
  show();
}

function stop() {
  clearInterval(running);
  running = 0;
  show();
}

// ---------------------------------------------------------------- fingers and keys

/** @type {{x: number, y: number} | null} */ let pressed = null;

/** @param {PointerEvent} event */
function press(event) {
  pressed = { x: event.clientX, y: event.clientY };
}

/** @param {PointerEvent} event */
function release(event) {
  if (!pressed) return;
  const [x, y] = [event.clientX - pressed.x, event.clientY - pressed.y];
  pressed = null;
  if (Math.abs(x) > SWIPE_CSS && Math.abs(x) > 2 * Math.abs(y)) go(x < 0 === leftwards ? -1 : 1);
}

/** @type {Record<string, number>} */
const KEYS = { ArrowRight: leftwards ? -1 : 1, ArrowLeft: leftwards ? 1 : -1, PageDown: 1, PageUp: -1 };

addEventListener("keydown", (event) => {
  const open = /** @type {HTMLDialogElement | null} */ (document.getElementById("sheet"))?.open;
  const by = event.altKey || event.ctrlKey || event.metaKey || open ? 0 : KEYS[event.key] ?? 0;
  if (!by || !slides.length) return;
  event.preventDefault();
  go(by);
});
still.addEventListener("change", () => still.matches && running && stop());
/** @type {any} */ let settled = 0;
addEventListener("resize", () => {
  clearTimeout(settled);
  settled = setTimeout(() => slides.length && show(), SETTLED_MS);
});
start().catch(failed);
