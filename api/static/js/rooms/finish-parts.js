// @ts-check
/** What stands on the page on which a sculpture is put on record. */

import { el, plate, symbol, tabs } from "../dom.js";
import { nicknameField } from "../names.js";
import { Refused } from "../server.js";
import { openSheet, sheetChoice } from "../sheets.js";
import { say } from "../words.js";
import { field, textField } from "./fields.js";
import { kindOf, kindWords } from "./kinds.js";
import { draw, root, speakOut } from "./room.js";
import { asked, clock, lightList, litWords, photoOf } from "./work.js";

const TITLE_MOST = 60;
const LEARNED_MOST = 600;
const VERDICTS = { met: ["good", "finish_met"], "not-met": ["fix", "finish_not_met"], "cannot-tell": ["watch", "finish_cannot_tell"] };

const QUEUE = "rooms/queue";

/** @typedef {import("./work.js").Look} Look */

/** @param {{saving: any, where: string, record: any, looks: Look[], here: any, call: any}} how
 * `call`: that of the sculpture, where whoever looks may say that it is solved */
export function createFinish({ saving, where, record, looks, here, call }) {
  /** @type {"before" | "after"} */ let when = "after";
  const bench = here.role === "bench";
  const helper = here.role === "helper";
  const edit = (/** @type {object} */ change, atOnce = false) => saving.edit({ ...saving.entry, ...change }, atOnce);
  const now = () => saving.entry;
  const sculpture = () => record.sculpture;
  const name = () => now().title || say("finish_of_bench", { bench: sculpture().bench });

  function show() {
    if (location.hash === "#choose") return showChoose();
    const { finished } = now();
    draw({
      title: say(finished ? "finish_done_title" : "finish_title"),
      under: say("finish_of_bench", { bench: sculpture().bench }),
      back: { words: say("room_back"), href: helper ? QUEUE : finished && !bench ? gallery() : "" },
      more: more(),
      body: [el("div", { class: "finish" },
        el("div", { class: "finish-picture" }, ...picture(), ...choosing()),
        el("div", { class: "finish-words" }, quickerSlip(), ...told(), el("p", { class: "hint", id: "kept", role: "status" })),
        el("div", { class: "finish-facts" }, ...facts()))],
      foot: foot(finished),
    });
    tell();
  }

  const gallery = () => `rooms/gallery?workshop=${encodeURIComponent(sculpture().workshop)}`;

  /** The bench page, where the next photo is of this sculpture. */
  const photoPage = () => (bench ? "" : `?for=${encodeURIComponent(sculpture().id)}`);

  function picture() {
    const { before, after } = record;
    if (!after) return [el("p", { class: "do" }, say("finish_no_photo"))];
    const look = when === "before" && before ? before : after;
    const words = say(look === before ? "finish_photo_before" : "finish_photo_now", { name: name() });
    const both = [{ value: "before", words: say("finish_before") }, { value: "after", words: say("plan_now") }];
    const marks = [{ value: false, words: say("finish_photo") }, { value: true, words: say("finish_marks") }];
    return [
      photoOf(look, { marks: now().overlay, wrong: look === before, words }),
      before && tabs(both, when, (value) => {
        when = value;
        show();
      }, { label: say("finish_when") }),
      tabs(marks, now().overlay, (overlay) => {
        edit({ overlay }, true);
        show();
      }, { label: say("finish_shown"), tight: true }),
    ];
  }

  const choosing = () => (looks.length > 1 ? [el("a", { class: "plate", href: "#choose" }, say("finish_choose"))] : []);

  /** Words to begin with stand there until somebody has said it otherwise. */
  const learned = () => now().learned || (now().finished ? "" : record.words);

  function told() {
    const learnedField = el("textarea", { rows: 4, maxlength: LEARNED_MOST, dir: "auto", oninput: () => edit({ learned: learnedField.value }) }, learned());
    return [
      el("h1", { class: "say" }, now().finished ? name() : say("finish_ask")),
      now().finished && keeping(),
      textField({ id: "title", label: say("finish_name"), value: now().title, most: TITLE_MOST }, (title) => edit({ title })),
      nicknameField({ id: "maker", label: say("finish_maker"), value: now().maker, oninput: (maker) => edit({ maker }) }),
      field({ id: "learned", label: say("finish_learned"), hint: say("finish_learned_hint") }, learnedField),
    ];
  }

  function facts() {
    const { after, criteria, challenge } = record;
    if (!after) return [];
    return [
      el("h2", {}, litWords(after)),
      lightList(after.lights),
      ...(criteria.length ? [el("h2", {}, challenge || say("finish_challenge")), el("ul", { class: "criteria" }, ...criteria.map(criterion))] : []),
    ];
  }

  function keeping() {
    const file = (/** @type {string} */ key, /** @type {string} */ path, props = {}) =>
      el("a", { class: "plate", href: `${root}${where}/${path}`, ...props }, say(key));
    const printed = (/** @type {string} */ key, /** @type {string} */ path) => ["A4", "Letter"].map((paper) =>
      el("a", { class: "plate", target: "_blank", href: `${root}${where}/${path}?paper=${paper.toLowerCase()}` }, `${say(key)}${say("comma")}${paper}`));
    return el("div", { class: "plates" },
      ...printed("finish_sheet", "sheet.pdf"),
      ...printed("finish_card", "card.pdf"),
      bench ? null : file("finish_parents", "parents.zip", { download: "" }));
  }

  /** @param {boolean} finished */
  function foot(finished) {
    if (!record.after) return [el("a", { class: "plate main", href: root + photoPage() }, say("finish_take"))];
    if (!finished) {
      const finish = () => edit({ learned: /** @type {any} */ (document.getElementById("learned")).value, finished: true }, true);
      return [plate(say("finish_finish"), finish, { kind: "main", id: "finish" })];
    }
    if (bench) return [];
    if (call) return [el("a", { class: "plate", href: root + (helper ? QUEUE : gallery()) }, say(helper ? "room_queue" : "finish_gallery")), solved()];
    const look = el("a", { class: helper ? "plate" : "plate main", href: root + gallery() }, say("finish_gallery"));
    // A helper's next thing is the next bench.
    return helper ? [look, el("a", { class: "plate main", href: root + QUEUE }, say("room_queue"))] : [look];
  }

  /** It works, so its call is over: what it was is what was wrong before. */
  function solved() {
    const kind = kindOf(record.before?.wrong[0] ?? call.guess?.code);
    return el("button", { type: "button", class: "plate main", id: "solved", onclick: () => solve(kind) },
      el("span", {}, say("queue_solved")), el("span", { class: "small push" }, kindWords(kind)));
  }

  /** @param {string} kind */
  async function solve(kind) {
    try {
      await asked("POST", `calls/${call.id}/solve?after=${call.revision}`, { kind });
      if (helper) return location.assign(root + QUEUE);
    } catch (error) {
      speakOut(error instanceof Refused ? error.message : say("offline_title"));
      if (!(error instanceof Refused)) return;
    }
    call = null; // solved here, or somebody else was quicker
    show();
  }

  function more() {
    const look = when === "before" && record.before ? record.before : record.after;
    return [
      record.after && el("a", { class: "plate", href: root + photoPage() }, say("finish_take")),
      now().finished ? sheetChoice(say("finish_go_on_building"), () => edit({ finished: false }, true)) : null,
      look && el("a", { class: "plate", href: `${root}rooms/cover?photo=${look.photo}` }, say("finish_cover")),
      bench ? null : sheetChoice(say("finish_delete"), askDelete),
    ].filter(Boolean);
  }

  function askDelete() {
    const really = plate(say("finish_delete_now"), async () => {
      try {
        await asked("DELETE", where);
        location.replace(root + gallery());
      } catch (error) {
        speakOut(error instanceof Refused ? error.message : say("offline_title"));
      }
    }, { id: "delete-now" });
    openSheet(say("finish_delete_ask"), [el("p", { class: "do" }, say("finish_delete_what")), really]);
  }

  function quickerSlip() {
    if (saving.state !== "quicker") return null;
    return el("div", { class: "slip whole", role: "alert" },
      el("p", { class: "do" }, say("finish_quicker")),
      el("div", { class: "plates" },
        plate(say("finish_theirs"), () => saving.takeTheirs(), { id: "theirs" }),
        plate(say("finish_mine"), () => void saving.keepMine(), { id: "mine" })));
  }

  function tell() {
    if (saving.state === "quicker" && !document.getElementById("mine")) return show();
    const line = document.getElementById("kept");
    const words = saving.state === "refused" ? saving.said : say(`finish_saved_${saving.state}`);
    if (line && line.textContent !== words) line.textContent = words;
  }

  // ---------------------------------------------------------------- before and now

  function showChoose() {
    const { before, after } = record;
    const pick = (/** @type {object} */ change) => edit({ before_id: before?.id ?? after?.id, after_id: after?.id, ...change }, true);
    draw({
      title: say("finish_choose_title"),
      under: name(),
      back: { words: say("room_back"), href: `rooms/finish?sculpture=${encodeURIComponent(sculpture().id)}#` },
      body: [
        el("h1", { class: "say" }, say("finish_choose_how")),
        el("ul", { class: "looks" }, ...looks.map((look) => lookRow(look, pick))),
        before && el("p", {}, plate(say("finish_no_before"), () => pick({ before_id: after.id }), { id: "no-before" })),
      ],
      foot: [el("a", { class: "plate main", href: "#" }, say("finish_chosen"))],
    });
  }

  /** @param {Look} look @param {(change: object) => void} pick */
  function lookRow(look, pick) {
    const words = say("finish_look_at", { time: clock(look.created) });
    const is = look.id === record.after?.id ? "after" : look.id === record.before?.id ? "before" : "";
    const choices = [{ value: "before", words: say("finish_before") }, { value: "after", words: say("plan_now") }];
    const picked = (/** @type {string} */ value) => pick(value === "before" ? { before_id: look.id } : { after_id: look.id });
    return el("li", {},
      el("img", { src: `${root}photos/${look.photo}/small.jpg?shows=${look.picture}`, alt: "", loading: "lazy" }),
      el("div", {},
        el("h2", {}, words),
        el("p", { class: "label" }, litWords(look)),
        look.why ? el("p", { class: `level ${look.level}` }, symbol(`level-${look.level}`), el("span", {}, look.why)) : null),
      tabs(choices, is, picked, { label: words, tight: true }));
  }

  return {
    show,
    tell,
    /** @param {any} newer the record as the server tells it now, if it does */
    took: (newer) => (record = newer ?? record),
  };
}

/** @param {{verdict: keyof typeof VERDICTS, wish: string, found: string}} one */
function criterion({ verdict, wish, found }) {
  const [level, key] = VERDICTS[verdict];
  return el("li", {}, el("span", { class: `level ${level}` }, symbol(`level-${level}`), say(key)), el("span", {}, wish), el("span", { class: "num" }, found));
}
