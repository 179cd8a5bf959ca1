// The field form: getting ready, the card of hazards, the lines, and the strip that always says what is kept where.

import * as store from "./field-store.js";
import * as send from "./field-send.js";
import * as walk from "./field-walk.js";
import { addWords, say, speak, spoken, day } from "./field-words.js";
import { h, tap, go, screen, resume, redraw, onTrouble, buzz } from "./field-draw.js";
import { leftOf } from "./field-line.js";
import "./field-nest.js";
import "./field-belt.js";

// strip writes what is kept here, what waits and what is safe at base: in words and with a mark, always in sight.
async function strip() {
  const rows = [...await store.looks(), ...(await store.photos())];
  const n = (state) => rows.filter((r) => r.state === state).length;
  const el = document.getElementById("strip");
  const part = (mark, text, cls) => h("span", { class: cls || "" }, h("b", { "aria-hidden": "true" }, mark), " " + text);
  el.replaceChildren(part("▣", say("%d kept here", rows.length)), part("○", say("%d waiting", n("waiting")), n("waiting") ? "waits" : ""), part("✓", say("%d safe at base", n("safe"))),
    n("refused") ? part("✕", say("%d not taken", n("refused")), "refused") : "", navigator.onLine ? "" : part("–", say("no signal")));
  el.dataset.waiting = n("waiting");
  el.dataset.safe = n("safe");
  el.dataset.kept = rows.length;
  if (send.base.signedOut) say1(say("Base does not know this phone any more. What is kept here stays here: sign in, or open your link again, and it goes."));
  else if (Math.abs(send.base.clockOff) > 3600e3) say1(say("This phone’s clock is off by more than an hour. Set it right: looks carry its day."));
}

// say1 shows one sentence above the screen until it is put away.
function say1(text, cls) {
  const el = document.getElementById("trouble");
  if (el.dataset.text === text) return;
  el.dataset.text = text;
  el.replaceChildren(h("p", {}, text), tap(say("I have read this"), async () => {
    el.replaceChildren();
    delete el.dataset.text;
  }, { class: "tap quiet", name: "read" }));
  el.className = cls || "";
}

onTrouble((err) => {
  buzz([200, 100, 200]);
  say1(store.isFull(err) ? say("THIS PHONE IS FULL. The last tap is NOT kept. Delete some pictures or apps, then tap it again. Or write it on paper.")
    : say("The last tap is NOT kept. Tap it again; if that does not help, write it on paper."), "stop");
  strip().catch(() => {});
});

screen("ready", async () => {
  const p = await walk.getPack();
  const ready = p && await store.get("ready");
  const who = h("input", { id: "who", maxlength: "4", autocomplete: "off", autocapitalize: "characters", value: await store.get("who") || "" });
  who.addEventListener("change", () => store.put("who", who.value.trim().toUpperCase().slice(0, 4)));
  return [h("h1", {}, ready ? "✓ " + say("READY") : say("Get ready while you have signal")),
    h("p", {}, ready ? say("Kept on this phone: lines %s; %s kB, from %s.", p.lines.map((l) => l.name).join(", "), Math.ceil(p.bytes / 1000), day(p.made.slice(0, 10)))
      : say("This takes your lines, the words, the drawings and the card of hazards onto this phone. Then it works without signal for the whole season.")),
    p && p.through ? h("p", {}, say("This link is good through %s.", day(p.through))) : null,
    ready && ready !== "persisted" ? h("p", {}, say("This phone may clear what is kept when it runs full. Send whenever you have signal.")) : null,
    p ? h("div", { class: "who" }, h("label", { for: "who" }, say("Your initials")), who) : null,
    tap(ready ? say("GET READY AGAIN") : say("GET READY"), getReady, { name: "get-ready", class: "tap answer " + (ready ? "plain" : "good") }),
    ready ? tap(say("TO THE LINES"), () => go("home"), { name: "home", class: "tap answer good" }) : null];
});

async function getReady() {
  let p;
  try {
    p = await send.pack();
  } catch (err) {
    say1(send.base.signedOut ? send.base.problem ? say("Sign in, or open the link you were given. What is on this phone stays on it.") : "" : say("No signal, or base does not answer. Try again where there is signal."));
    if (send.base.signedOut) document.getElementById("trouble").append(h("p", {}, h("a", { class: "tap", href: "/sign-in?next=%2Ffield" }, say("Sign in"))));
    return;
  }
  if (!p.lines.length) {
    say1(say("No line is planned yet. The person who plans the season has to do that first."));
    return;
  }
  addWords(p.words);
  await walk.setPack(p);
  if (!await store.get("who")) await store.put("who", p.who.split(/\s+/).map((w) => w[0]).join("").toUpperCase().slice(0, 4));
  const persisted = navigator.storage && navigator.storage.persist && await navigator.storage.persist();
  if (navigator.serviceWorker) {
    await navigator.serviceWorker.register("/sw.js", { scope: "/field" });
    await navigator.serviceWorker.ready;
  }
  await store.reserve();
  const shell = window.caches && await caches.match("/field");
  if (!shell) {
    say1(say("This browser cannot keep the form without signal. Use another one, or paper."));
    return;
  }
  await store.put("ready", persisted ? "persisted" : "kept");
  await store.askAgain();
  send.flush();
  await go("ready");
}

