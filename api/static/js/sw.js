// @ts-check
/** The page without its server: as fresh as it can be had, else as it was last seen. What was told is in keep.js. */

const CACHE = "doughsight-page";
const worker = /** @type {any} */ (self);

worker.addEventListener("install", () => worker.skipWaiting());
worker.addEventListener("activate", (/** @type {any} */ event) => event.waitUntil(worker.clients.claim()));
worker.addEventListener("fetch", (/** @type {any} */ event) => {
  const { request } = event;
  const { scope } = worker.registration;
  const isPage = request.mode === "navigate" && request.url.split(/[?#]/)[0] === scope;
  if (request.method === "GET" && (isPage || request.url.startsWith(`${scope}static/`))) event.respondWith(fresh(request, isPage ? scope : request));
});

/** @param {Request} request @param {Request | string} key the page is one, whatever its address asks of it */
async function fresh(request, key) {
  const cache = await caches.open(CACHE);
  try {
    const answer = await fetch(request);
    if (answer.ok) await cache.put(key, answer.clone());
    return answer;
  } catch {
    return (await cache.match(key)) ?? Response.error();
  }
}
