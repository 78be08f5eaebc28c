// @ts-check
/** Keeps the photo and the taps in this browser, so that nothing is lost without a network. */

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

/** Private windows may refuse: then it is kept in memory only. @param {object} job */
export const keep = (job) => within("readwrite", (store) => store.put(job, "now")).catch(() => undefined);

/** @returns {Promise<any>} */
export const kept = () => within("readonly", (store) => store.get("now")).catch(() => undefined);

/** The last inspection and an answer that has not gone over yet. @param {object} dialogue */
export const keepDialogue = (dialogue) => within("readwrite", (store) => store.put(dialogue, "dialogue")).catch(() => undefined);

/** @returns {Promise<any>} */
export const keptDialogue = () => within("readonly", (store) => store.get("dialogue")).catch(() => undefined);

export const forget = () => within("readwrite", (store) => store.clear()).catch(() => undefined);