screen("hazards", async (a) => {
  const p = await walk.getPack();
  return [h("h1", {}, say("Read this before you walk out")), h("dl", { class: "hazards" }, p.hazards.map((z) => [h("dt", {}, say(z.Name)), h("dd", {}, say(z.Text))])), h("p", {}, say(p.defer)),
    tap(say("I HAVE READ IT"), async () => {
      const line = await walk.lineOf(a.line);
      await store.put("hazards", walk.today());
      await store.keepLook(await walk.newLook(line, 0, "note", { hazards_read: walk.today() }));
      send.kept();
      await go("line", { line: a.line });
    }, { name: "hazards-read", class: "tap answer good" })];
});

screen("home", async () => {
  const p = await walk.getPack();
  if (!p) return go("ready");
  const rows = [];
  for (const line of p.lines) {
    const s = await walk.lineState(line);
    rows.push(tap(say("Line %s", line.name) + (line.pasture ? " · " + line.pasture : ""), () => go("line", { line: line.id }), { name: "line-" + line.name, class: "tap line", under: leftOf(line, s) }));
  }
  const kept = [...await store.looks(), ...await store.photos()];
  const why = new Set(kept.filter((r) => r.state === "refused" && r.why).map((r) => r.why));
  return [h("h1", {}, say("Your lines")), [...why].map((text) => h("p", { class: "refused" }, text)), h("div", { class: "answers" }, rows), tap(say("Get ready again, initials"), () => go("ready"), { name: "ready", class: "tap quiet" }),
    tap(say("Send now"), async () => {
      await send.flush();
      await strip();
    }, { name: "send", class: "tap quiet" }),
    tap(say("Take everything off this phone"), clearPhone, { name: "clear", class: "tap quiet" })];
});

// clearPhone takes off what this phone keeps, and the link, for the next who uses it: never while something waits.
async function clearPhone() {
  await send.flush();
  if ([...await store.looks(), ...await store.photos()].some((r) => r.state === "waiting")) {
    say1(say("Something still waits to be sent. Send it first."));
    return;
  }
  if ((await walk.getPack()).link) await send.leave().catch(() => {});
  await store.clear();
  location.reload();
}

// the two switches at the top: the other language, and white on black for the dark
function switches() {
  document.getElementById("switches").replaceChildren(
    tap(spoken() === "es" ? "English" : "Español", async () => {
      const t = spoken() === "es" ? "en" : "es";
      await store.put("language", t);
      speak(t);
      switches();
      await strip();
      await redraw();
    }, { name: "language", class: "tap quiet" }),
    tap(document.documentElement.classList.contains("night") ? say("Day") : say("Night"), async () => {
      const night = document.documentElement.classList.toggle("night");
      await store.put("night", night);
      switches();
    }, { name: "night", class: "tap quiet" }));
}

// refresh takes a fresh pack where there is signal and the one kept is half a day old: others were on the lines since.
async function refresh() {
  const p = await walk.getPack();
  if (!p || Date.now() - Date.parse(p.made) < 12 * 3600e3) return;
  const fresh = await send.pack().catch(() => null);
  if (fresh && fresh.lines.length) {
    addWords(fresh.words);
    await walk.setPack(fresh);
  }
}

async function begin() {
  addWords(JSON.parse(document.getElementById("words").textContent));
  const p = await walk.getPack();
  if (p) addWords(p.words);
  speak(await store.get("language") || document.documentElement.lang);
  document.documentElement.classList.toggle("night", Boolean(await store.get("night")));
  if (!await store.get("device")) await store.put("device", store.newID());
  switches();
  send.onChange(() => strip().catch(() => {}));
  await strip();
  await resume(p ? "home" : "ready");
  await send.flush();
  await refresh();
}

addEventListener("online", () => {
  strip();
  send.flush();
});
addEventListener("offline", () => strip());
document.addEventListener("visibilitychange", () => {
  if (!document.hidden) send.flush();
});
setInterval(send.flush, 60000);

begin().catch((err) => {
  document.getElementById("screen").replaceChildren(h("h1", {}, say("This browser cannot keep anything")), h("p", {}, say("Private windows and some settings forbid it. Open the form in an ordinary window, or use paper.")));
});
