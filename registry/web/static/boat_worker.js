// Keeps the pages of the boat so that they open without the network: the network first, what was kept second.
const KEPT = "leadline-boat-1", PATIENCE_MS = 4000;
const ours = (url) => url.origin === location.origin && (url.pathname.startsWith("/static/") || (/^\/boat(\/|$)/.test(url.pathname) && !/\.json$|\/sw\.js$|\/photographs\/|\/recorded\//.test(url.pathname)));

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const name of await caches.keys()) if (name !== KEPT) await caches.delete(name);
  await self.clients.claim();
})()));

async function fresh(request) {
  const reply = await fetch(request, { signal: AbortSignal.timeout(PATIENCE_MS) });
  if (reply.ok && !reply.redirected && reply.type === "basic") await (await caches.open(KEPT)).put(request.url, reply.clone());
  return reply;
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method !== "GET" || !ours(new URL(request.url))) return;
  event.respondWith((async () => {
    try {
      // Navigations bring their own way with redirects: sign-in is never kept.
      return await fresh(request.mode === "navigate" ? new Request(request.url, { redirect: "manual", credentials: "same-origin" }) : request);
    } catch (fault) {
      const kept = await (await caches.open(KEPT)).match(request.url, { ignoreSearch: true, ignoreVary: true });
      if (kept) return kept;
      throw fault;
    }
  })());
});

self.addEventListener("message", (event) => {
  if (event.data.keep) event.waitUntil(Promise.allSettled(event.data.keep.map((path) => {
    const url = new URL(path, location.origin);
    return ours(url) ? fresh(new Request(url, { redirect: "manual", credentials: "same-origin" })) : null;
  })));
});
