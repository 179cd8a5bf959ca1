// Counting clumps on a belt, its area seen as it grows, and measuring one's own pace.

import * as store from "./field-store.js";
import * as walk from "./field-walk.js";
import { h, tap, go, screen, back, number } from "./field-draw.js";
import { say } from "./field-words.js";
import { kept } from "./field-send.js";

const acre = 43560; // square feet

screen("belt", async (a) => {
  const line = await walk.lineOf(a.line);
  const s = await walk.lineState(line);
  const key = "draft/" + a.line + "/belt";
  const q = await walk.question("cover");
  const d = Object.assign({
    belt: String(s.belts.size + 1), belt_on: walk.today(), pace_ft: String(s.pace), paces: String(Math.round((line.beltLongFt || 300) / s.pace)),
    belt_wide_ft: String(line.beltWidthFt || 6), clumps_bunchgrass: "0",
  }, await store.get(key) || {});
  const area = h("p", { class: "area", role: "status" });
  const show = () => {
    const acres = d.paces * d.pace_ft * d.belt_wide_ft / acre;
    area.textContent = say("%s ft × %s ft = %s acre", Math.round(d.paces * d.pace_ft), Number(d.belt_wide_ft), acres.toFixed(3));
  };
  const save = (name) => async (value) => {
    d[name] = String(value);
    await store.put(key, d);
    show();
  };
  show();
  const kinds = q.choices.filter((c) => ["bunchgrass", "prickly_pear"].includes(c.value) || d["clumps_" + c.value] !== undefined);
  const others = q.choices.filter((c) => !kinds.includes(c));
  return [h("p", { class: "where" }, say("Line %s", line.name)), h("h1", {}, say("Belt %s: count the clumps", d.belt)),
    h("p", {}, say("As wide as a basketball, 8 in tall or more, more than half inside the strip.")),
    kinds.map((c) => number(say(c.label), Number(d["clumps_" + c.value] || 0), save("clumps_" + c.value))),
    number(say("Doubtful, counted apart"), Number(d.clumps_maybe || 0), save("clumps_maybe")),
    h("div", { class: "pictures words" }, others.map((c) => tap("+ " + say(c.label), async () => {
      await save("clumps_" + c.value)(0);
      await go("belt", a);
    }, { name: "add-" + c.value }))),
    area, number(say("Paces walked"), Number(d.paces), save("paces"), { big: 10 }),
    number(say("Width in feet, measured"), Number(d.belt_wide_ft), save("belt_wide_ft"), { step: 0.5, least: 0.5, places: 1 }),
    h("p", {}, s.measured ? say("Your pace: %s ft.", s.pace.toFixed(2)) : say("Pace taken as %s ft. Measure yours for a true area.", s.pace.toFixed(2))),
    s.measured ? null : tap(say("Measure my pace"), () => go("pace", { line: a.line, then: "belt" }), { name: "pace", class: "tap quiet" }),
    number(say("Belt number"), Number(d.belt), save("belt"), { least: 1 }), h("p", {}, say("The same number counted by somebody else is a second count: it tells how far you agree, and is not added.")),
    tap(say("BELT DONE"), async () => {
      for (const name of Object.keys(d)) if (name.startsWith("clumps_") && d[name] === "") delete d[name];
      const look = await walk.newLook(line, 0, "belt", { clumps_prickly_pear: "0", ...d });
      await store.keepLook(look, key);
      kept();
      await go("line", { line: a.line });
    }, { name: "belt-done", class: "tap answer good" }), back(() => go("line", { line: a.line }))];
});

screen("pace", async (a) => {
  const key = "draft/pace";
  const d = Object.assign({ one: 120, two: 120, three: 120 }, await store.get(key) || {});
  const line = await walk.lineOf(a.line);
  const pace = h("p", { class: "area", role: "status" });
  const show = () => { pace.textContent = say("%s ft a pace", (900 / (d.one + d.two + d.three)).toFixed(2)); };
  const save = (name) => async (value) => {
    d[name] = value;
    await store.put(key, d);
    show();
  };
  show();
  return [h("h1", {}, say("Measure your pace")), h("p", {}, say("Walk a measured 300 ft three times, in today’s boots, on ground like this. Count your paces each time.")),
    number(say("First walk"), d.one, save("one"), { least: 40, big: 10 }), number(say("Second walk"), d.two, save("two"), { least: 40, big: 10 }), number(say("Third walk"), d.three, save("three"), { least: 40, big: 10 }), pace,
    tap(say("KEEP"), async () => {
      const paces = d.one + d.two + d.three;
      const look = await walk.newLook(line, 0, "pace", { measured_ft: "900", paces: String(paces), pace_ft: (900 / paces).toFixed(3) });
      await store.keepLook(look, key);
      kept();
      await go(a.then || "line", { line: a.line });
    }, { name: "keep", class: "tap answer good" }), back(() => go(a.then || "line", { line: a.line }))];
});
