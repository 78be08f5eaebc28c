// @ts-check
/** The page: one store, one render; screens give words and plates, stage.js gives the picture. */

import { forAge, sayTo } from "./ages.js";
import { el, plate, symbol } from "./dom.js";
import { colourAt, createFlow } from "./flow.js";
import { askedOf, correctionsOf, emptyJob, nextTarget, paletteOf, scaled, wholeJob } from "./job.js";
import { findHere, tellDoughs } from "./here.js";
import { createHold } from "./hold.js";
import * as keep from "./keep.js";
import { newsPlace, tellNews } from "./news.js";
import { photoUrl } from "./server.js";
import { shelve } from "./shelf.js";
import { openLink, openMore, openSamples } from "./sheets.js";
import { createDialogue } from "./dialogue.js";
import { createProposing } from "./doughs.js";
import { isMain } from "./screens/check.js";
import { SCREENS, ownState } from "./screens/index.js";
import { begunLights, unlit } from "./screens/which-lights.js";
import { createStage } from "./stage.js";
import { createStore } from "./store.js";
import { createSync } from "./sync.js";
import { createUnderside } from "./underside.js";
import { say } from "./words.js";
import { withProposal } from "./workshop.js";

const $ = (/** @type {string} */ id) => /** @type {any} */ (document.getElementById(id));

const remember = (/** @type {string} */ key, /** @type {string} */ value) => {
  try {
    localStorage.setItem(`doughsight-${key}`, value);
  } catch {
    // a private window forgets
  }
};
const remembered = (/** @type {string} */ key) => {
  try {
    return localStorage.getItem(`doughsight-${key}`);
  } catch {
    return null;
  }
};

const store = createStore({
  screen: "start",
  /** @type {any} */ photo: null,
  job: emptyJob(),
  /** @type {any[] | null} */ pieces: null,
  /** @type {string | null} */ previewNote: null,
  previewing: false,
  /** @type {any} */ inspection: null,
  level: remembered("level") ?? "do",
  hand: remembered("hand") ?? "right",
  photoDim: false,
  age: remembered("age"),
  turn: 0, // how the photo is seen, degrees clockwise
  /** @type {any} */ wait: null,
  /** @type {any} */ trouble: null,
  offlineFrom: "start",
  wanted: false,
  loose: false,
  keepJob: false,
  /** @type {import("./here.js").Here | null} */ here: null,
  /** @type {string | null} */ bench: null,
  ...ownState(),
});

