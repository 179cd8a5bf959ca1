// A line: where to go next, what is left, what was just done and how to take it back, and what is carried out at the end.

import * as store from "./field-store.js";
import * as walk from "./field-walk.js";
import { h, tap, go, screen, back, number, redraw } from "./field-draw.js";
import { say, day } from "./field-words.js";
import { kept } from "./field-send.js";

screen("line", async (a) => {
  const line = await walk.lineOf(a.line);
  if (!line) return go("home");
  if (await store.get("hazards") !== walk.today()) return go("hazards", { line: a.line });
  const s = await walk.lineState(line);
  return [h("p", { class: "where" }, [line.ranchName, line.pasture].filter(Boolean).join(" · ")), h("h1", {}, say("Line %s", line.name)), h("p", { class: "left" }, leftOf(line, s)),
    s.next ? next(line, s, s.next) : null, undoBar(await walk.live(), await store.get("device")),
    h("h2", {}, say("All stops")), h("div", { class: "stops" }, s.stops.map((x) => stop(line, s, x))),
    h("div", { class: "answers" }, tap(say("COUNT A BELT"), () => go("belt", { line: line.id }), { name: "belt", under: s.belts.size ? say("Counted: %d", s.belts.size) : "" }),
      tap(say("Measure my pace"), () => go("pace", { line: line.id }), { name: "pace", under: say("%s ft a pace", s.pace.toFixed(2)) }),
      tap(say("CARRY ALL OUT, CLOSE THE LINE"), () => go("close", { line: line.id }), { name: "close", under: s.closed ? closedText(s) : "" })), back(() => go("home"))];
});

// leftOf says in a sentence what is left to do.
export function leftOf(line, s) {
  if (s.closed && missing(s).length === 0) return say("Closed: all is carried out.");
  if (!s.checking) return s.toSet.length === 1 ? say("1 nest left to put out") : say("%d nests left to put out", s.toSet.length);
  if (s.toCheck.length) return s.toCheck.length === 1 ? say("1 nest left to look at") : say("%d nests left to look at", s.toCheck.length);
  const due = walk.nextDue(line, s);
  if (due) return say("Nothing more today. Next check on %s.", day(due));
  return say("All looked at. Carry eggs, flags, markers and cameras out.");
}

// openStop opens a stop's question; the day's card comes first, also for a phone that wakes days later among the nests.
async function openStop(line, s, n) {
  if (await store.get("hazards") !== walk.today()) return go("hazards", { line: line.id });
  const x = s.stops[n - 1];
  return go(!x.set && !x.checks.length && !s.checking ? "set" : "check", { line: line.id, stop: n });
}

// next shows the way to the next stop: paces and bearing from the last one.
export function next(line, s, n) {
  const way = walk.walkTo(line, s, n);
  return h("div", { class: "next" }, way && way.bearing !== undefined ? arrow(way.bearing) : null,
    h("p", {}, way ? way.bearing !== undefined ? say("%d paces %s (%d° from true north)", way.paces, walk.compass(way.bearing), way.bearing) : say("%d paces on along the line", way.paces)
      : say("Begin where the line begins.")),
    tap(say("STOP %d", n), () => openStop(line, s, n), { name: "next", class: "tap answer good" }));
}

function arrow(bearing) {
  return h("svg", { viewBox: "-32 -32 64 64", width: 88, height: 88, "aria-hidden": "true", class: "arrow" }, h("g", { transform: "rotate(" + bearing + ")" }, h("path", { d: "M0 -28 L16 24 L0 14 L-16 24 Z" })));
}

const marks = { gone: "✕", not_found: "?", done: "✓✓" };

function stop(line, s, x) {
  const state = x.ended ? marks[x.ended] : x.checks.length ? "✓✓".slice(0, x.days.size) : x.set ? "•" : "";
  const words = x.ended === "gone" ? say("gone") : x.ended === "done" ? say("done") : x.ended ? say("not found") : x.checks.length ? say("looked at") : x.set ? say("out") : say("empty");
  const b = tap(String(x.n), () => openStop(line, s, x.n), { name: "stop" + x.n, class: "tap stop", under: state });
  b.setAttribute("aria-label", say("Stop %d", x.n) + ": " + words);
  return b;
}

// done says what was kept and leads on.
screen("done", async (a) => {
  const line = await walk.lineOf(a.line);
  const s = await walk.lineState(line);
  const row = (await store.looks()).find((r) => r.id === a.id);
  return [h("p", { class: "where" }, say("Line %s", line.name)), h("h1", {}, "✓ " + say("Kept: stop %d", a.stop)), h("p", { class: "said" }, row ? await told(row.look) : ""),
    h("p", { class: "left" }, leftOf(line, s)),
    row && row.look.kind === "set" ? tap(say("Where it is, camera, markers"), () => go("spot", { line: a.line, stop: a.stop }), { name: "spot", class: "tap quiet" }) : null,
    undoBar(await walk.live(), await store.get("device")),
    s.next ? next(line, s, s.next) : tap(say("TO THE LINE"), () => go("line", { line: a.line }), { name: "next", class: "tap answer good" }),
    s.next ? back(() => go("line", { line: a.line })) : null];
});

