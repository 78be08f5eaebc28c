// @ts-check
/** Keeps photo, taps and answer in this browser, so that nothing is lost without a network. */

const STORE = "jobs";

/** @returns {Promise<IDBDatabase>} */
function open() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open("doughsight", 1);
    request.onupgradeneeded = () => request.result.createObjectStore(STORE);
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

/** @template T @param {IDBTransactionMode} mode @param {(store: IDBObjectStore) => IDBRequest<T>} work */
async function within(mode, work) {
  const db = await open();
  try {
    return await new Promise((resolve, reject) => {
      const request = work(db.transaction(STORE, mode).objectStore(STORE));
      request.onsuccess = () => resolve(request.result);
      request.onerror = () => reject(request.error);
    });
  } finally {
    db.close();
  }
}

/** Private windows may refuse: then it is kept in memory only. @param {string} key @param {any} value */
const put = (key, value) => within("readwrite", (store) => store.put(value, key)).catch(() => undefined);

/** @param {string} key @returns {Promise<any>} */
const get = (key) => within("readonly", (store) => store.get(key)).catch(() => undefined);

/** The photo has megabytes, the taps change often: each is kept by itself. @param {object} photo */
export const keepPhoto = (photo) => put("photo", photo);

/** What was told, where the helper is, and how far the server knows of it. @param {object} now */
export const keep = (now) => put("now", now);

/** @returns {Promise<any>} with the photo, or undefined */
export async function kept() {
  const [photo, now] = await Promise.all([get("photo"), get("now")]);
  return photo && now && { ...now, photo };
}

/** The last inspection and an answer that has not gone over yet. @param {object} dialogue */
export const keepDialogue = (dialogue) => put("dialogue", dialogue);

/** @returns {Promise<any>} */
export const keptDialogue = () => get("dialogue");

export const forget = () => within("readwrite", (store) => store.clear()).catch(() => undefined);
