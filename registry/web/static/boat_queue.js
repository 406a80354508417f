// The queue of this tablet: what waits is sent in order, once each; what the server refuses is kept for people.
import { change, entries, forgetOldSent, openStore } from "./boat_store.js";

const AGAIN_MS = 4000, PATIENCE_MS = 60000;
const box = document.getElementById("queue"), state = document.getElementById("queue-state"), list = document.getElementById("queue-list");
let sending = false, hindrance = "", timer = 0;

export const MARKS = {
  conforming: ["good", "M4 13l5 5L20 6"], nonconforming: ["bad", "M5 5l14 14M19 5L5 19"],
  inconclusive: ["unsure", "M8 8a4 4 0 1 1 5 4c-1 .5-1 1-1 3M12 19v1"], waiting: ["unsure", "M12 6v6l4 3M12 2a10 10 0 1 0 .01 0"],
};

function made(name, words = "", kind = "") {
  const element = document.createElement(name);
  if (words) element.textContent = words;
  if (kind) element.className = kind;
  return element;
}

function mark(word, said) {
  const [kind, path] = MARKS[word] ?? ["bad", "M12 4v10M12 19v1"];
  const span = made("span", "", `verdict ${kind}`), space = "http://www.w3.org/2000/svg";
  const svg = document.createElementNS(space, "svg"), line = document.createElementNS(space, "path");
  svg.setAttribute("viewBox", "0 0 24 24"); svg.setAttribute("aria-hidden", "true"); line.setAttribute("d", path);
  svg.append(line); span.append(svg, said ?? word);
  return span;
}

function row(entry) {
  const item = made("li"), what = made("strong", entry.tag);
  item.dataset.state = entry.state; item.dataset.tag = entry.tag;
  item.append(what, " ");
  if (entry.state === "waiting") item.append(mark("waiting"), made("span", ` since ${entry.kept}`, "soft"));
  if (entry.state === "sent") {
    const page = made("a", `recorded as ${entry.answer.placement}`);
    page.href = entry.answer.page;
    item.append(mark(entry.answer.verdict), " ", page);
    for (const warning of entry.answer.warnings) item.append(made("p", warning));
  }
  if (entry.state === "needs") {
    item.append(mark("needs", "needs you"), made("p", entry.reason), made("p", entry.remedy));
    const actions = made("div", "", "actions"), mend = made("a", "Mend it", "button"), again = made("button", "Send it again"), away = made("button", "Set it aside", "grave");
    mend.href = `/boat/${encodeURIComponent(entry.tag)}#mend=${entry.order}`;
    again.type = away.type = "button";
    again.onclick = () => change(entry.order, entry.id, { state: "waiting" }).then(send);
    away.onclick = () => {
      if (away.dataset.sure) change(entry.order, entry.id, { state: "aside" }).then(draw);
      else { away.dataset.sure = "yes"; away.textContent = "Tap again: it is not recorded"; }
    };
    actions.append(mend, again, away); item.append(actions);
  }
  if (entry.state === "aside") item.append(made("span", `set aside, not recorded; kept ${entry.kept}`, "soft"));
  return item;
}

export async function draw() {
  const all = await entries();
  const waiting = all.filter((each) => each.state === "waiting"), needing = all.filter((each) => each.state === "needs");
  const shown = [...needing, ...waiting, ...all.filter((each) => each.state === "sent").slice(-3).reverse(), ...all.filter((each) => each.state === "aside").slice(-3)];
  box.hidden = !shown.length;
  box.classList.toggle("waiting", waiting.length > 0);
  box.classList.toggle("trouble-some", needing.length > 0);
  const parts = [];
  if (needing.length) parts.push(`${needing.length} ${needing.length === 1 ? "needs" : "need"} you`);
  if (waiting.length) parts.push(`${waiting.length} waiting`);
  const told = (parts.join(", ") || (shown.length ? "All sent" : "")) + (waiting.length && hindrance ? `. ${hindrance}` : "");
  if (state.textContent !== told) state.textContent = told;
  // Buttons that somebody is about to press are not drawn anew under the finger.
  const key = JSON.stringify(shown.map((each) => [each.order, each.id, each.state, each.reason]));
  if (list.dataset.key !== key) { list.dataset.key = key; list.replaceChildren(...shown.map(row)); }
  document.dispatchEvent(new CustomEvent("queue-drawn", { detail: all }));
}

