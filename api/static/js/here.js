// @ts-check
/**
 * Which workshop this device is in, as what, and for whose sculpture it takes the next photo. Asked once; without an
 * answer the page works as it does alone.
 */

import { el } from "./dom.js";
import { forget } from "./keep.js";
import * as server from "./server.js";
import { say } from "./words.js";
import { forgetDoughs, remember, remembered } from "./workshop.js";

const OTHER_RGB = 90; // of 255 in each channel (estimated)

/** @typedef {import("./workshop.js").Known} Known */

/** Begins the names under which a shared tablet keeps which benches have asked on it. */
export const BENCHES = "doughsight-benches-";

/** @typedef {{role: "owner" | "helper" | "bench", workshop: {id: string, name: string} | null}} Here */

/** The sculpture that the next photo belongs to: the queue sends a helper here with it in the address. */
const asked = () => new URLSearchParams(location.search).get("for");

/** Of one photo only: the next one may be of another bench. @returns {string | null} */
export function takeAsked() {
  const id = asked();
  if (id) history.replaceState(null, "", location.pathname + location.hash);
  return id;
}

/** @param {any} app */
export async function findHere(app) {
  const id = asked();
  /** @type {Here | null} */ const here = await server.here().catch((error) => (isOut(error), null));
  if (!here) return;
  const bench = id ? await server.sculpture(id).then(({ bench }) => bench).catch(() => null) : null;
  if (here.workshop && !remembered().length) {
    const { doughs } = await server.doughsOfDay(here.workshop.id).catch(() => ({ doughs: [] }));
    remember(doughs.map((/** @type {object} */ one) => ({ ...one, taps: [] })));
  }
  app.set({ here, bench });
}

/** The first doughs tapped today are those of the day on every phone; one that was typed in with another colour than
 * it has takes that of the photo. @param {Here | null} here */
export async function tellDoughs(here) {
  if (!here?.workshop || here.role === "bench") return;
  const { doughs, revision } = await server.doughsOfDay(here.workshop.id);
  const seen = new Map(remembered().map((one) => [one.name, one]));
  const now = doughs.length ? doughs.map((one) => (isOther(one, seen.get(one.name)) ? { ...one, rgb: /** @type {Known} */ (seen.get(one.name)).rgb } : one)) : remembered();
  if (now.length && JSON.stringify(now) !== JSON.stringify(doughs)) await server.putDoughs(here.workshop.id, revision, now);
}

/** Whether the colour is another one, not the same in other light. @param {Known} told @param {Known} [seen] */
const isOther = (told, seen) => Boolean(seen) && Math.hypot(...told.rgb.map((value, i) => value - /** @type {Known} */ (seen).rgb[i])) > OTHER_RGB;

/** A device that leaves, or that somebody else takes, keeps nothing: no photo, no dough, no name of a bench. */
export async function forgetHere() {
  await forget();
  forgetDoughs();
  try {
    for (const key of Object.keys(localStorage)) if (key.startsWith(BENCHES)) localStorage.removeItem(key);
  } catch {
    // a private window has kept nothing
  }
}

/** Whether our server has said that this device has no business there: no network and no server is no such word.
 * @param {unknown} error */
export const wasPutOut = (error) => error instanceof server.Refused && error.status === 401 && error.message !== "";

/** Whoever was put out, or whose workshop is over, is asked for a code, and keeps nothing.
 * @param {unknown} error @returns {boolean} whether that is so */
export function isOut(error) {
  const out = wasPutOut(error);
  if (out) void forgetHere().catch(() => undefined).then(() => location.replace("rooms/join"));
  return out;
}

/** What a bench looks at belongs to its sculpture: a sample would stand in the queue and on record as theirs.
 * @param {Here | null} here */
export const mayTrySamples = (here) => here?.role !== "bench";

/** Rooms beside this page. @param {Here | null} here @returns {{words: string, href: string}[]} */
export function roomsOf(here) {
  if (!here) return [];
  const queue = { words: say("room_queue"), href: "rooms/queue" };
  if (here.role === "bench") return [{ words: say("room_help"), href: "rooms/help" }];
  if (here.role === "helper") return [queue];
  return [...(here.workshop ? [queue] : []), { words: say("room_workshops"), href: "rooms/workshops" }];
}

/** @param {{words: string, href: string}} room @param {string} [kind] */
export const roomPlate = ({ words, href }, kind = "") => el("a", { class: `plate ${kind}`.trim(), href }, words);
