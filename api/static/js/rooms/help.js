// @ts-check
/** Help: for a tablet that children use. Say which bench, press one button, see who comes. */

import { el, plate, symbol } from "../dom.js";
import { BENCHES } from "../here.js";
import { createHold } from "../hold.js";
import { emptyJob } from "../job.js";
import { nicknameField } from "../names.js";
import { forget, kept as keptHere } from "../keep.js";
import { Refused, ask } from "../server.js";
import { newToken, sendPhoto } from "../upload.js";
import { say } from "../words.js";
import { listen } from "./listen.js";
import { alone, benchWords } from "./queue-parts.js";
import { draw, root, speakOut, told } from "./room.js";

const LEAVE_MS = 20_000; // long enough to read, short enough for the next in line (estimated)
const PATIENCE_MS = 10_000;
const MOST_KNOWN = 12;

/** @typedef {{id: string, revision: number, state: string, sculpture: string, photo?: string | null}} Call */

/** What the server told last. @type {any} */ let queue = null;
/** @type {import("./listen.js").State} */ let state = "coming";
/** The bench that uses the tablet now. @type {string | null} */ let bench = told.bench;
/** The one that used it last: what the page of the picture keeps is of that one. @type {string | null} */ let last = told.bench;
let said = "";
/** Why it is out, as the server says it. */
let out = "";
let typed = "";
/** @type {"" | "goes" | "there" | "not"} */ let photo = "";
let busy = false;
/** Pressed without a way to the laptop: it goes as soon as there is one. */
let kept = false;
/** @type {any} */ let leaves = null;

const workshop = told.workshop;
const address = workshop && `${root}workshops/${workshop.id}`;
const own = told.role === "bench";
const hold = createHold(show);
const ear = workshop && listen(address, {
  heard: (next) => {
    const before = phase();
    queue = next;
    if (!phase()) photo = "";
    if (phase() !== before && phase() === "taken") speakOut(say("help_coming"));
    if (looks() !== drawn) show();
  },
  changed: (next, words) => {
    state = next;
    out = words;
    if (state === "live" && kept) askForHelp();
    else show();
  },
});

/** All that can be seen; what changes nothing of it is not drawn, so that nothing moves under a finger. */
const looks = () => JSON.stringify([state, said, kept, bench, phase(), bench && phase() && before(), pictureNow(), queue?.over, known()]);
let drawn = "";

// ---------------------------------------------------------------- whose call it is

/** A bench is told of its own call only; a helper's device that stands in for a tablet finds it in the queue. @returns {Call | null} */
function mine() {
  if (!queue || !bench) return null;
  return own ? queue.call : queue.calls.find((/** @type {any} */ one) => same(one.bench, bench)) ?? null;
}

/** @param {string} one @param {string} other */
const same = (one, other) => one.normalize("NFKC").toLowerCase() === other.normalize("NFKC").toLowerCase();

function before() {
  if (own) return queue.before;
  const at = queue.calls.findIndex((/** @type {any} */ one) => one.id === mine()?.id);
  return queue.calls.slice(0, at).filter((/** @type {any} */ one) => one.state === "waiting").length;
}

/** What this page did with a photo; else whether one is there with the call. */
const pictureNow = () => photo || ((own ? queue?.photo : mine()?.photo) ? "there" : "");

/** @returns {"" | "waiting" | "taken"} */
function phase() {
  return /** @type {any} */ (mine()?.state ?? "");
}

// ---------------------------------------------------------------- benches of this tablet

const KNOWN = `${BENCHES}${workshop?.id}`;

/** @returns {string[]} */
function known() {
  try {
    return JSON.parse(localStorage.getItem(KNOWN) ?? "[]");
  } catch {
    return [];
  }
}

/** @param {string} name */
function remember(name) {
  const all = [name, ...known().filter((one) => !same(one, name))].slice(0, MOST_KNOWN);
  try {
    localStorage.setItem(KNOWN, JSON.stringify(all));
  } catch {
    // a private window forgets
  }
}

/** Several benches have asked here: it is nobody's own. */
const shared = () => known().length > 1;

