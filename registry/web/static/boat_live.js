// The receiver that the server listens to: asked every second while it is chosen.
const box = document.getElementById("live"), EVERY_MS = 1000;

if (box) {
  const form = document.getElementById("drop"), part = (name) => document.getElementById(`live-${name}`);
  const chosen = form.querySelector("input[name=how][value=receiver]"), from = form.elements.fixes_from, to = form.elements.fixes_to;
  let since = "", last = "", first_m = 0, held = Boolean(to.value);
  box.hidden = false;

  const show = (told) => {
    part("trouble").textContent = told.trouble || (told.silent_s !== null && told.silent_s > 5 ? `Nothing has come for ${Math.round(told.silent_s)} s.` : "");
    if (told.last) last = told.last;
    if (!told.place) { part("r95").textContent = "—"; return; }
    first_m = Math.max(first_m, told.place.r95_m);
    part("r95").textContent = told.place.r95;
    part("place").textContent = `${told.place.text} (${told.place.frame})`;
    part("circle").setAttribute("r", String(Math.max(6, 54 * told.place.r95_m / first_m)));
    part("more").textContent = `${told.fixes} ${told.fixes === 1 ? "fix" : "fixes"}${since ? ` in ${told.span_s} s` : ", the last one alone"}; ${told.quality}. ${told.warnings.join(" ")}`;
  };

  const ask = async () => {
    if (!held && chosen.checked && !document.hidden) {
      try {
        const reply = await fetch(`/boat/receiver.json${since ? `?since=${encodeURIComponent(since)}` : ""}`, { cache: "no-store", headers: { accept: "application/json" }, signal: AbortSignal.timeout(8000) });
        const told = await reply.json();
        if (reply.ok) { if (!held) show(told); } else part("trouble").textContent = told.error;
      } catch {
        part("trouble").textContent = "The boat’s server cannot be reached; it goes on listening. Hold the average when the wifi is back, or leave it to the time of touch-down.";
      }
    }
    setTimeout(ask, EVERY_MS);
  };

  part("begin").onclick = () => {
    since = last; first_m = 0; held = false;
    from.value = to.value = "";
    chosen.checked = true;
    part("hold").disabled = !since;
    part("begin").textContent = "Begin anew";
  };
  part("hold").onclick = () => {
    from.value = since; to.value = last; held = true;
    part("hold").disabled = true;
    part("more").textContent = `Held: ${part("more").textContent}`;
  };
  ask();
}
