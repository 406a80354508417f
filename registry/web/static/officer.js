// Plan, table and dates answer each other without the page being built anew; without this script links and forms do.

const told = document.createElement("p");
told.className = "unseen";
told.setAttribute("role", "status");
document.body.append(told);

let latest = 0;

/** Show another state of this page in the place of this one, where it is, with the focus where it was. */
async function show(address, { push = true } = {}) {
  const turn = (latest += 1);
  const url = new URL(address, location.href);
  try {
    const answer = await fetch(url.pathname + url.search, { credentials: "same-origin" });
    // Whoever has been signed out, or asked for what is not there, is led to the whole page.
    if (!answer.ok || answer.redirected) throw new Error(String(answer.status));
    const next = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (turn !== latest) return;
    const focused = document.activeElement?.id;
    const field = document.activeElement?.selectionStart;
    document.querySelector("main").replaceChildren(...next.querySelector("main").childNodes);
    document.title = next.title;
    if (push) history.pushState(null, "", url);
    begin();
    const again = focused && document.getElementById(focused);
    if (again) {
      again.focus({ preventScroll: true });
      if (field != null && again.setSelectionRange && again.type === "text") again.setSelectionRange(field, field);
    }
    if (url.hash === "#chosen") document.getElementById("chosen")?.scrollIntoView({ block: "center" });
    told.textContent = document.getElementById("told")?.textContent ?? document.querySelector(".whole p")?.textContent ?? "";
  } catch {
    location.assign(url);
  }
}

/** The address that a form asks for; what is left empty is not asked. */
function asked(form) {
  const url = new URL(form.getAttribute("action"), location.href);
  for (const [name, value] of new FormData(form)) if (value !== "") url.searchParams.set(name, value);
  return url;
}

function slide(form) {
  const box = form.querySelector(".slide");
  const slider = box.querySelector("input");
  if (slider.max === "0") return;
  const date = form.querySelector("[name=as-of]");
  const output = box.querySelector("output");
  const first = Date.parse(`${box.dataset.first}T00:00Z`);
  const day = () => new Date(first + Number(slider.value) * 86400000).toISOString().slice(0, 10);
  const tell = () => {
    output.textContent = day();
    slider.setAttribute("aria-valuetext", day());
  };
  box.hidden = false;
  tell();
  slider.addEventListener("input", () => {
    tell();
    // The end is the registry as it stands.
    date.value = slider.value === slider.max ? "" : day();
  });
  let waiting;
  slider.addEventListener("change", () => {
    // Arrow keys step day by day: the audit is asked for where they rest.
    clearTimeout(waiting);
    waiting = setTimeout(() => show(asked(form)), 250);
  });
}

function point(tag, on) {
  for (const each of document.querySelectorAll(".module, .placements tr")) {
    if (each.dataset.tag === tag) each.classList.toggle("pointed", on);
  }
}

function begin() {
  for (const form of document.querySelectorAll("form.dates")) slide(form);
  for (const each of document.querySelectorAll(".module, .placements tr[data-tag]")) {
    for (const [event, on] of [["pointerenter", true], ["pointerleave", false], ["focusin", true], ["focusout", false]]) {
      each.addEventListener(event, () => point(each.dataset.tag, on));
    }
  }
}

document.addEventListener("submit", (event) => {
  if (!event.target.matches("form[data-swap]")) return;
  event.preventDefault();
  show(asked(event.target));
});

let typing;
document.addEventListener("input", (event) => {
  const form = event.target.closest("form[data-at-once]");
  if (!form) return;
  clearTimeout(typing);
  typing = setTimeout(() => show(asked(form)), event.target.matches("select") ? 0 : 350);
});

document.addEventListener("click", (event) => {
  if (event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
  const link = event.target.closest("a[data-swap], a.module");
  if (!link) return;
  event.preventDefault();
  show(link.getAttribute("href"));
});

addEventListener("popstate", () => show(location.href, { push: false }));

begin();
