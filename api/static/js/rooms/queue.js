// @ts-check
/** The help queue on a helper's phone: who waits, take, what it was. */

import { el, plate, symbol } from "../dom.js";
import { createHold } from "../hold.js";
import { nicknameField } from "../names.js";
import { Refused, ask } from "../server.js";
import { openSheet } from "../sheets.js";
import { say } from "../words.js";
import { guessWords, kindWords, offered } from "./kinds.js";
import { listen } from "./listen.js";
import { alone, chart, guess, nameOf, notLive, picture, since } from "./queue-parts.js";
import { draw, root, speakOut, told } from "./room.js";

const MINUTES_MS = 10_000;
const PATIENCE_MS = 10_000;

/** @typedef {import("./queue-parts.js").Call} Call */

/** What the server told last. @type {any} */ let queue = null;
let heardAt = 0;
/** @type {import("./listen.js").State} */ let state = "coming";
let out = "";
/** Which call is opened, and whether it is being told what it was. */
let opened = /** @type {{id: string, solving: boolean} | null} */ (null);
/** What happened that nobody on this phone did. */
let note = "";
/** Which call somebody else was quicker to take: once it is solved or waits again, that need not be said any more. */
let quicker = "";
let busy = false;

const workshop = told.workshop;
const address = workshop && `${root}workshops/${workshop.id}`;
const hold = createHold(show);
const ear = workshop && listen(address, {
  heard: (next) => {
    if (queue && !next.over && waiting(next).length > waiting(queue).length) speakOut(say("queue_waiting", { n: waiting(next).length }));
    queue = next;
    heardAt = performance.now();
    show();
  },
  changed: (next, words) => {
    state = next;
    out = words;
    show();
  },
});

/** @param {any} of */
const waiting = (of) => of.calls.filter((/** @type {Call} */ one) => one.state === "waiting");
const late = () => (performance.now() - heardAt) / 1000;

function show() {
  if (hold.on()) return hold.wait(true);
  hold.first();
  if (quicker && !queue?.calls.some((/** @type {Call} */ one) => one.id === quicker && one.state === "taken")) note = quicker = "";
  const call = opened && queue?.calls.find((/** @type {Call} */ one) => one.id === opened?.id);
  if (opened && queue && !call) {
    opened = null;
    note = note || say("queue_gone");
  }
  document.getElementById("bar")?.classList.toggle("loose", state === "lost");
  if (!workshop) return showNone();
  if (state === "out") return showOut();
  if (!queue) return draw({ ...head(), body: [state === "lost" ? lost() : alone("loading", say("queue_coming"), "")] });
  if (queue.over) return showOver();
  if (call && opened?.solving) return showKinds(call);
  if (call) return showCall(call);
  return showList();
}

function head() {
  const under = queue && [say("queue_benches", { n: queue.benches }), say("queue_helpers", { n: queue.helpers })].join(say("comma"));
  return { title: queue?.name ?? workshop?.name ?? say("queue_title"), under, back: { words: say("room_back"), href: "./" } };
}

function showNone() {
  const choose = el("a", { class: "plate main", href: `${root}rooms/workshops` }, say("queue_workshops"));
  draw({ ...head(), body: [alone("empty", say("queue_none"), say("queue_none_do"))], foot: [choose] });
}

/** What went wrong is still worth a look; nobody comes any more. */
function showOver() {
  const over = alone("empty", say("queue_over"), say("help_over_do"));
  draw({ ...head(), body: [el("div", { class: "queue" }, el("div", { class: "waits" }, ...notes(), over), chart(queue.chart))] });
}

function showOut() {
  const join = el("a", { class: "plate main", href: `${root}rooms/join` }, say("queue_join"));
  draw({ title: say("queue_title"), body: [alone("error", say("queue_out"), out)], foot: [join] });
}

function lost() {
  const at = new Date(Date.now() - late() * 1000).toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit" });
  return notLive(at, () => ear?.again());
}

const notes = () => [
  state === "lost" && lost(),
  note && el("p", { class: "note-line label", role: "status" }, note),
];

// ---------------------------------------------------------------- the list

function showList() {
  const n = waiting(queue).length;
  const empty = !queue.calls.length && alone("empty", say("queue_empty"), say("queue_nobody"));
  const heading = queue.calls.length ? el("h1", { class: "say", id: "heading", tabindex: "-1" }, n ? say("queue_waiting", { n }) : say("queue_nobody")) : null;
  const list = queue.calls.length ? el("ul", { class: "stack" }, ...queue.calls.map(row)) : null;
  const asks = plate(say("queue_asks"), askSheet, { id: "asks" });
  draw({
    ...head(),
    body: [el("div", { class: "queue" }, el("div", { class: "waits" }, ...notes(), heading, empty, list), chart(queue.chart))],
    foot: [asks],
  });
}

/** @param {Call} call */
function row(call) {
  const name = nameOf(call);
  const act = call.state === "waiting"
    ? plate(say("queue_take"), () => take(call), { id: `take-${call.id}`, "aria-label": say("queue_take_name", { name }) })
    : plate(say("queue_open"), () => open(call), { id: `open-${call.id}`, kind: "quiet", "aria-label": say("queue_open_name", { name }) });
  return el("li", { class: call.yours ? "slip whole wait yours" : "slip whole wait" }, picture(call),
    el("div", { class: "about" }, el("h2", {}, name), el("span", { class: "label soft num since", "data-call": call.id }, since(call, late())),
      guess(call), act));
}

