// @ts-check
/** Where a phone comes in: by the code that is typed, or by itself with the link of a QR code; and where it leaves. */

import { el, plate } from "../dom.js";
import { forgetHere, wasPutOut } from "../here.js";
import { kept } from "../keep.js";
import { nicknameField } from "../names.js";
import * as server from "../server.js";
import { say } from "../words.js";
import { draw, root, speakOut } from "./room.js";

/** @typedef {{role: "owner" | "helper" | "bench", name: string, workshop: {id: string, name: string} | null}} Here */

const DIGITS = 6;
const GO = { owner: "", helper: "rooms/queue", bench: "rooms/help" };

let code = "";
let name = "";
let said = "";
let busy = false;
/** Who this device is already. @type {Here | null} */ let here = null;

/** @param {{code?: string, token?: string, name?: string}} told */
async function join(told) {
  busy = true;
  said = "";
  show();
  try {
    const before = here?.workshop?.id;
    const welcome = await (await server.ask("POST", `${root}join`, told)).json();
    if (before && (await whoIsHere())?.workshop?.id !== before) await forgetHere();
    location.replace(root + welcome.go);
    return;
  } catch (error) {
    said = error instanceof server.Refused ? error.message : say("join_unreachable");
  }
  busy = false;
  show();
  document.getElementById("code")?.focus();
}

async function leave() {
  try {
    await server.ask("DELETE", `${root}here`);
    await forgetHere();
    here = null;
    speakOut(say("join_left"));
  } catch (error) {
    said = error instanceof server.Refused ? error.message : say("join_unreachable");
  }
  show();
}

function show() {
  if (busy) draw({ title: say("join_title"), body: [el("h1", { class: "say" }, say("join_joining"))] });
  else if (here) showWho(here);
  else showForm();
}

/** @param {Here} who */
function showWho({ role, name: called, workshop }) {
  const open = el("a", { class: "plate main", href: root + GO[role] }, say(`join_open_${role}`));
  draw({
    title: say("join_title"),
    under: workshop?.name,
    body: [
      el("h1", { class: "say" }, say(role === "owner" ? "join_is_owner" : "join_is", { name: called })),
      said ? el("p", { class: "warn", role: "alert" }, said) : null,
      role === "owner" ? null : el("p", { class: "do" }, say("join_leave_what")),
    ],
    foot: [role === "owner" ? null : plate(say("join_leave"), leave, { id: "leave" }), open],
  });
}

function showForm() {
  const nickname = nicknameField({ id: "nickname", label: say("join_name"), value: name, oninput: (text) => (name = text) });
  draw({
    title: say("join_title"),
    body: [
      el("h1", { class: "say" }, say("join_ask")),
      el("form", { id: "join", class: "join", novalidate: true, onsubmit: submit }, codeField(), nickname),
    ],
    foot: [plate(say("join_do"), () => undefined, { kind: "main", id: "do", type: "submit", form: "join" })],
  });
}

function codeField() {
  const input = el("input", {
    id: "code",
    class: "code-field num",
    value: grouped(code),
    type: "text",
    inputmode: "numeric",
    autocomplete: "one-time-code",
    required: true,
    dir: "ltr",
    "aria-describedby": "code-hint code-said",
    "aria-invalid": said ? "true" : null,
    oninput: () => {
      code = digitsOf(input.value);
      // In the midst of the code the caret stays where it is.
      if (input.selectionStart === input.value.length) input.value = grouped(code);
    },
  });
  return el("div", { class: "field" },
    el("label", { for: "code" }, say("join_code")),
    input,
    el("p", { id: "code-said", class: "warn", role: "alert" }, said),
    el("p", { id: "code-hint", class: "hint" }, say("join_code_hint")));
}

/** @param {SubmitEvent} event */
function submit(event) {
  event.preventDefault();
  if (code.length === DIGITS) void join(name.trim() ? { code, name: name.trim() } : { code });
  else {
    said = say("join_six");
    show();
    document.getElementById("code")?.focus();
  }
}

/** Digits of any script, however they are spaced. @param {string} text */
const digitsOf = (text) => (text.match(/\p{Nd}/gu) ?? []).slice(0, DIGITS).join("");

/** As it is read aloud: 123 456. @param {string} digits */
const grouped = (digits) => digits.replace(/^(.{3})(?=.)/u, "$1 ");

/** What was kept for a workshop that this device is not in any more, it forgets. @returns {Promise<Here | null>} */
async function whoIsHere() {
  try {
    return await (await server.ask("GET", `${root}here`)).json();
  } catch (error) {
    if (wasPutOut(error)) await forgetHere().catch(() => undefined);
    return null;
  }
}

async function begin() {
  const token = location.hash.slice(1);
  if (token) {
    history.replaceState(null, "", location.pathname);
    if (await kept()) here = await whoIsHere();
    await join({ token });
    if (busy) return;
  }
  here = await whoIsHere();
  show();
}

show();
void begin();