const app = {
  state: store.get,
  set: store.set,
  edit: store.edit,
  undo: store.undo,
  redo: store.redo,
  canUndo: store.canUndo,
  canRedo: store.canRedo,
  go,
  /** A new photo: screen and photo change at once, so that no screen is drawn with half of it.
   * @param {any} photo @param {any} job @param {object} then */
  begin(photo, job, then) {
    store.forget();
    store.set({
      ...ownState(), pieces: null, previewNote: null, inspection: null, wanted: false, loose: false, turn: 0,
      ...then, photo, job: forAge(job, store.get().age), target: nextTarget(job),
    });
    nameColours();
  },
  /** No step of undo, but every step changes with it. */
  rebase: store.rebase,
  /** The same job in another frame. @param {number} k @param {object} patch */
  rescale: (k, patch) => store.rebase((job) => scaled(job, k), () => patch),
  /** @param {"camera" | "chooser"} id */
  pick(id) {
    store.set({ keepJob: false });
    $(id).click();
  },
  lookAgain() {
    store.set({ keepJob: true });
    $("camera").click();
  },
  /** @param {string} level */
  setLevel(level) {
    remember("level", level);
    store.set({ level });
  },
  /** @param {string} hand */
  setHand(hand) {
    remember("hand", hand);
    store.set({ hand });
  },
  /** Whom the words are for. @param {string} age */
  setAge(age) {
    remember("age", age);
    return sayTo(app, age);
  },
  /** @param {string} theme */
  setTheme(theme) {
    remember("theme", theme);
    document.documentElement.dataset.theme = theme;
  },
  /** Read aloud, and shown for those who see. @param {string} words */
  speak(words) {
    $("spoken").textContent = words;
  },
  chooseSample: () => openSamples(app),
  inspect: () => flow.inspect(),
  /** @param {any} asked @param {string} given */
  answerCheck: (asked, given) => dialogue.answer(asked, given),
  undoCheck: () => dialogue.undo(),
  /** Where the work was left: what was found before the page was loaded anew may still be on its way. */
  async goOn() {
    const { photo, wanted } = store.get();
    if (photo.again || wanted) return flow.retry();
    if (!store.get().inspection) {
      store.set({ screen: "waiting", wait: { what: "kept" }, offlineFrom: "start" });
      await restoring;
      if (store.get().screen !== "waiting" || store.get().photo?.url !== photo?.url) return;
    }
    const { inspection } = store.get();
    const checks = inspection && (isMain(inspection) || begunLights(store.get()));
    go(inspection ? (checks ? "check" : "answer") : left);
  },
  keepNow() {
    const { photo, job, wanted } = store.get();
    if (photo) keep.keep({ job, wanted, screen: left, draft: sync.draft() });
  },
  /** The address under which another phone finds this sculpture, or null while nothing of it was sent. */
  link: () => (sync.draft() ? location.href : null),
  async copyLink() {
    try {
      await navigator.clipboard.writeText(location.href);
      tellNews({ words: say("link_copied") }, true);
    } catch {
      openLink(location.href);
    }
  },
  retry: () => flow.retry(),
  sample: (/** @type {string} */ name) => flow.sample(name),
  whole: () => stage.whole(),
  turn: () => stage.turn(1),
  async forgetPhoto() {
    await keep.forget();
    store.forget();
    store.set({ screen: "start", photo: null, job: emptyJob(), inspection: null, pieces: null });
  },
};

const flow = createFlow(app);
const dialogue = createDialogue(app);
const stage = createStage(app);
const proposing = createProposing(app);
createUnderside(app);
const sync = createSync(app);
/** The screen on which something was tapped last. */
let left = "colours";

/** @param {string} screen */
function go(screen) {
  const patch = screen === "entries" ? { target: nextTarget(store.get().job), led: null, mark: null } : {};
  const from = screen === "correct" ? { correctFrom: store.get().screen } : {};
  store.set({ ...patch, ...from, screen, adding: false });
}

/** Colours for the drops, where the case told none. */
async function nameColours() {
  const { photo, job } = store.get();
  if (!photo?.w || !job.palette.some((/** @type {any} */ one) => !one.rgb && one.taps.length)) return;
  const rgbs = await Promise.all(job.palette.map((/** @type {any} */ one) => (one.taps.length ? colourAt(photo, one.taps) : one.rgb)));
  const now = store.get().job;
  if (store.get().photo?.url !== photo.url || now.palette.length !== rgbs.length) return;
  store.set({ job: { ...now, palette: now.palette.map((/** @type {any} */ one, /** @type {number} */ i) => ({ ...one, rgb: rgbs[i] })) } });
}

/** @type {string | null} */ let shown = null;

/** @param {any} state */
function render(state) {
  const screen = SCREENS[state.screen];
  const { words, foot } = screen.tell(app);
  const held = heldFocus();
  const card = state.screen === "entries" && state.led ? "with-card" : "";
  document.body.className = `on-${state.screen} ${state.hand}-hand ${state.photoDim ? "photo-dim" : ""} ${card}`;
  $("bar").replaceChildren(...bar(state));
  $("bar").classList.toggle("first", state.screen === "start");
  $("bar").classList.toggle("loose", Boolean(state.photo && (!state.photo.id || state.loose)));
  $("stage").hidden = !(screen.picture && state.photo?.w);
  $("scene").hidden = state.screen !== "start";
  $("words").classList.toggle("tied", Boolean(screen.tied));
  if (shown !== state.screen || !typing()) $("words").replaceChildren(...words.filter(Boolean));
  $("foot").replaceChildren(...foot.filter(Boolean));
  $("foot").hidden = !foot.some(Boolean);
  const alarm = screen.alarm?.(state) ?? "";
  if ($("alarm").textContent !== alarm) {
    $("alarm").hidden = !alarm;
    $("alarm").replaceChildren(...(alarm ? [symbol("level-stop", "on-bar"), alarm] : []));
  }
  $("on-picture").replaceChildren(...stage.plates(state));
  if (shown === state.screen) refocus(held);
  else if (held) greet();
  shown = state.screen;
}