/** After a while without a touch, a shared tablet is there for the next bench. */
function stays() {
  clearTimeout(leaves);
  if (bench && !kept && shared()) leaves = setTimeout(leave, LEAVE_MS);
}

function leave() {
  bench = null;
  kept = false;
  said = typed = photo = "";
  show();
}

/** @param {string} name */
async function choose(name) {
  const other = last !== null && !same(last, name);
  if (other && !(await handedOver())) return show();
  if (own && (await sent("PUT", "here/bench", { bench: name })) !== "done") return show();
  if (other) await forget();
  bench = last = name;
  photo = "";
  remember(name);
  await ear?.refresh().catch(() => undefined);
  stays();
  show();
}

/** A photo of the last bench that could not be sent yet goes over first: the next bench keeps none of it.
 * @returns {Promise<boolean>} whether nothing would be lost */
async function handedOver() {
  const before = await keptHere();
  if (!before?.photo?.file || before.photo.id) return true;
  try {
    const { id } = await sendPhoto({ ...before.photo, root }, () => undefined, new AbortController().signal);
    await ask("POST", `${root}drafts`, { photo: id, job: before.job, inspection: null }, AbortSignal.timeout(PATIENCE_MS));
  } catch (error) {
    if (!(error instanceof Refused)) said = say("help_not_sent");
    return error instanceof Refused;
  }
  return true;
}

// ---------------------------------------------------------------- what is told to the server

/** @param {string} method @param {string} where @param {object} [body] @returns {Promise<"done" | "refused" | "unreachable" | "busy">} */
async function sent(method, where, body) {
  if (busy) return "busy";
  busy = true;
  said = "";
  try {
    await ask(method, root + where, body, AbortSignal.timeout(PATIENCE_MS));
    return "done";
  } catch (error) {
    if (!(error instanceof Refused)) said = say("help_not_sent");
    else if (!error.told?.call) said = error.message;
    return error instanceof Refused ? "refused" : "unreachable";
  } finally {
    busy = false;
  }
}

async function askForHelp() {
  kept = (await sent("POST", `workshops/${workshop.id}/calls`, own ? {} : { bench })) === "unreachable";
  if (kept) said = "";
  await refreshed();
}

async function works() {
  const call = mine();
  if (call) await sent("POST", `calls/${call.id}/withdraw?after=${call.revision}`);
  await refreshed();
}

async function refreshed() {
  await ear?.refresh().catch(() => undefined);
  stays();
  show();
}

/** Stands outside of what is drawn anew: a page must know it again when it comes back from the camera. */
const camera = el("input", { type: "file", accept: "image/*", capture: "environment", id: "camera", hidden: true });
/** For whose call it was opened. */
let pictured = "";
camera.addEventListener("change", () => {
  if (camera.files?.[0]) take(camera.files[0], pictured);
  camera.value = "";
});
camera.addEventListener("cancel", stays);
document.body.append(camera);

function openCamera() {
  pictured = mine()?.sculpture ?? "";
  camera.click();
  clearTimeout(leaves);
}

/** The photo goes with the call: the helper opens it with one tap. @param {File} file @param {string} sculpture */
async function take(file, sculpture) {
  clearTimeout(leaves);
  photo = "goes";
  show();
  try {
    const natural = await sizeOf(file);
    const one = { file, token: newToken(), natural, sculpture: own ? null : sculpture, root };
    const kept = await sendPhoto(one, () => undefined, new AbortController().signal);
    await ask("POST", `${root}drafts`, { photo: kept.id, job: emptyJob(), inspection: null }, AbortSignal.timeout(PATIENCE_MS));
    photo = "there";
  } catch (error) {
    photo = "not";
    said = error instanceof Refused ? error.message : "";
  }
  stays();
  show();
}

/** @param {File} file @returns {Promise<{w: number, h: number} | null>} */
async function sizeOf(file) {
  try {
    const picture = await createImageBitmap(file);
    const size = { w: picture.width, h: picture.height };
    picture.close();
    return size;
  } catch {
    return null;
  }
}

