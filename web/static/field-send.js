// Brings what is kept on the phone to base: in small parts, as often as it takes. Sending again is harmless, since base
// knows each look by its id; a look is safe once base has said so by that id.

import * as store from "./field-store.js";

const part = 40;
let busy = false;
let again = false;

// what is known of base, for the line that is always in sight
export const base = { reached: null, problem: "", signedOut: false, clockOff: 0 };

let changed = () => {};
export function onChange(fn) { changed = fn; }

let timer;

// kept is called after each look: what is kept goes to base a moment later, with what is tapped until then.
export function kept() {
  changed();
  clearTimeout(timer);
  timer = setTimeout(flush, 1500);
}

async function ask(path, body) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), 30000);
  try {
    const r = await fetch(path, { method: body ? "POST" : "GET", body, credentials: "same-origin", redirect: "error", cache: "no-store", signal: stop.signal });
    const json = (r.headers.get("Content-Type") || "").includes("json");
    return { status: r.status, ok: r.ok && json, answer: json ? await r.json() : {} };
  } finally {
    clearTimeout(timer);
  }
}

// hello asks base whether it is there and for the word that what is sent must carry.
export async function hello() {
  const r = await ask("/field/hello");
  base.signedOut = r.status === 401;
  base.problem = r.ok ? "" : r.answer.problem || "";
  if (!r.ok) throw new Error("status " + r.status);
  base.reached = Date.now();
  base.clockOff = Date.now() - Date.parse(r.answer.now);
  return r.answer;
}

export async function pack() {
  const r = await ask("/field/pack");
  base.signedOut = r.status === 401;
  if (!r.ok) {
    base.problem = r.answer.problem || "";
    throw new Error("status " + r.status);
  }
  base.reached = Date.now();
  return r.answer;
}

export async function flush() {
  if (busy) {
    again = true;
    return;
  }
  busy = true;
  try {
    do {
      again = false;
      await sendAll();
    } while (again);
  } catch (err) {
    // no signal, or base is not there: everything stays as it is and goes next time
  } finally {
    busy = false;
    changed();
  }
}

async function sendAll() {
  const waiting = (await store.looks()).filter((l) => l.state === "waiting").sort((a, b) => a.look.seq - b.look.seq);
  const pictures = (await store.photos()).filter((p) => p.state === "waiting");
  if (!waiting.length && !pictures.length) return;
  const word = (await hello()).csrf;
  for (let i = 0; i < waiting.length; i += part) {
    await sendLooks(waiting.slice(i, i + part), word);
    changed();
  }
  for (const p of pictures) await sendPhoto(p, word);
}

// sendLooks sends one part. Where base will not have it, each look goes alone, so that one bad one holds up no other.
async function sendLooks(rows, word) {
  const r = await ask("/field/looks", new URLSearchParams({ csrf: word, looks: JSON.stringify(rows.map((row) => row.look)) }));
  if (r.ok) return store.mark("looks", r.answer.safe, "safe");
  if (!final(r)) throw new Error("status " + r.status);
  if (rows.length > 1) {
    for (const row of rows) await sendLooks([row], word);
    return;
  }
  return store.mark("looks", [rows[0].id], "refused", r.answer.problem);
}

async function sendPhoto(p, word) {
  const form = new FormData();
  form.set("csrf", word);
  for (const name of ["id", "line", "ranch"]) form.set(name, p[name]);
  form.set("photo", new Blob([p.data], { type: "image/jpeg" }), p.id + ".jpg");
  const r = await ask("/field/photos", form);
  if (r.ok) return store.mark("photos", r.answer.safe, "safe");
  if (!final(r)) throw new Error("status " + r.status);
  return store.mark("photos", [p.id], "refused", r.answer.problem);
}

// final tells an answer that will be the same next time from one that may not.
function final(r) { return Boolean(r.answer.problem) && [404, 409, 413, 422].includes(r.status); }

export async function leave() {
  const word = (await hello()).csrf;
  await ask("/field/leave", new URLSearchParams({ csrf: word }));
}