/** Whether something is being typed: what comes in meanwhile must not take it away. */
function typing() {
  const one = document.activeElement;
  return one instanceof HTMLInputElement && $("words").contains(one) && one.value !== one.defaultValue;
}

/** The control that was pressed has gone with its screen: the next key begins at the top of this one. */
function greet() {
  const title = $("words").querySelector(".say");
  title?.setAttribute("tabindex", "-1");
  title?.focus({ preventScroll: true });
}

/** @param {any} state @returns {string} */
function backFrom(state) {
  const { back } = SCREENS[state.screen];
  return typeof back === "function" ? back(state) : back;
}

/** @param {any} state */
function bar(state) {
  const brand = el("span", { class: "brand" }, symbol("mark"), "Doughsight");
  const more = plate(say("more"), () => openMore(app), { kind: "quiet push" });
  if (state.screen === "start") return [brand, el("span"), more];
  const here = SCREENS[state.screen === "offline" ? state.offlineFrom : state.screen].step;
  const names = ["step_photo", "step_colours", "step_entries", "step_answer"].map((key) => say(key));
  const knots = names.map((name, i) =>
    el("li", { class: i < here ? "done" : i === here ? "here" : "next", "aria-current": i === here ? "step" : null },
      el("span", { class: "hidden-words" }, name)));
  return [
    plate(say("back"), () => go(backFrom(state)), { kind: "quiet" }),
    el("div", { class: "where" }, newsPlace(names[here]), el("ol", { class: "knots", "aria-label": say("steps") }, ...knots)),
    more,
  ];
}

const FOCUSABLE = "button, input, select, [tabindex]";

/** Which control has the focus, so that drawing anew does not lose it. */
function heldFocus() {
  const { key } = /** @type {HTMLElement} */ (document.activeElement).dataset;
  for (const id of ["words", "foot", "bar", "on-picture"]) {
    const all = [...$(id).querySelectorAll(FOCUSABLE)];
    const index = all.indexOf(document.activeElement);
    if (index >= 0) return { id, index, key, count: all.length };
  }
  return null;
}

/** @param {{id: string, index: number, key?: string, count: number} | null} held */
function refocus(held) {
  if (!held) return;
  const all = [...$(held.id).querySelectorAll(FOCUSABLE)];
  const same = held.key && all.find((one) => one.dataset.key === held.key);
  const next = same || all[Math.min(held.index, all.length - 1)];
  next?.focus({ preventScroll: true });
}

const hold = createHold((/** @type {any} */ before) => show(store.get(), before));
for (const id of ["bar", "words", "foot", "on-picture"]) hold.watch($(id));
store.subscribe((state, before) => {
  if (state.screen !== before.screen || !hold.on()) show(state, hold.first() ?? before);
  else hold.wait(before);
});

/** @param {any} state @param {any} before */
function show(state, before) {
  const asksAnew = state.screen === "check"
    && (state.inspection !== before.inspection || state.checkPick !== before.checkPick);
  const scroll = state.screen === before.screen && !asksAnew ? $("words").scrollTop : 0;
  render(state);
  $("words").scrollTop = scroll;
  if (state.screen !== before.screen || asksAnew) scrollTo(0, 0);
  const opened = state.screen !== before.screen || state.photo?.url !== before.photo?.url;
  if (opened && (state.screen !== before.screen || !before.photo)) stage.aim(state);
  stage.draw(state);
  dialogue.changed(state, before);
  proposing.changed(state, before);
  if (state.screen !== before.screen || asksAnew) announce(state);
  // The control that was pressed stands for something else now.
  if (asksAnew && $("words").contains(document.activeElement)) $("words").querySelector(".say").focus({ preventScroll: true });
  if (state.job !== before.job || state.photo !== before.photo || state.proposal !== before.proposal) changed(state, before);
  if (SCREENS[state.screen].picture?.taps) left = state.screen;
  sync.changed(state, before);
  if (state.inspection && !before.inspection) tellDoughs(state.here).catch(() => undefined);
  if (["job", "photo", "wanted", "screen"].some((key) => state[key] !== before[key])) app.keepNow();
}

