// @ts-check
/**
 * One workshop, for the laptop that serves: what it is, how phones come in, and its end. Its parts are screens of
 * their own, named by the fragment of the address.
 */

import { el, plate } from "../dom.js";
import * as server from "../server.js";
import { openSheet, sheetChoice } from "../sheets.js";
import { say } from "../words.js";
import { keepingFocus } from "./fields.js";
import { draw, root, speakOut, told } from "./room.js";
import { createSaving } from "./saving.js";
import { waysRoom } from "./workshop-ways.js";
import { differing, summaries, timeWords } from "./workshop-words.js";
import { PARTS } from "./workshop-parts.js";

/** @type {string} */ const id = told.id;
const here = `${root}workshops/${encodeURIComponent(id)}`;
const room = `rooms/workshop?id=${encodeURIComponent(id)}#`;
const ORDER = [...Object.keys(PARTS), "ways"];
/** @type {import("./saving.js").Kept} */ const first = told.workshop;

const saving = createSaving({
  kept: first,
  put: async (entry, after) => (await server.ask("PUT", `${here}?after=${after}`, entry, undefined, true)).json(),
  changed,
});
const ways = waysRoom({ here, id, network: told.network, redraw: () => keepingFocus(show, ["make-code"]) });
/** A sentence of the server about what was just tried. */
let said = "";

const part = () => location.hash.slice(1);

/** Something was kept or refused: the page is drawn anew only where nobody is typing. */
function changed() {
  const slip = saving.state === "quicker" || document.querySelector(".quicker");
  if (part() in PARTS && !slip) return tellState();
  show();
}

/** @param {(now: any) => object} change @param {boolean} [redraw] */
function edit(change, redraw = false) {
  saving.edit({ ...saving.entry, ...change(saving.entry) }, redraw);
  if (redraw) keepingFocus(show, ["dough-add", `rule-${saving.entry.challenge.rules.length - 1}`, "challenge", "next"]);
}

function show() {
  const name = part();
  if (name in PARTS) showPart(name);
  else if (name === "ways") ways.show(frame("ways"));
  else if (name === "take") showTake();
  else if (name === "delete") showDelete();
  else showAll();
  tellState();
}

/** What the screens of all parts share. @param {string} name */
function frame(name) {
  return {
    title: say(`workshop_part_${name}`),
    under: saving.entry.name,
    back: { words: say("room_back"), href: room },
  };
}

/** @param {string} name */
function showPart(name) {
  const next = ORDER[ORDER.indexOf(name) + 1];
  draw({
    ...frame(name),
    body: [
      quickerSlip(),
      el("h1", { class: "say" }, say(`workshop_ask_${name}`)),
      ...PARTS[name]({ entry: saving.entry, deletedOn: deletedOn(), leds: told.leds, edit }),
      el("p", { class: "hint", id: "kept", role: "status" }),
    ],
    foot: [el("a", { class: "plate main", href: `#${next}`, id: "next" }, say(`workshop_part_${next}`))],
  });
}

/** The day on which all is deleted, as the server last reckoned it. */
const deletedOn = () => saving.kept.deleted_on;

function tellState() {
  const line = document.getElementById("kept");
  const words = {
    kept: say("workshop_kept"),
    soon: say("workshop_keeping"),
    quicker: say("workshop_quicker"),
    refused: saving.said,
    unreachable: say("workshop_unreachable"),
  }[saving.state];
  if (line && line.textContent !== words) line.textContent = words;
  if (line) line.className = saving.state === "refused" || saving.state === "unreachable" ? "warn" : "hint";
  const day = document.getElementById("deleted-on");
  if (day && saving.state === "kept") day.textContent = summaries(saving.kept.entry, deletedOn()).keep;
}

/** What another page has kept meanwhile, beside what stands here. */
function quickerSlip() {
  if (!saving.theirs) return null;
  const [mine, theirs] = [saving.entry, saving.theirs.entry];
  const [here, there] = [summaries(mine, deletedOn()), summaries(theirs, saving.theirs.deleted_on)];
  const told = (/** @type {any} */ entry, /** @type {Record<string, string>} */ words, /** @type {string} */ name) =>
    (name === "name" ? `${entry.name} · ${words.name}` : words[name]);
  const rows = differing(mine, theirs).flatMap((name) => [
    el("dt", {}, say(`workshop_part_${name}`)),
    el("dd", {}, el("span", { class: "hint" }, say("workshop_there")), told(theirs, there, name)),
    el("dd", {}, el("span", { class: "hint" }, say("workshop_here")), told(mine, here, name)),
  ]);
  return el("div", { class: "slip whole quicker", role: "alert" },
    el("p", { class: "do" }, say("workshop_quicker")),
    el("dl", { class: "differing" }, ...rows),
    el("div", { class: "plates" },
      plate(say("workshop_take_theirs"), saving.takeTheirs, { id: "theirs" }),
      plate(say("workshop_keep_mine"), () => void saving.keepMine(), { id: "mine" })));
}

