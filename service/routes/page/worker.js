// Keeps the page for when there is no signal. The network comes first, so that page and service match.
const KEPT = "worksheet";
const PAGE = ["/", "/page/fields.json"];
/** How long to wait for a slow connection before the kept copy is shown [ms]. */
const PATIENCE = 4000;

const mine = (url) => url.origin === location.origin
  && (PAGE.includes(url.pathname + url.search) || (url.pathname.startsWith("/page/") && !url.pathname.endsWith("worker.js")));

async function answer(request) {
  const cache = await caches.open(KEPT);
  const kept = await cache.match(request);
  const fetched = fetch(request).then((response) => {
    if (response.ok) cache.put(request, response.clone());
    return response;
  });
  if (!kept) return fetched;
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE, kept));
  return Promise.race([fetched.catch(() => kept), late]);
}

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim().then(async () => {
  const cache = await caches.open(KEPT);
  // What the first visit loaded before this worker ran; a list that asks for a key stays out.
  const files = await (await fetch("/page/files.json")).json();
  await Promise.all([...PAGE, ...files].map((address) => cache.add(address).catch(() => undefined)));
})));
self.addEventListener("fetch", (event) => {
  if (event.request.method === "GET" && mine(new URL(event.request.url))) event.respondWith(answer(event.request));
});