// told puts a look into a few words.
export async function told(l) {
  const label = async (name, value) => {
    const q = await walk.question(name);
    return say(((q && q.choices.find((c) => c.value === value)) || { label: value }).label);
  };
  switch (l.kind) {
    case "set": return say("nest put out") + ": " + await label("cover", l.answers.cover);
    case "check": return [await label("found", l.answers.found), l.answers.eggs_fresh_put > 0 ? say("fresh eggs in") : "", l.answers.lost_how ? await label("lost_how", l.answers.lost_how) : ""].filter(Boolean).join(", ");
    case "belt": return say("belt %s counted", l.answers.belt);
    case "pace": return say("%s ft a pace", l.answers.pace_ft);
    case "close": return say("carried out");
  }
  return l.answers.hazards_read ? say("card read") : say("note");
}

function mine(looks, device) { return looks.filter((l) => l.device === device && l.kind !== "note").slice(-5).reverse(); }

// undoBar takes back the last look with one tap; the four before it are one tap further.
function undoBar(looks, device) {
  const last = mine(looks, device)[0];
  if (!last) return null;
  return h("div", { class: "undo" }, tap("↶ " + (last.stop ? say("Take back stop %d", last.stop) : say("Take back the last")), () => undo(last), { name: "undo", class: "tap quiet" }),
    tap(say("Last five"), () => go("history", { line: last.line }), { name: "history", class: "tap quiet" }));
}

async function undo(look) {
  const line = await walk.lineOf(look.line);
  const back = await walk.newLook(line, look.stop, "undo", {});
  back.undoes = look.id;
  await store.keepLook(back);
  kept();
  await go("line", { line: look.line });
}

screen("history", async (a) => {
  const rows = [];
  for (const l of mine(await walk.live(), await store.get("device"))) {
    const line = await walk.lineOf(l.line);
    rows.push(h("li", {}, h("p", {}, (line ? say("Line %s", line.name) : "") + (l.stop ? " · " + say("Stop %d", l.stop) : "") + " · " + await told(l)),
      tap("↶ " + say("Take back"), () => undo(l), { name: "undo", class: "tap quiet" })));
  }
  return [h("h1", {}, say("The last five")), rows.length ? h("ul", { class: "rows" }, rows) : h("p", {}, say("Nothing yet.")), back(() => go("line", { line: a.line }))];
});

const items = ["eggs", "flags", "markers", "cameras"];

function missing(s) {
  return s.closed ? items.filter((i) => Number(s.closed.answers[i + "_out"] || 0) < s.items[i]) : items;
}

function closedText(s) { return missing(s).length ? say("Still open: not all is out.") : say("Closed: all is carried out."); }

screen("close", async (a) => {
  const line = await walk.lineOf(a.line);
  const s = await walk.lineState(line);
  const key = "draft/" + a.line + "/close";
  const d = Object.assign({ eggs_out: "0", flags_out: "0", markers_out: "0", cameras_out: "0" }, await store.get(key) || {});
  const names = { eggs: say("eggs"), flags: say("flags"), markers: say("markers"), cameras: say("cameras") };
  const save = (item) => async (value) => {
    d[item + "_out"] = String(value);
    await store.put(key, d);
  };
  return [h("p", { class: "where" }, say("Line %s", line.name)), h("h1", {}, say("What did you carry out?")), h("p", {}, say("Out must be what went in, or the line stays open. Old eggs: gloves, two bags, no shaking.")),
    s.others ? h("p", {}, say("Others finished nests here. Count the eggs that you carry out yourself.")) : null,
    items.filter((i) => s.items[i] > 0 || i === "eggs" && s.others).map((i) => [number(i === "eggs" && s.others ? names[i] : say("%s: %d went in", names[i], s.items[i]), Number(d[i + "_out"]), save(i)),
      Number(d[i + "_out"]) < s.items[i] && !(i === "eggs" && s.others) ? tap(say("ALL %d OUT", s.items[i]), async () => {
        await save(i)(s.items[i]);
        await redraw();
      }, { name: "all-" + i, class: "tap quiet" }) : null]),
    tap(say("KEEP"), async () => {
      await store.keepLook(await walk.newLook(line, 0, "close", d), key);
      kept();
      await go("line", { line: a.line });
    }, { name: "keep", class: "tap answer good" }), back(() => go("line", { line: a.line }))];
});
