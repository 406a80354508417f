"use strict";
/*
 * Keeps the pages of this folder, all of one issue. With a network the newest page is shown; where none answers in
 * time, the page that was kept. A new issue has another name here, is fetched whole, and only then takes the place.
 */
const ISSUE = "<!--issue-->";
const FILES = <!--files-->;
const PATIENCE_MS = 4000;

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(ISSUE)
    .then((cache) => cache.addAll(FILES.map((file) => new Request(file, { cache: "reload" }))))
    .then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(caches.keys()
    .then((names) => Promise.all(names.filter((name) => name.startsWith("reef ") && name !== ISSUE).map((name) => caches.delete(name))))
    .then(() => self.clients.claim()));
});

/* The pages that were answered from what was kept: a device with a network that leads nowhere knows no better. */
const fromKept = new Set();
self.addEventListener("message", (event) => { if (fromKept.has(event.source.id)) event.source.postMessage("kept"); });

self.addEventListener("fetch", (event) => {
  const asked = new URL(event.request.url);
  if (event.request.method !== "GET" || asked.origin !== location.origin) return;
  const own = () => caches.match(event.request, { ignoreSearch: true, cacheName: ISSUE });
  const late = new Promise((_, reject) => setTimeout(() => reject(new Error("no answer in time")), PATIENCE_MS));
  /* What the browser remembers of its own accord may be of an older issue: the server is asked. */
  const fresh = fetch(event.request, { cache: "no-cache" });
  event.respondWith(Promise.race([fresh, late]).catch(() => own().then((found) => {
    if (found && event.request.mode === "navigate") fromKept.add(event.resultingClientId);
    return found || fresh;
  })));
});
