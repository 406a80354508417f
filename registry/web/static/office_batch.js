// How far the run is, asked for every second; once it has ended the page is loaded anew, with what was refused.
const numbers = ["issued", "again", "kept", "withdrawn", "refused"];
const at = (name) => document.getElementById(`batch-${name}`);
const WORDS = { proving: "The registry is being proved", issuing: "Certificates are being issued" };

async function look() {
  try {
    const answer = await fetch("/office/certificates/batch.json", { headers: { accept: "application/json" } });
    if (answer.ok) {
      const batch = await answer.json();
      if (!batch.running) {
        location.reload();
        return;
      }
      if (at("state").textContent !== WORDS[batch.state]) at("state").textContent = WORDS[batch.state];
      at("done").textContent = batch.done;
      at("total").textContent = batch.total;
      at("bar").max = Math.max(batch.total, 1);
      at("bar").value = batch.done;
      for (const name of numbers) at(name).textContent = batch.counts[name];
    }
  } catch {
    // The server cannot be reached for now: it is asked again.
  }
  setTimeout(look, 1000);
}

setTimeout(look, 500);