// ---------------------------------------------------------------- what is shown

function show() {
  if (hold.on()) return hold.wait(true);
  hold.first();
  drawn = looks();
  document.getElementById("bar")?.classList.toggle("loose", state === "lost");
  if (!workshop) return page(alone("empty", say("help_none"), say("help_none_do")));
  if (state === "out") return page(alone("error", say("help_out"), out || say("help_out_do")));
  if (!queue) return page(alone(state === "lost" ? "offline" : "loading", say(state === "lost" ? "help_lost" : "help_coming_up"), ""));
  if (queue.over && !phase()) return page(alone("empty", say("help_over"), say("help_over_do")));
  if (!bench) return showBenches();
  return phase() ? showCall() : showButton();
}

/** @param {...any} body */
function page(...body) {
  draw({ title: workshop?.name ?? say("help_title"), body: [el("div", { class: "helping" }, ...notes(), ...body)], foot: foot(), more: [ourselves()] });
}

const notes = () => [
  state === "lost" && queue && el("section", { class: "slip whole not-live" }, symbol("state-offline"), el("p", { class: "do" }, say(kept ? "help_kept" : "help_lost"))),
  said && el("p", { class: "warn", role: "alert" }, said),
];

const ourselves = () => el("a", { class: "plate", href: root }, say("help_ourselves"));

function foot() {
  if (state === "out") return [el("a", { class: "plate main", href: `${root}rooms/join` }, say("queue_join"))];
  if (!bench || !queue) return [];
  const other = plate(say("help_other"), leave, { id: "other", disabled: photo === "goes" });
  return [other, phase() && plate(say("help_works"), works, { id: "works" })];
}

function showBenches() {
  const all = known();
  const field = nicknameField({ id: "bench-name", label: say("help_field"), value: typed, oninput: (value) => (typed = value) });
  const form = el("form", {
    class: "helping",
    onsubmit: (/** @type {Event} */ event) => {
      event.preventDefault();
      const name = /** @type {HTMLInputElement} */ (document.getElementById("bench-name")).value.trim();
      if (name) choose(name);
    },
  }, field, el("button", { type: "submit", class: "plate main", id: "go" }, say("help_go")));
  const before = all.length > 0 && el("div", { class: "benches", role: "group", "aria-label": say("help_here_before") },
    ...all.map((name) => plate(benchWords(name), () => choose(name))));
  page(el("h1", { class: "say" }, say("help_which")), before, form);
}

function showButton() {
  page(el("p", { class: "place" }, benchWords(bench ?? "")),
    el("h1", { class: "hidden-words" }, say("help_title")),
    el("button", { type: "button", class: "plate big", id: "help", onclick: askForHelp }, symbol("mark"), say("help_button")),
    shared() && el("p", { class: "label soft" }, say("help_soon")));
}

function showCall() {
  const taken = phase() === "taken";
  const n = before();
  const wait = n ? say("help_before", { n }) : say("help_next");
  page(el("p", { class: "place" }, benchWords(bench ?? "")),
    symbol(taken ? "state-loading" : "state-empty"),
    el("h1", { class: "say" }, say(taken ? "help_coming" : "help_waiting")),
    el("p", { class: "do", id: "place" }, taken ? say("help_stay") : wait),
    photoPart(),
    shared() && el("p", { class: "label soft" }, say("help_soon")));
}

function photoPart() {
  if (photo === "goes") return el("p", { class: "label soft", role: "status" }, say("help_photo_goes"));
  const at = pictureNow();
  const words = say(at === "there" ? "help_photo_again" : "help_photo");
  return el("div", { class: "helping" },
    at && el("p", { class: at === "not" ? "warn" : "label soft", role: "status" }, say(`help_photo_${at}`)),
    plate(words, openCamera, { id: "photo" }));
}

for (const part of ["room", "foot"]) hold.watch(/** @type {HTMLElement} */ (document.getElementById(part)));
for (const kind of ["pointerdown", "keydown"]) addEventListener(kind, () => photo !== "goes" && stays());
stays();
show();
