// The page of a module: keep the entry first, then send it; check, time, receiver and tablet beside the form.
import { draw, send, session } from "./boat_queue.js";
import { entries, freshName, keep, openStore } from "./boat_store.js";
import "./boat_live.js";
import "./boat_tablet.js";

const form = document.getElementById("drop"), kept = document.getElementById("kept"), answer = document.getElementById("answer");
const differs = document.getElementById("differs"), clock = document.getElementById("clock"), now = document.getElementById("now");
let storing = false, mended = null, ahead_ms = 0;

const plain = (text) => text.normalize("NFKC").toLowerCase().split(/\s+/).filter(Boolean).join(" ");

// What the server would refuse is said here at once: offline it would come back hours later.
function disagreement() {
  const { diver, tag_read: read, unread, tag } = form.elements;
  if (unread.checked) return "";
  if (!diver.value.trim() || !read.value.trim()) return "Say which diver read the tag, and what it says; or tick that nobody has yet.";
  if (plain(read.value) !== plain(tag.value)) return `${diver.value.trim()} read ${read.value.trim()}, but this is the page of ${tag.value}. Have the tag read again; if it is ${read.value.trim()}, record it on that page.`;
  return "";
}

async function entryOf() {
  const fields = [], data = new FormData(form), now = new Date();
  for (const [name, value] of data) if (typeof value === "string" && !["form_token", "entry"].includes(name)) fields.push([name, value]);
  fields.push(["entered_at", new Date(now.getTime() + ahead_ms).toISOString()]);
  fields.push(["entered_by", form.dataset.crew]);
  const file = form.elements.photo.files[0];
  // Bytes, not the file: it may be gone from the camera's folder when the wifi is back.
  const photo = file ? { name: file.name, type: file.type, bytes: await file.arrayBuffer() } : mended?.photo ?? null;
  const entry = { id: freshName(), tag: form.elements.tag.value, fields, photo, state: "waiting", reason: "", remedy: "", answer: null, kept: now.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" }) };
  if (mended) entry.order = mended.order;
  return entry;
}

async function record() {
  if (storing) return;
  differs.textContent = disagreement();
  if (differs.textContent) { differs.scrollIntoView({ block: "center" }); return; }
  storing = true;
  const button = form.querySelector("button.main");
  button.disabled = true;
  try {
    const entry = await entryOf();
    await keep(entry);
    form.hidden = true;
    answer.replaceChildren();
    kept.hidden = false;
    kept.dataset.id = entry.id;
    await draw();
    kept.focus();
    send();
  } catch (fault) {
    differs.textContent = `This tablet could not keep the entry (${fault?.message ?? fault}). Write it down on paper, and try again.`;
    button.disabled = false;
    storing = false;
  }
}

document.addEventListener("queue-drawn", ({ detail }) => {
  const mine = detail.find((each) => each.id === kept.dataset.id);
  if (!mine) return;
  const told = { waiting: "It waits here, and is sent as soon as the boat’s server can be reached. You may close this page.", needs: "The server did not take it: see above what it says.", aside: "It was set aside." };
  const state = document.getElementById("kept-state");
  const words = mine.state === "sent" ? `Sent, and recorded as ${mine.answer.placement}: ${mine.answer.verdict}.` : told[mine.state];
  if (state.textContent !== words) state.textContent = words;
});

async function check(button) {
  button.disabled = true;
  const before = button.textContent;
  button.textContent = "Checking…";
  try {
    const { form_token: token } = await session();
    const body = new FormData(form);
    body.set("form_token", token);
    body.delete("photo");
    const reply = await fetch(button.formAction, { method: "POST", body, credentials: "same-origin", headers: { accept: "text/html" }, signal: AbortSignal.timeout(60000) });
    const page = new DOMParser().parseFromString(await reply.text(), "text/html"), found = page.getElementById("answer") ?? page.querySelector("main .note");
    if (!found) throw new Error("no answer");
    answer.replaceChildren(...document.importNode(found, true).childNodes);
  } catch (fault) {
    const note = document.createElement("div"), first = document.createElement("p"), second = document.createElement("p"), strong = document.createElement("strong");
    note.className = "note bad"; note.setAttribute("role", "alert");
    strong.textContent = "Not checked: the check needs the boat’s server, and it does not answer.";
    second.textContent = "Wait for the wifi before you let go. What lies on the seabed already can be recorded all the same; it is judged when it is sent.";
    first.append(strong); note.append(first, second); answer.replaceChildren(note);
  } finally {
    button.disabled = false;
    button.textContent = before;
    answer.scrollIntoView({ block: "start" });
    answer.focus({ preventScroll: true });
  }
}

function refill(entry) {
  mended = entry;
  for (const [name, value] of entry.fields) {
    const field = form.elements[name];
    if (!field || name === "tag") continue;
    if (field instanceof RadioNodeList) field.value = value;
    else if (field.type === "checkbox") field.checked = true;
    else field.value = value;
  }
  const note = document.createElement("div"), said = document.createElement("p");
  note.className = "note"; said.textContent = `You mend an entry that was not taken: ${entry.reason} ${entry.remedy}${entry.photo ? " Its photograph is kept." : ""}`;
  note.append(said); answer.replaceChildren(note);
}

// An instant as it reads in the programme's zone, with its offset.
function written(instant, zone) {
  const parts = {};
  const shape = new Intl.DateTimeFormat("en-GB", { timeZone: zone, hourCycle: "h23", year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", second: "2-digit", timeZoneName: "longOffset" });
  for (const { type, value } of shape.formatToParts(instant)) parts[type] = value;
  const offset = parts.timeZoneName.replace("GMT", "") || "Z";
  return `${parts.year}-${parts.month}-${parts.day}T${parts.hour}:${parts.minute}:${parts.second}${offset}`;
}

now.hidden = false;
now.onclick = () => { form.elements.when.value = written(new Date(Date.now() + ahead_ms), now.dataset.zone); };

session().then((told) => {
  const behind_ms = Date.parse(told.now) - Date.now();
  if (Math.abs(behind_ms) < 5000) return;
  // The clock of the server is the boat's; a tablet that was off for a winter may be wrong by hours.
  ahead_ms = behind_ms;
  clock.textContent = `This tablet’s clock is ${Math.round(Math.abs(behind_ms) / 1000)} s ${behind_ms < 0 ? "ahead of" : "behind"} the boat’s; the button above uses the boat’s.`;
}).catch(() => {});

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const { submitter } = event;
  // Where nothing can be kept, the form goes straight to the server, as without scripts.
  const keeps = await openStore().then(() => true, () => false);
  if (submitter && "check" in submitter.dataset) check(submitter);
  else if (keeps) record();
  else if (!storing) { storing = true; form.submit(); }
});
form.addEventListener("input", () => { differs.textContent = ""; });

// Without a reload: on plain HTTP the page would not come back while the wifi is away.
async function mend() {
  const found = /^#mend=(\d+)$/.exec(location.hash);
  if (!found) return;
  const entry = (await entries()).find((each) => each.order === Number(found[1]) && each.state === "needs");
  if (!entry) return;
  form.hidden = false;
  kept.hidden = true;
  storing = form.querySelector("button.main").disabled = false;
  refill(entry);
  answer.scrollIntoView({ block: "start" });
}

addEventListener("hashchange", mend);
mend().catch(() => {});