/** @param {any} state */
function announce(state) {
  const title = $("words").querySelector(".say")?.textContent ?? "";
  const alarm = $("alarm").hidden ? "" : `${$("alarm").textContent} `;
  app.speak(alarm + title);
  if (SCREENS[state.screen].tied) $("words").querySelector(".say").setAttribute("tabindex", "-1");
}

/** @param {any} state @param {any} before */
function changed(state, before) {
  const seen = (/** @type {any} */ one) => JSON.stringify([paletteOf(withProposal(one.job, one.proposal)), one.job.size, correctionsOf(one.job)]);
  if (state.screen !== "start" && seen(state) !== seen(before)) flow.previewSoon();
  const { photo } = state;
  if (photo && photo !== before.photo) keep.keepPhoto({ ...photo, url: null });
}

for (const id of ["camera", "chooser"]) {
  $(id).addEventListener("change", () => {
    const file = $(id).files[0];
    $(id).value = "";
    if (file) flow.takePhoto(file, store.get().keepJob);
  });
}
addEventListener("dragover", (event) => {
  event.preventDefault();
  document.body.classList.add("dropping");
});
addEventListener("dragleave", () => document.body.classList.remove("dropping"));
addEventListener("drop", (event) => {
  event.preventDefault();
  document.body.classList.remove("dropping");
  const file = event.dataTransfer?.files[0];
  if (file) flow.takePhoto(file, false);
});
addEventListener("paste", (event) => {
  const file = event.clipboardData?.files[0];
  if (file) flow.takePhoto(file, false);
});
addEventListener("resize", () => stage.drawThread());
// What was typed is told: the field no longer differs from what stands there.
$("words").addEventListener("change", (/** @type {any} */ event) => (event.target.defaultValue = event.target.value), true);
$("words").addEventListener("scroll", () => stage.drawThread());

render(store.get());
/** @type {Promise<void>} */ let restoring = Promise.resolve();
/** Where the work was left: by the address of a sculpture, else what this browser keeps. */
async function begin() {
  const id = location.hash.slice(1);
  if (id) store.set({ screen: "waiting", wait: { what: "kept" }, offlineFrom: "start" });
  const old = await keep.kept();
  if (store.get().photo) return;
  if (id && old?.draft?.id !== id) {
    await sync.flush(old);
    return flow.open(id, sync);
  }
  if (!old || !(old.photo.id || old.photo.file)) return;
  const { photo, job, wanted, draft, screen } = old;
  // What this browser cannot show comes from the server.
  const url = photo.natural ? URL.createObjectURL(photo.file) : photo.id ? photoUrl(photo.id) : null;
  left = screen ?? left;
  store.set({ photo: { ...photo, url }, job: wholeJob(job), wanted: Boolean(wanted) });
  sync.restore(draft);
  restoring = restoreDialogue();
  flow.send();
  if (id) await app.goOn();
}

/** Goes on with the dialogue of the kept photo, if nothing was tapped since but how the lights look. */
async function restoreDialogue() {
  const dialogueKept = await keep.keptDialogue();
  const { photo, job } = store.get();
  if (!dialogueKept || !photo?.id) return;
  if (![job, unlit(job)].some((one) => askedOf(one, photo.id) === dialogueKept.asked)) return;
  store.set({ asked: dialogueKept.asked });
  await dialogue.restore(dialogueKept);
}
addEventListener("hashchange", () => {
  const id = location.hash.slice(1);
  if (id && id !== sync.draft()?.id) flow.open(id, sync);
});
begin();
findHere(app);
addEventListener("load", shelve);
document.documentElement.dataset.ready = "yes";