function showAll() {
  const { entry, kept } = saving;
  const words = summaries(entry, deletedOn());
  draw({
    title: say("workshop_title"),
    back: { words: say("room_back"), href: "rooms/workshops" },
    body: [
      quickerSlip(),
      el("h1", { class: "say" }, entry.name),
      el("p", { class: "soft" }, words.name),
      said ? el("p", { class: "warn", role: "alert" }, said) : null,
      kept.ended ? el("p", { class: "do" }, say("workshop_ended", { time: timeWords(kept.ended) })) : null,
      el("h2", {}, say("workshop_before")),
      el("ul", { class: "part-list" }, ...Object.keys(PARTS).map((name) => partRow(name, words[name]))),
      el("h2", {}, say("workshop_while")),
      el("div", { class: "plates" }, link("workshop_queue", `rooms/queue?workshop=${id}`), link("workshop_gallery", `rooms/gallery?workshop=${id}`)),
      el("h2", {}, say("workshop_after")),
      el("div", { class: "plates" },
        el("a", { class: "plate", href: "#take" }, say("workshop_part_take")),
        kept.ended ? plate(say("workshop_reopen"), () => leave("reopen"), { id: "reopen" }) : plate(say("workshop_end"), endSheet, { id: "end" }),
        el("a", { class: "plate", href: "#delete" }, say("workshop_delete"))),
    ],
    foot: [kept.ended
      ? el("a", { class: "plate main", href: `${root}rooms/gallery?workshop=${id}` }, say("workshop_gallery"))
      : el("a", { class: "plate main", href: "#ways" }, say("workshop_let_in"))],
  });
}

/** What is printed, and what is taken elsewhere. */
function showTake() {
  const of = (/** @type {string} */ file) => `workshops/${id}/${file}`;
  const sheets = (/** @type {string} */ file, /** @type {string} */ words) => ["A4", "Letter"].map((paper) => {
    const href = `${root}${of(file)}?paper=${paper.toLowerCase()}`;
    return el("a", { class: "plate", target: "_blank", href, "aria-label": `${words} ${paper}` }, paper);
  });
  const section = (/** @type {string} */ key, /** @type {Node[]} */ plates) => [
    el("h2", {}, say(key)),
    el("p", { class: "hint" }, say(`${key}_hint`)),
    el("div", { class: "plates" }, ...plates),
  ];
  draw({
    ...frame("take"),
    body: [
      el("h1", { class: "say" }, say("workshop_ask_take")),
      ...section("workshop_sheet", sheets("class.pdf", say("workshop_sheet"))),
      ...section("workshop_cards", sheets("cards.pdf", say("workshop_cards"))),
      ...section("workshop_table", [link("workshop_csv", of("records.csv"), { download: "" }), link("workshop_json", of("records.json"), { download: "" })]),
      ...section("workshop_archive", [link("workshop_archive_get", of("archive.zip"), { download: "" })]),
    ],
  });
}

/** @param {string} name @param {string} words */
const partRow = (name, words) =>
  el("li", {}, el("a", { href: `#${name}`, id: `part-${name}` },
    el("span", { class: "what" }, say(`workshop_part_${name}`)), el("span", { class: "soft" }, words)));

/** @param {string} key @param {string} href @param {object} [props] */
const link = (key, href, props = {}) => el("a", { class: "plate", href: root + href, ...props }, say(key));

function endSheet() {
  openSheet(say("workshop_end_name", { name: saving.entry.name }), [
    el("p", { class: "do" }, say("workshop_end_what")),
    sheetChoice(say("workshop_end_now"), () => void leave("end")),
  ]);
}

/** Ends the workshop, or lets it go on. @param {"end" | "reopen"} how */
async function leave(how) {
  await tried(async () => {
    const answer = await (await server.ask("POST", `${here}/${how}`)).json();
    saving.kept = { ...saving.kept, ended: answer.ended };
    speakOut(say(how === "end" ? "workshop_ended_now" : "workshop_reopened"));
  });
}

/** @param {() => Promise<void>} work */
async function tried(work) {
  said = "";
  try {
    await work();
  } catch (error) {
    said = error instanceof server.Refused ? error.message : say("workshop_unreachable_now");
  }
  show();
}

function showDelete() {
  draw({
    ...frame("delete"),
    body: [
      el("h1", { class: "say" }, say("workshop_delete_ask")),
      el("p", { class: "do" }, say("workshop_delete_what")),
      said ? el("p", { class: "warn", role: "alert" }, said) : null,
      el("div", { class: "plates" },
        link("workshop_archive_first", `workshops/${id}/archive.zip`, { download: "" }),
        plate(say("workshop_delete_more"), deleteSheet, { id: "delete" })),
    ],
    foot: [el("a", { class: "plate main", href: "#" }, say("workshop_delete_keep"))],
  });
}

/** The second step, which nobody takes by a slip of the finger: the box has to be ticked first. */
function deleteSheet() {
  const really = plate(say("workshop_delete_all"), () => void deleteAll(), { kind: "alarm", id: "delete-now", disabled: true });
  const box = el("input", { type: "checkbox", id: "delete-sure", onchange: () => (really.disabled = !box.checked) });
  openSheet(say("workshop_delete_name", { name: saving.entry.name }), [
    el("p", { class: "do" }, say("workshop_delete_gone")),
    el("label", { class: "tick", for: "delete-sure" }, box, say("workshop_delete_sure")),
    really,
  ]);
}

async function deleteAll() {
  /** @type {HTMLDialogElement} */ (document.getElementById("sheet")).close();
  await tried(async () => {
    await server.ask("DELETE", here);
    location.replace(`${root}rooms/workshops`);
  });
}

addEventListener("hashchange", () => {
  said = "";
  void saving.flush();
  show();
  document.getElementById("room")?.scrollTo(0, 0);
  speakOut(document.querySelector("#room h1")?.textContent ?? "");
});
addEventListener("pagehide", () => void saving.leave());
// A page that comes back from the browser's memory may be old.
addEventListener("pageshow", (event) => event.persisted && location.reload());
show();