async function asked(address, options = {}) {
  return fetch(address, { ...options, headers: { accept: "application/json" }, cache: "no-store", credentials: "same-origin", signal: AbortSignal.timeout(PATIENCE_MS) });
}

// Gives the session as the server knows it now; the page may be older, or come from the tablet itself.
export async function session() {
  const reply = await asked("/boat/session.json");
  if (reply.ok && (reply.headers.get("content-type") ?? "").includes("json")) return reply.json();
  if (reply.status === 403) {
    const said = await reply.json().catch(() => ({ error: "Nobody is signed in." }));
    throw new Hindrance(`${said.error} Sign in, and they are sent.`);
  }
  throw new Hindrance("The boat’s server does not answer as it should.");
}

export class Hindrance extends Error {}

function asForm(entry, token) {
  const body = new FormData();
  for (const [name, value] of entry.fields) body.append(name, value);
  body.set("form_token", token);
  body.set("entry", entry.id);
  if (entry.photo) body.append("photo", new Blob([entry.photo.bytes], { type: entry.photo.type }), entry.photo.name);
  return body;
}

async function sendOne(entry) {
  const { form_token: token } = await session();
  const reply = await asked("/boat/entries", { method: "POST", body: asForm(entry, token) });
  const said = await reply.json().catch(() => null);
  if (reply.ok && said && said.placement) {
    // The photograph is at the server now, under its digest; of the entry its words stay for a while.
    await change(entry.order, entry.id, { state: "sent", answer: said, photo: null });
    return;
  }
  if (reply.status === 403 || reply.status === 429) throw new Hindrance(`${said?.error ?? "The server lets nobody in."} Sign in, and they are sent.`);
  if (reply.ok || [502, 503, 504].includes(reply.status)) throw new Hindrance(said?.error ?? "The boat’s server does not answer as it should.");
  await change(entry.order, entry.id, { state: "needs", reason: said?.error ?? `The server answered ${reply.status}.`, remedy: said?.remedy ?? "" });
}

export async function send() {
  if (sending) return;
  sending = true;
  clearTimeout(timer);
  try {
    for (;;) {
      const [next] = (await entries()).filter((each) => each.state === "waiting");
      if (!next) break;
      await draw();
      await sendOne(next);
      hindrance = "";
    }
    hindrance = "";
    await forgetOldSent();
  } catch (fault) {
    hindrance = fault instanceof Hindrance ? fault.message : "The boat’s server cannot be reached; they stay on this tablet.";
    timer = setTimeout(send, AGAIN_MS);
  } finally {
    sending = false;
    await draw();
  }
}

openStore().then(() => {
  // Where it may, the browser is asked never to clear away what waits.
  navigator.storage?.persist?.().catch(() => {});
  addEventListener("online", send);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });
  return send();
}).catch(() => {
  box.hidden = false;
  state.textContent = "This browser keeps nothing: what you record must reach the server at once.";
});

if ("serviceWorker" in navigator && window.isSecureContext) {
  navigator.serviceWorker.register("/boat/sw.js", { scope: "/boat" }).then(() => navigator.serviceWorker.ready).then((ready) => {
    const pages = [location.pathname, "/boat", ...Array.from(document.querySelectorAll("#run a"), (link) => link.pathname)];
    const parts = performance.getEntriesByType("resource").map((each) => new URL(each.name)).filter((each) => each.origin === location.origin && each.pathname.startsWith("/static/")).map((each) => each.pathname);
    ready.active.postMessage({ keep: [...new Set([...pages, ...parts, "/static/boat_module.js"])] });
  }).catch(() => {});
  // Whoever signs out leaves no pages behind; entries that wait stay.
  document.querySelector('form[action="/sign-out"]')?.addEventListener("submit", () => caches.delete("leadline-boat-1"));
}
