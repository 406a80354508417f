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

self.addEventListener("fetch", (event) => {
  const asked = new URL(event.request.url);
  if (event.request.method !== "GET" || asked.origin !== location.origin) return;
  const own = () => caches.match(event.request, { ignoreSearch: true, cacheName: ISSUE });
  const late = new Promise((_, reject) => setTimeout(() => reject(new Error("no answer in time")), PATIENCE_MS));
  const fresh = fetch(event.request);
  event.respondWith(Promise.race([fresh, late]).catch(() => own().then((found) => found || fresh)));
});
