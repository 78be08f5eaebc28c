// @ts-check
/** Puts the page itself on the shelf of this browser, so that it opens without a network. */

const CACHE = "doughsight-page"; // as in sw.js

/** Only where the browser allows it: on https, and on the laptop itself. */
export async function shelve() {
  if (!("serviceWorker" in navigator)) return;
  try {
    await navigator.serviceWorker.register("sw.js");
    const parts = performance.getEntriesByType("resource").map((one) => one.name);
    const page = location.href.split(/[?#]/)[0];
    const cache = await caches.open(CACHE);
    await cache.addAll([page, ...new Set(parts.filter((name) => name.startsWith(`${page}static/`)))]);
  } catch {
    // a private window, or no network: the next time then
  }
}
