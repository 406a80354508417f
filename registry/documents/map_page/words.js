"use strict";
/* What the page knows, and every language in which it can say so. Words reach the page through textContent alone. */
const site = JSON.parse(document.getElementById("site").textContent);
const words = JSON.parse(document.getElementById("words").textContent);
const byId = (id) => document.getElementById(id);

/** What this reader chose before, on this device; a browser that keeps nothing for a page forgets it. */
const kept = {
  get(name) { try { return localStorage.getItem(`reef-${name}`); } catch { return null; } },
  set(name, value) { try { localStorage.setItem(`reef-${name}`, value); } catch { /* Not kept, then. */ } },
};

/** The language kept, else the first of the reader's own that there is, else that of the page. */
let language = [kept.get("language"), ...(navigator.languages || []).map((tag) => tag.split("-")[0]), document.documentElement.lang]
  .find((tag) => tag && words[tag]);

/** Numbers in a text that is our own, with the decimal mark of the language. */
function decimal(text) {
  return text.replace(/(\d)\.(\d)/g, `$1${words[language].mark}$2`);
}

/** Values that are numbers of our own; others stand as they are. */
const MEASURED = new Set(["value", "u95", "feet", "depth", "least", "most", "setback", "epoch"]);

/** A sentence by its key; numbers among the values are grouped and choose the plural, texts stand as they are. */
function told(key, values = {}) {
  const found = words[language].text[key];
  if (found === undefined) throw new Error(`No words for ${key}`);
  const plural = new Intl.PluralRules(language).select(values.n || 0) === "one" || found.length === 1 ? 0 : 1;
  return (Array.isArray(found) ? found[plural] : found).replace(/\{(\w+)\}/g, (_, name) => {
    const value = name in values ? values[name] : name === "frame" ? told("epoch-frame") : site.values[name];
    return typeof value === "number" ? value.toLocaleString(language) : MEASURED.has(name) ? decimal(value) : value;
  });
}

/** Say everything within an element in the language chosen. */
function speak(within) {
  within.querySelectorAll("[data-word]").forEach((it) => { it.textContent = told(it.dataset.word, JSON.parse(it.dataset.values || "{}")); });
  within.querySelectorAll("[data-label]").forEach((it) => it.setAttribute("aria-label", told(it.dataset.label)));
  within.querySelectorAll("[data-column]").forEach((it) => { it.dataset.heading = told(it.dataset.column); });
}

function element(name, properties, ...children) {
  const made = Object.assign(document.createElement(name), properties);
  made.append(...children);
  return made;
}
const typed = (text) => element("bdi", { textContent: text });

/* ---- day and night ---- */

const dark = matchMedia("(prefers-color-scheme: dark)");
function lighten() {
  const chosen = kept.get("theme") || "auto";
  document.documentElement.dataset.theme = chosen === "auto" ? (dark.matches ? "night" : "day") : chosen;
}
dark.addEventListener("change", lighten);
lighten();
