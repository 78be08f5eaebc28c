// @ts-check
/** How phones come in: a code and a picture for the camera, who has come, and who is sent out again. */

import { el, plate, tabs } from "../dom.js";
import * as server from "../server.js";
import { openSheet, sheetChoice } from "../sheets.js";
import { say } from "../words.js";
import { draw, root, speakOut } from "./room.js";
import { timeWords } from "./workshop-words.js";

/**
 * @typedef {{id: string, name: string, joined: string, bench: string | null}} Device
 * @typedef {{id: string, role: "helper" | "bench", code: string, link: string, expires: string, devices: Device[]}} Way
 * @typedef {{title: string, under: string, back: {words: string, href: string}}} Frame
 */

const LOOK_AGAIN_MS = 3000;
const ROLES = /** @type {const} */ (["helper", "bench"]);

/** A text that keeps its direction inside a sentence from right to left (Unicode isolates). @param {string} text */
const leftToRight = (text) => `\u2066${text}\u2069`;

/** @param {Way} way */
const isOpen = (way) => new Date(way.expires) > new Date();

/** @param {{here: string, id: string, network: boolean, redraw: () => void}} how `here`: where the server keeps the
 * workshop; `network`: whether phones can reach it */
export function waysRoom({ here, id, network, redraw }) {
  /** @type {Way[] | null} */ let all = null;
  /** @type {Way["role"]} */ let role = "helper";
  let said = "";
  let timer = 0;

  /** @param {() => Promise<unknown>} work */
  async function tried(work) {
    said = "";
    try {
      await work();
      await look();
    } catch (error) {
      said = error instanceof server.Refused ? error.message : say("workshop_unreachable_now");
    }
    redraw();
  }

  async function look() {
    const before = JSON.stringify(all);
    all = await (await server.ask("GET", `${here}/joins`)).json();
    return JSON.stringify(all) !== before;
  }

  /** While the screen is open, whoever comes in is shown. */
  function lookAgain() {
    clearTimeout(timer);
    timer = /** @type {any} */ (setTimeout(async () => {
      if (location.hash !== "#ways") return;
      const news = document.visibilityState === "visible" && (await look().catch(() => false));
      if (news) redraw();
      else lookAgain();
    }, all ? LOOK_AGAIN_MS : 0));
  }

  const open = () => tried(() => server.ask("POST", `${here}/joins`, { role }));
  const close = (/** @type {Way} */ way) => tried(() => server.ask("DELETE", `${here}/joins/${encodeURIComponent(way.id)}`));
  const sendOut = (/** @type {Device} */ one) => tried(async () => {
    await server.ask("DELETE", `${here}/devices/${encodeURIComponent(one.id)}`);
    speakOut(say("workshop_sent_out", { name: one.name }));
  });

  /** @param {Frame} frame */
  function show(frame) {
    const ways = (all ?? []).filter((one) => one.role === role);
    const choices = ROLES.map((value) => ({ value, words: say(`workshop_ways_${value}`) }));
    const queue = el("a", { class: "plate main", href: `${root}rooms/queue?workshop=${encodeURIComponent(id)}` }, say("workshop_queue"));
    draw({
      ...frame,
      body: [
        el("h1", { class: "say" }, say("workshop_ask_ways")),
        tabs(choices, role, (value) => { role = value; redraw(); }, { label: say("workshop_part_ways") }),
        said ? el("p", { class: "warn", role: "alert" }, said) : null,
        network ? null : el("p", { class: "do", id: "only-here" }, say("workshop_only_here")),
        all && !ways.length ? el("p", { class: network ? "do" : "soft" }, say(`workshop_ways_none_${role}`)) : null,
        ...ways.flatMap(wayIn),
      ],
      foot: ways.some(isOpen) || !all || !network
        ? [queue] : [plate(say("workshop_ways_make"), open, { kind: "main", id: "make-code" })],
    });
    lookAgain();
  }

  /** @param {Way} way */
  function wayIn(way) {
    const shown = isOpen(way) && network;
    const shut = plate(say("workshop_ways_close"), () => closeSheet(way), { kind: "quiet", id: `close-${way.id}` });
    return [
      el("div", { class: "slip whole way" },
        shown ? el("img", { class: "qr", src: `${here}/joins/${encodeURIComponent(way.id)}/qr.svg`, alt: say("workshop_qr"), width: 220, height: 220 }) : null,
        el("div", {}, ...(shown ? codeOf(way) : [el("p", {}, say(isOpen(way) ? "workshop_code_waits" : "workshop_code_over"))]), shut)),
      el("h2", {}, say(`workshop_in_${way.role}`, { n: way.devices.length })),
      el("ul", { class: "devices" }, ...way.devices.map(device)),
    ];
  }

  /** @param {Way} way */
  const codeOf = (way) => [
    el("p", { class: "label soft" }, say("workshop_code")),
    el("p", { class: "code num", dir: "ltr", "aria-label": [...way.code].join(" "), role: "img" }, `${way.code.slice(0, 3)} ${way.code.slice(3)}`),
    el("p", { class: "address" }, say("workshop_address", { address: leftToRight(new URL(way.link).host) })),
    el("p", { class: "hint" }, say("workshop_expires", { time: timeWords(way.expires) })),
  ];

  /** @param {Device} one */
  const device = (one) => el("li", {},
    el("span", { dir: "auto" }, one.bench ? say("workshop_at_bench", { bench: one.bench }) : one.name), el("span", { class: "soft label" }, timeWords(one.joined)),
    plate(say("workshop_send_out"), () => void sendOut(one), { id: `out-${one.id}`, "aria-label": say("workshop_send_out_name", { name: one.name }) }));

  /** @param {Way} way */
  function closeSheet(way) {
    openSheet(say("workshop_ways_close"), [
      el("p", { class: "do" }, say("workshop_ways_close_what", { n: way.devices.length })),
      sheetChoice(say("workshop_ways_close_now"), () => void close(way)),
    ]);
  }

  return { show };
}
