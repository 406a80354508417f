// Entries on this tablet, in IndexedDB: it is there on plain HTTP too, and outlives the page and the browser.
const DATABASE = "leadline-boat", STORE = "entries", MOST_SENT = 30;
let opened = null;

function promised(request) {
  return new Promise((done, failed) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });
}

export function openStore() {
  opened ??= new Promise((done, failed) => {
    if (!("indexedDB" in window)) { failed(new Error("no IndexedDB")); return; }
    const asked = indexedDB.open(DATABASE, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore(STORE, { keyPath: "order", autoIncrement: true });
    asked.onsuccess = () => { asked.result.onversionchange = () => asked.result.close(); done(asked.result); };
    asked.onerror = () => failed(asked.error);
  });
  return opened;
}

// Resolves when the transaction is on the disk, not before.
async function changed(work) {
  const database = await openStore();
  const transaction = database.transaction(STORE, "readwrite", { durability: "strict" });
  const ended = new Promise((done, failed) => {
    transaction.oncomplete = done;
    transaction.onabort = transaction.onerror = () => failed(transaction.error);
  });
  const answer = await work(transaction.objectStore(STORE));
  await ended;
  return answer;
}

export const keep = (entry) => changed((store) => promised(store.put(entry)));

// Changes an entry only as it stands now, so that two pages of one tablet do not undo each other.
export function change(order, id, how) {
  return changed(async (store) => {
    const held = await promised(store.get(order));
    if (held && held.id === id) await promised(store.put({ ...held, ...how }));
  });
}

export async function entries() {
  const database = await openStore();
  return promised(database.transaction(STORE).objectStore(STORE).getAll());
}

// Of what was sent, and stands in the journal, the last few are enough to look at.
export async function forgetOldSent() {
  const sent = (await entries()).filter((each) => each.state === "sent");
  const old = sent.slice(0, Math.max(0, sent.length - MOST_SENT));
  if (old.length) await changed(async (store) => { for (const each of old) await promised(store.delete(each.order)); });
}

export function freshName() {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");
}