/** Minutes go on though nothing is told. */
setInterval(() => {
  for (const place of document.querySelectorAll("[data-call]")) {
    const call = queue?.calls.find((/** @type {Call} */ one) => one.id === /** @type {HTMLElement} */ (place).dataset.call);
    const words = call && since(call, late());
    if (words && place.textContent !== words) place.textContent = words;
  }
}, MINUTES_MS);

// ---------------------------------------------------------------- one call

/** @param {Call} call */
function open(call) {
  note = quicker = "";
  opened = { id: call.id, solving: false };
  show();
  arrive();
}

function shut() {
  opened = null;
  note = quicker = "";
  show();
  arrive();
}

/** Another view begins at its heading, for eyes and for keys. */
function arrive() {
  document.getElementById("room")?.scrollTo(0, 0);
  document.getElementById("heading")?.focus();
}

const backToList = () => ({ words: say("room_back"), act: shut });

/** @param {Call} call */
function showCall(call) {
  const taken = call.state === "taken";
  const goes = call.draft ? `${root}#${call.draft}` : `${root}?for=${encodeURIComponent(call.sculpture)}`;
  const look = el("a", { class: "plate main", href: goes, id: "look" }, say(call.draft ? "queue_look" : "queue_photograph"));
  const slip = el("section", { class: "slip whole one-call" }, picture(call, "wide"),
    el("h1", { class: "say", id: "heading", tabindex: "-1" }, nameOf(call)),
    call.maker && el("p", { class: "label soft" }, call.maker),
    el("p", {}, guess(call)),
    el("p", { class: "label soft since", "data-call": call.id }, since(call, late())));
  draw({
    ...head(),
    back: backToList(),
    body: [...notes(), slip],
    foot: taken
      ? [
        plate(say("queue_back"), () => move(call, "back"), { id: "put-back" }),
        plate(say("queue_solved"), solving, { id: "solved" }),
        look,
      ]
      : [plate(say("queue_take"), () => take(call), { kind: "main", id: `take-${call.id}` })],
  });
}

function solving() {
  if (opened) opened.solving = true;
  show();
  arrive();
}

/** @param {Call} call */
function showKinds(call) {
  const kinds = offered(call.guess, queue.chart.kinds);
  const plates = kinds.map((kind) => {
    const guessed = call.guess?.code === kind && call.guess;
    const words = guessed ? guessWords(guessed) : kindWords(kind);
    return el("button", { type: "button", class: "plate", id: `kind-${kind}`, onclick: () => move(call, "solve", { kind }) },
      guessed && el("span", { class: `level ${guessed.level}` }, symbol(`level-${guessed.level}`)), el("span", {}, words), guessed && el("span", { class: "small soft push" }, say("queue_guess")));
  });
  draw({
    ...head(),
    back: { words: say("room_back"), act: () => open(call) },
    body: [...notes(), el("h1", { class: "say", id: "heading", tabindex: "-1" }, say("queue_what")), el("div", { class: "answers" }, ...plates)],
  });
}

// ---------------------------------------------------------------- what is told to the server

/** @param {Call} call */
const take = (call) => move(call, "take");

/** @param {Call} call @param {"take" | "back" | "solve"} what @param {object} [body] */
async function move(call, what, body) {
  const done = await send(`calls/${call.id}/${what}?after=${call.revision}`, body, (now) => {
    quicker = now.state === "taken" && !now.yours ? now.id : "";
    note = quicker ? say("queue_quicker", { helper: now.helper || say("queue_laptop") }) : say("queue_changed");
  });
  if (done) opened = what === "take" ? { id: call.id, solving: false } : null;
  else if (opened) opened.solving = false;
  await ear?.refresh().catch(() => undefined);
  show();
  if (done) arrive();
}

/** @param {string} where @param {object | undefined} body @param {(call: any) => void} lostTo somebody else was quicker */
async function send(where, body, lostTo) {
  if (busy) return false;
  busy = true;
  note = quicker = "";
  try {
    await ask("POST", root + where, body, AbortSignal.timeout(PATIENCE_MS));
    return true;
  } catch (error) {
    if (!(error instanceof Refused)) note = say("queue_not_sent");
    else if (error.status === 409 && error.told?.call) lostTo(error.told.call);
    else note = error.message;
    return false;
  } finally {
    busy = false;
  }
}

/** A bench that comes by foot, or waves. */
function askSheet() {
  const field = nicknameField({ id: "bench-name", label: say("queue_asks_which") });
  const said = el("p", { class: "warn", role: "alert" });
  const form = el("form", {
    class: "room asks",
    onsubmit: async (/** @type {Event} */ event) => {
      event.preventDefault();
      const bench = /** @type {HTMLInputElement} */ (document.getElementById("bench-name")).value.trim();
      if (!bench) return;
      if (await send(`workshops/${workshop.id}/calls`, { bench }, () => undefined)) {
        /** @type {HTMLDialogElement} */ (document.getElementById("sheet")).close();
        await ear?.refresh().catch(() => undefined);
      } else {
        said.textContent = note;
        note = "";
      }
    },
  }, field, said, el("button", { type: "submit", class: "plate main", id: "asks-go" }, say("queue_asks_go")));
  openSheet(say("queue_asks"), [form]);
  document.getElementById("bench-name")?.focus();
}

for (const part of ["room", "foot"]) hold.watch(/** @type {HTMLElement} */ (document.getElementById(part)));
show();
