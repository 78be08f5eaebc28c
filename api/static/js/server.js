// @ts-check
/** Questions to the server. Every failure is either `Refused` (it said why) or `Unreachable`. */

import { language } from "./words.js";

export class Refused extends Error {
  /** @param {string} sentence @param {number} status @param {any} [told] the whole answer */
  constructor(sentence, status, told) {
    super(sentence);
    this.status = status;
    this.told = told;
  }
}

export class Unreachable extends Error {}

/** @param {string} method @param {string} path @param {BodyInit | object} [body] @param {AbortSignal} [signal]
 * @param {boolean} [keepalive] whether it is to arrive though the page is being left; for small things only */
export async function ask(method, path, body, signal, keepalive = false) {
  const form = body instanceof FormData || body instanceof Blob;
  let answer;
  try {
    answer = await fetch(path, {
      method,
      signal,
      keepalive,
      headers: body && !form ? { "content-type": "application/json" } : {},
      body: body && !form ? JSON.stringify(body) : /** @type {any} */ (body),
    });
  } catch (error) {
    if (error instanceof DOMException && error.name === "AbortError") throw error;
    throw new Unreachable("");
  }
  if (!answer.ok) {
    const told = await answer.json().catch(() => ({}));
    throw new Refused(told.error ?? "", answer.status, told);
  }
  return answer;
}

/** @param {string} id */
export const photoUrl = (id) => `photos/${id}`;

/** @param {string} id */
export const deletePhoto = (id) => ask("DELETE", `photos/${id}`);

/** Small things: who is silent for so long is out of reach. */
const soon = () => AbortSignal.timeout(10_000);

/** @typedef {{id: string, photo: {id: string, width: number, height: number}, job: any, revision: number,
 * inspection: string | null}} Draft */

/** @param {{photo: string, job: any, inspection: string | null}} first @returns {Promise<Draft>} */
export const addDraft = async (first) => (await ask("POST", "drafts", first, soon())).json();

/** @param {string} id @param {number} after the revision known here @param {{job: any, inspection: string | null}} next
 * @returns {Promise<Draft>} */
export const putDraft = async (id, after, next) => (await ask("PUT", `drafts/${id}?after=${after}`, next, soon())).json();

/** The draft if it is newer than that, else null. @param {string} id @param {number} after @returns {Promise<Draft | null>} */
export async function draft(id, after) {
  const answer = await ask("GET", `drafts/${encodeURIComponent(id)}?after=${after}`, undefined, soon());
  return answer.status === 204 ? null : answer.json();
}

/** @returns {Promise<import("./here.js").Here>} */
export const here = async () => (await ask("GET", "here", undefined, soon())).json();

/** @param {string} id @returns {Promise<{bench: string}>} */
export const sculpture = async (id) => (await ask("GET", `sculptures/${encodeURIComponent(id)}`, undefined, soon())).json();

/** @param {string} id of a workshop @returns {Promise<{doughs: import("./workshop.js").Known[], revision: number}>} */
export const doughsOfDay = async (id) => (await ask("GET", `workshops/${id}/doughs`, undefined, soon())).json();

/** @param {string} id of a workshop @param {number} after @param {import("./workshop.js").Known[]} doughs */
export const putDoughs = (id, after, doughs) => ask("PUT", `workshops/${id}/doughs?after=${after}`, { doughs }, soon());

/** @param {object} wish @param {AbortSignal} signal */
export const preview = async (wish, signal) => (await ask("POST", "preview", wish, signal)).json();

/** The doughs of the day on a new photo. @param {{photo: string, doughs: import("./workshop.js").Known[]}} wish
 * @returns {Promise<{doughs: {name: string, taps: [number, number][], sure: number}[]}>} */
export const found = async (wish) => (await ask("POST", "palettes/found", wish)).json();

/** What the printed mat in a photo tells. @param {string} id @returns {Promise<any>} */
export const mat = async (id) => (await ask("GET", `photos/${id}/mat`)).json();

/** @param {object} told a case @param {string} token */
export async function inspect(told, token) {
  return (await ask("POST", `inspections?token=${token}`, told)).json();
}

/** The same sculpture on another photo. @param {string} id of its inspection @param {string} photo @param {string} token */
export async function again(id, photo, token) {
  return (await ask("POST", `inspections/${id}/again?token=${token}`, { photo })).json();
}

/** @param {string} token @returns {Promise<string>} */
export async function stage(token) {
  return (await (await ask("GET", `stages/${token}`)).json()).stage;
}

/** As it is kept; what was last said in another language is said anew. @param {string} id */
export async function inspection(id) {
  const kept = await (await ask("GET", `inspections/${id}`)).json();
  return kept.report.language === language ? kept : putAge(id, kept.case.age).catch(() => kept);
}

/** One answer more, or with `check` null the last one taken back. @param {import("./dialogue.js").Pending} pending */
export async function answerCheck({ id, check, after }) {
  const where = `inspections/${id}/checks`;
  const sent = check ? ask("POST", `${where}?after=${after}`, check) : ask("DELETE", `${where}/last?after=${after}`);
  return (await sent).json();
}

/** @param {string} id
 * @param {{finding: number | null, layers: string[], level: string, remedy: number | null, when: string, scale: number,
 * frame: number[], sideways: boolean, led?: string | null}} wish
 * @returns {Promise<string>} */
export async function overlay(id, { finding, layers, level, remedy, when, scale, frame, sideways, led }) {
  const query = new URLSearchParams({
    level,
    layers: layers.join(","),
    px_per_mark: scale.toFixed(3),
    frame: frame.map((v) => v.toFixed(1)).join(","),
  });
  if (finding !== null) query.set("finding", String(finding));
  if (led) query.set("led", led);
  if (sideways) query.set("sideways", "true");
  if (remedy !== null) {
    query.set("remedy", String(remedy));
    query.set("when", when);
  }
  return (await ask("GET", `inspections/${id}/overlay.svg?${query}`)).text();
}

/** @param {string} id @param {string} level */
export const pictureUrl = (id, level) => `inspections/${id}/picture.png?level=${level}`;

/** Where the electricity goes, as a picture. @param {string} id */
export const flowUrl = (id) => `inspections/${id}/flow.png`;

/** What was taken for what, as a picture. @param {string} id @param {number} width in CSS pixels */
export const seeingUrl = (id, width) => `inspections/${id}/seeing.png?width=${width}`;

/** The same answer in the words for another age. @param {string} id @param {string} age */
export const putAge = async (id, age) => (await ask("PUT", `inspections/${id}/age`, { age })).json();

/** @param {string} id @param {number} rank */
export const remedyUrl = (id, rank) => `inspections/${id}/remedy.png?rank=${rank}`;

/** What comes of changes that are tried. @param {string} id @param {any[]} changes @param {AbortSignal} signal */
export const whatIf = async (id, changes, signal) => (await ask("POST", `inspections/${id}/what-if`, { changes }, signal)).json();

/** @returns {Promise<{name: string, title: string}[]>} */
export const samples = async () => (await ask("GET", "samples")).json();

/** @param {string} name */
export const loadSample = async (name) => (await ask("POST", `samples/${encodeURIComponent(name)}`)).json();
