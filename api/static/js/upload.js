// @ts-check
/** Sends a photo and says how far it is; remembers how fast that went. */

import { Refused, Unreachable } from "./server.js";
import { secondsSaved, shrunk } from "./shrink.js";

const STALLED_MS = 20_000; // nothing went over for so long: the way is broken, though nobody said so
const LEAST_BYTES = 50_000; // below that a speed means nothing

/** Chosen here, so that the server knows a photo that is sent again. Random, 20 characters. */
export function newToken() {
  return [...crypto.getRandomValues(new Uint8Array(10))].map((one) => one.toString(16).padStart(2, "0")).join("");
}

/** @param {string} key @returns {number | null} */
function measured(key) {
  try {
    return Number(localStorage.getItem(`doughsight-${key}`)) || null;
  } catch {
    return null;
  }
}

/** @param {string} key @param {number} value */
function note(key, value) {
  try {
    localStorage.setItem(`doughsight-${key}`, value.toPrecision(4));
  } catch {
    // a private window forgets
  }
}

/** The photo last made smaller, so that a second try need not do it again. */
let last = { token: "", smaller: /** @type {Blob | null} */ (null) };

/** What to send: the file, or a smaller one where that is quicker. @param {any} photo */
async function worthSending({ file, token, natural }) {
  if (last.token === token) return last.smaller ?? file;
  const known = { bytesPerS: measured("upload-bytes-per-s"), sPerMpx: measured("shrink-s-per-mpx") };
  if (!natural || secondsSaved({ ...known, ...natural, bytes: file.size }) <= 0) return file;
  const began = performance.now();
  const smaller = await shrunk(file);
  note("shrink-s-per-mpx", (performance.now() - began) / 1e3 / ((natural.w * natural.h) / 1e6));
  last = { token, smaller: smaller && smaller.size < file.size ? smaller : null };
  return last.smaller ?? file;
}

/**
 * @param {{file: Blob, token: string, sculpture?: string | null, root?: string, natural: {w: number, h: number} | null}} photo `natural`: as it was taken
 * @param {(share: number) => void} onProgress 0 to 1 @param {AbortSignal} signal
 * @returns {Promise<{id: string, width: number, height: number}>}
 */
export async function sendPhoto(photo, onProgress, signal) {
  const body = new FormData();
  const sent = await worthSending(photo);
  body.append("photo", sent, "photo");
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    const began = performance.now();
    /** @type {any} */ let timer = null;
    const alive = () => {
      clearTimeout(timer);
      timer = setTimeout(() => request.abort(), STALLED_MS);
    };
    const broken = () => {
      clearTimeout(timer);
      reject(new Unreachable(""));
    };
    request.upload.onprogress = (event) => {
      alive();
      if (event.total) onProgress(event.loaded / event.total);
    };
    request.upload.onload = () => {
      const seconds = (performance.now() - began) / 1e3;
      if (sent.size > LEAST_BYTES) note("upload-bytes-per-s", sent.size / seconds);
    };
    request.onload = () => {
      clearTimeout(timer);
      const told = readable(request.responseText);
      if (request.status === 201 && told) resolve(told);
      else if (request.status === 0) broken();
      else reject(new Refused(told?.error ?? "", request.status));
    };
    request.onerror = broken;
    request.onabort = broken;
    signal.addEventListener("abort", () => request.abort());
    const whose = photo.sculpture ? `&sculpture=${encodeURIComponent(photo.sculpture)}` : "";
    request.open("POST", `${photo.root ?? ""}photos?token=${photo.token}${whose}`);
    request.send(body);
    alive();
  });
}

/** @param {string} text @returns {any} */
function readable(text) {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}
