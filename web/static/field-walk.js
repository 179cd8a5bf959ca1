// How a line stands: what the looks of this phone and of the pack come to, what is left, and how to walk to the next stop.

import * as store from "./field-store.js";
import { say } from "./field-words.js";

export function today() { return iso(new Date()); }

function iso(d) { return d.getFullYear() + "-" + String(d.getMonth() + 1).padStart(2, "0") + "-" + String(d.getDate()).padStart(2, "0"); }

export function addDays(date, n) {
  const [y, m, d] = date.split("-").map(Number);
  return iso(new Date(y, m - 1, d + n));
}

let pack = null;
export async function getPack() { return pack || (pack = await store.get("pack")); }
export async function setPack(p) {
  await store.put("pack", p);
  pack = p;
}

export async function lineOf(id) { return (await getPack()).lines.find((l) => l.id === id); }

export async function question(name) { return (await getPack()).questions.find((q) => q.name === name); }

// live returns all looks there are, those taken back left out, in order.
export async function live() {
  const mine = (await store.looks()).map((row) => row.look);
  const seen = new Set(mine.map((l) => l.id));
  const all = [...((await getPack()).looks || []).filter((l) => !seen.has(l.id)), ...mine];
  const undone = new Set(all.filter((l) => l.kind === "undo").map((l) => l.undoes));
  return all.filter((l) => l.kind !== "undo" && !undone.has(l.id)).sort((a, b) => a.at < b.at ? -1 : a.at > b.at ? 1 : a.seq - b.seq);
}

// state of a line: for each stop whether a nest is out, what was last found and when.
export async function lineState(line) {
  const s = { stops: [], belts: new Set(), closed: null, last: 0, pace: line.paceFt || 2.5, measured: false, items: { eggs: 0, flags: 0, markers: 0, cameras: 0 } };
  for (let n = 1; n <= line.stops; n++) s.stops.push({ n, set: null, checks: [], ended: "", days: new Set() });
  const mine = await store.get("device");
  for (const l of await live()) {
    if (l.kind === "pace" && l.device === mine) {
      s.pace = Number(l.answers.pace_ft);
      s.measured = true;
    }
    if (l.line !== line.id) continue;
    const stop = s.stops[l.stop - 1];
    if (l.kind === "belt") s.belts.add(l.answers.belt);
    if (l.kind === "close") s.closed = l;
    if (!stop) continue;
    if (l.device === mine) s.last = l.stop;
    if (l.kind === "set") stop.set = l;
    if (l.kind === "check" && l.answers.found !== "not_checked") {
      stop.checks.push(l);
      if (l.answers.looked_on) stop.days.add(l.answers.looked_on);
      if (l.answers.done) stop.done = true;
      const gone = ["some", "lost"].includes(l.answers.found);
      if (l.answers.found) stop.ended = gone ? "gone" : l.answers.found === "not_found" ? "not_found" : "";
    }
  }
  // Of what others found a link is told only that a nest wants no more looks.
  for (const stop of s.stops) if (stop.done && !stop.ended) stop.ended = "done";
  s.others = s.stops.some((x) => x.ended === "done");
  for (const stop of s.stops) count(s.items, stop);
  const out = s.stops.filter((x) => x.set || x.checks.length);
  s.checking = s.stops.some((x) => x.checks.length) || out.length === line.stops;
  s.toSet = s.stops.filter((x) => !x.set && !x.checks.length);
  s.toCheck = out.filter((x) => !x.ended && x.days.size < 2 && !x.days.has(today()) && due(line, x) <= today());
  s.waiting = out.filter((x) => !x.ended && x.days.size < 2 && due(line, x) > today());
  s.left = s.checking ? s.toCheck : s.toSet;
  s.next = (s.left.find((x) => x.n > s.last) || s.left[0] || {}).n;
  return s;
}

// due is the first day on which a nest's next check is as good as on its day.
function due(line, stop) {
  const set = stop.set && stop.set.answers.set_on || line.setOn || today();
  const first = stop.days.size === 0;
  return addDays(first ? line.firstCheck && line.setOn === set ? line.firstCheck : addDays(set, 14) : line.lastCheck && line.setOn === set ? line.lastCheck : addDays(set, 28), -3);
}

// nextDue is the earliest day that anything on the line is wanted again, "" where nothing is.
export function nextDue(line, s) {
  return s.waiting.map((x) => addDays(due(line, x), 3)).sort()[0] || "";
}

// count adds what is out at a stop and must come in.
function count(items, stop) {
  if (!stop.set && !stop.checks.length) return;
  const a = stop.set ? stop.set.answers : {};
  let eggs = Number(a.eggs_set || 3);
  for (const c of stop.checks) {
    if (Number(c.answers.eggs_fresh_put) > 0) eggs = Number(c.answers.eggs_fresh_put);
    if (c.answers.found === "some") eggs = Number(c.answers.eggs_left || 0);
    if (c.answers.found === "lost" || c.answers.done) eggs = 0;
  }
  items.eggs += eggs;
  items.flags += Number(a.flags_set === undefined ? 1 : a.flags_set);
  items.markers += Number(a.markers_set || 0);
  items.cameras += a.camera_here === "yes" ? 1 : 0;
}

// walkTo says how to get from the last stop to the next: paces of this phone's walker and a bearing from true north.
export function walkTo(line, s, stop) {
  if (!s.last || s.last === stop) return null;
  const paces = Math.round(Math.abs(stop - s.last) * line.stepFt / s.pace);
  if (line.bearing === undefined) return { paces };
  return { paces, bearing: Math.round((line.bearing + (stop > s.last ? 0 : 180)) % 360) };
}

export function compass(bearing) {
  return [say("north"), say("northeast"), say("east"), say("southeast"), say("south"), say("southwest"), say("west"), say("northwest")][Math.round(bearing / 45) % 8];
}

// newLook begins a look by whoever has this phone.
export async function newLook(line, stop, kind, answers) {
  return {
    id: store.newID(), ranch: line.ranch, season: line.season, line: line.id, stop, kind, who: await store.get("who") || "",
    device: await store.get("device"), seq: 0, at: new Date().toISOString(), answers,
  };
}
