// What is kept on this phone, in the browser's IndexedDB: looks and photos until they are safe at base and after, what was
// tapped of a look not yet whole, the pack, and a few settings. Everything resolves only when it is on the disk.

const stores = { looks: "id", photos: "id", kept: null };
let opened;

function open() {
  if (!opened) {
    opened = new Promise((resolve, reject) => {
      const r = indexedDB.open("tussock-field", 1);
      r.onupgradeneeded = () => {
        for (const [name, key] of Object.entries(stores)) r.result.createObjectStore(name, key ? { keyPath: key } : undefined);
      };
      r.onsuccess = () => {
        r.result.onclose = () => { opened = null; };
        resolve(r.result);
      };
      r.onerror = () => { opened = null; reject(r.error); };
    });
  }
  return opened;
}

// work runs fn in one transaction and resolves with what fn's request found, once all is written.
async function work(names, mode, fn) {
  const db = await open();
  return new Promise((resolve, reject) => {
    const tx = db.transaction(names, mode, { durability: "strict" });
    let found;
    tx.oncomplete = () => resolve(found && found.result);
    tx.onabort = tx.onerror = () => reject(tx.error || new Error("not kept"));
    found = fn(...names.map((n) => tx.objectStore(n)));
  });
}

// write is work that makes room where the phone is full: first it gives up the room held in reserve for this.
async function write(names, fn) {
  try {
    return await work(names, "readwrite", fn);
  } catch (err) {
    if (!isFull(err)) throw err;
    await work(["kept"], "readwrite", (kept) => kept.delete("reserve")).catch(() => {});
    return work(names, "readwrite", fn);
  }
}

export function isFull(err) { return err && err.name === "QuotaExceededError"; }

export function get(key) { return work(["kept"], "readonly", (kept) => kept.get(key)); }
export function put(key, value) { return write(["kept"], (kept) => kept.put(value, key)); }
export function drop(key) { return work(["kept"], "readwrite", (kept) => kept.delete(key)); }
export function looks() { return work(["looks"], "readonly", (s) => s.getAll()); }
export function photos() { return work(["photos"], "readonly", (s) => s.getAll()); }

// reserve holds room back, so that the last taps on a full phone still find a place.
export async function reserve() {
  if (await get("reserve")) return;
  await work(["kept"], "readwrite", (kept) => kept.put(crypto.getRandomValues(new Uint8Array(65536)), "reserve")).catch(() => {});
}

export async function hasReserve() { return Boolean(await get("reserve")); }

// keepLook numbers a look and keeps it, and in the same stroke drops what was tapped of it so far.
export function keepLook(look, draft) {
  return write(["looks", "kept"], (looks, kept) => {
    const r = kept.get("seq");
    r.onsuccess = () => {
      look.seq = (r.result || 0) + 1;
      kept.put(look.seq, "seq");
      looks.put({ id: look.id, look, state: "waiting" });
      if (draft) kept.delete(draft);
    };
  });
}

export function keepPhoto(photo) { return write(["photos"], (photos) => photos.put(photo)); }

// mark notes what became of looks or photos at base. A photo that is safe there gives its room back.
export function mark(store, ids, state, why) {
  return work([store], "readwrite", (s) => {
    for (const id of ids) {
      const r = s.get(id);
      r.onsuccess = () => {
        const row = r.result;
        if (!row || row.state === "safe") return;
        row.state = state;
        row.why = why || "";
        if (store === "photos" && state === "safe") row.data = null;
        s.put(row);
      };
    }
  });
}

// askAgain lets what base would not have go once more: another link, or another member, may be let in.
export function askAgain() {
  return work(["looks", "photos"], "readwrite", (...all) => {
    for (const s of all) {
      const r = s.getAll();
      r.onsuccess = () => {
        for (const row of r.result.filter((x) => x.state === "refused")) s.put({ ...row, state: "waiting" });
      };
    }
  });
}

export function newID() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = b[6] & 15 | 64;
  b[8] = b[8] & 63 | 128;
  return [...b].map((x, i) => ([4, 6, 8, 10].includes(i) ? "-" : "") + x.toString(16).padStart(2, "0")).join("");
}

// clear takes everything off this phone.
export function clear() {
  return work(Object.keys(stores), "readwrite", (...all) => {
    for (const s of all) s.clear();
  });
}
