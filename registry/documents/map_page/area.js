"use strict";
/* The page of one area: the language and the light that the reader chooses, here as on the map. */
(function () {
  function sayAll() {
    document.documentElement.lang = language;
    document.title = told("area-title");
    speak(document);
  }
  byId("language").value = language;
  byId("theme").value = kept.get("theme") || "auto";
  byId("language").addEventListener("change", (event) => { language = event.target.value; kept.set("language", language); sayAll(); });
  byId("theme").addEventListener("change", (event) => { kept.set("theme", event.target.value); lighten(); });
  byId("settings").hidden = false;
  sayAll();
})();
