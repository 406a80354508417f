"use strict";
/* A map that is served keeps itself for use without a network. A plain file needs none of this. */
(function () {
  let telling = null;
  function tell(key) {
    telling = key;
    byId("news").hidden = !key;
    byId("news").textContent = key ? told(key) : "";
  }
  const connected = () => { if (!navigator.onLine) tell("offline"); else if (telling === "offline") tell(null); };
  addEventListener("online", connected);
  addEventListener("offline", connected);
  byId("language").addEventListener("change", () => tell(telling));
  connected();
  if (!("serviceWorker" in navigator) || !location.protocol.startsWith("http")) return;
  const root = document.documentElement.dataset.root;
  document.head.append(element("link", { rel: "manifest", href: `${root}manifest.webmanifest` }));
  const before = navigator.serviceWorker.controller;
  navigator.serviceWorker.addEventListener("message", () => tell("offline"));
  if (before) before.postMessage("how was this page answered?");
  navigator.serviceWorker.addEventListener("controllerchange", () => { if (navigator.onLine) tell(before ? "renewed" : "ready"); });
  navigator.serviceWorker.register(`${root}sw.js`).catch(() => { /* A browser that keeps nothing shows the page all the same. */ });
})();
