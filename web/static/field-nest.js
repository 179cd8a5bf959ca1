// Putting nests out and looking at them: one question a screen, pictures first, the guess last of all.

import * as store from "./field-store.js";
import * as walk from "./field-walk.js";
import { h, tap, go, screen, back, number, redraw } from "./field-draw.js";
import { say } from "./field-words.js";
import { kept } from "./field-send.js";

const signs = ["bits", "bits_far_ft", "heaps", "opened_at", "bite_way", "holes", "inside", "ground", "bowl"];

const draftKey = (line, stop, kind) => "draft/" + line + "/" + stop + "/" + kind;

// answer writes one tap of a look that is not whole yet.
async function answer(a, kind, more) {
  const key = draftKey(a.line, a.stop, kind);
  const answers = Object.assign(await store.get(key) || {}, more);
  await store.put(key, answers);
  return answers;
}

async function finish(a, kind, more) {
  const line = await walk.lineOf(a.line);
  const key = draftKey(a.line, a.stop, kind);
  const answers = Object.assign(await store.get(key) || {}, more);
  for (const name of Object.keys(answers)) if (answers[name] === "") delete answers[name];
  const look = await walk.newLook(line, a.stop, kind, answers);
  await store.keepLook(look, key);
  kept();
  await go("done", { line: a.line, stop: a.stop, id: look.id });
}

async function heading(a, text) {
  const line = await walk.lineOf(a.line);
  return [h("p", { class: "where" }, say("Line %s", line.name) + " · " + say("Stop %d", a.stop)), h("h1", {}, text)];
}

function pictures(choices, fn, first) {
  const list = first ? [...choices].sort((x, y) => (y.value === first) - (x.value === first)) : choices;
  return h("div", { class: "pictures" }, list.map((c) => tap(say(c.label), () => fn(c.value), { drawing: c.drawing, name: c.value, class: c.value === first ? "tap picture wanted" : "tap picture" })));
}

const lineScreen = (a) => () => go("line", { line: a.line });

screen("set", async (a) => {
  const line = await walk.lineOf(a.line);
  const wanted = line.covers[a.stop - 1];
  const q = await walk.question("cover");
  return [await heading(a, say("What is the nest in?")),
    wanted ? h("p", {}, say("Planned here: %s", say((q.choices.find((c) => c.value === wanted) || { label: wanted }).label))) : null,
    h("p", {}, say("Nearest good clump to the stop, not the best-looking. Three eggs, gloves on.")),
    pictures(q.choices, (value) => finish(a, "set", { cover: value, set_on: walk.today(), eggs_set: "3", flags_set: "1" }), wanted), back(lineScreen(a))];
});

screen("check", async (a) => {
  const q = await walk.question("found");
  const by = (v) => q.choices.find((c) => c.value === v);
  const begin = { looked_on: walk.today() };
  // What was tapped on the way to another answer goes; a photo stays.
  const choose = (value, next) => async () => {
    const key = draftKey(a.line, a.stop, "check");
    const { photo = "" } = await store.get(key) || {};
    await store.put(key, { ...begin, found: value, photo });
    await (next ? go(next, a) : finish(a, "check", {}));
  };
  const big = (value, label, next, cls) => tap(label, choose(value, next), { drawing: by(value).drawing, name: value, class: "tap answer " + cls });
  return [await heading(a, say("What did you find?")), await whereItIs(a),
    h("div", { class: "answers" },
      h("div", { class: "pair" }, big("not_checked", say("NOT CHECKED"), "", "plain"), big("not_found", say("CAN’T FIND IT"), "", "plain")),
      h("div", { class: "pair" }, big("some", say("SOME GONE"), "eggs", "plain"), big("lost", say("ALL LOST"), "how", "plain")),
      big("all", say("ALL HERE"), "fresh", "good")), back(lineScreen(a))];
});

// whereItIs repeats what was written down to find the nest again.
async function whereItIs(a) {
  const s = await walk.lineState(await walk.lineOf(a.line));
  const set = s.stops[a.stop - 1].set;
  if (!set) return null;
  const q = await walk.question("cover");
  const cover = (q.choices.find((c) => c.value === set.answers.cover) || {}).label;
  const parts = [cover && say(cover), set.answers.steps && say("%s steps", set.answers.steps), set.answers.bearing, set.answers.place].filter(Boolean);
  return parts.length ? h("p", { class: "spot" }, parts.join(" · ")) : null;
}

screen("fresh", async (a) => [await heading(a, say("Fresh eggs put in?")), h("p", {}, say("Old eggs go out with you, in two bags.")),
  h("div", { class: "answers" }, tap(say("NO"), () => finish(a, "check", { eggs_fresh_put: "0" }), { name: "no", class: "tap answer plain" }),
    tap(say("YES"), () => finish(a, "check", { eggs_fresh_put: "3" }), { name: "yes", class: "tap answer good" })), back(() => go("check", a))]);

screen("eggs", async (a) => [await heading(a, say("How many eggs are left?")),
  h("div", { class: "pictures" }, ["0", "1", "2", "3"].map((n) => tap(n, async () => {
    await answer(a, "check", { eggs_left: n });
    await go("how", a);
  }, { name: "eggs" + n }))), back(() => go("check", a))]);

screen("how", async (a) => {
  const q = await walk.question("lost_how");
  return [await heading(a, say("What happened?")), pictures(q.choices, async (value) => {
    await answer(a, "check", { lost_how: value });
    await go("photo", a);
  }), back(() => go("check", a))];
});

// The photo comes before anything is touched.
screen("photo", async (a) => {
  const answers = await store.get(draftKey(a.line, a.stop, "check")) || {};
  const taken = (answers.photo || "").split(" ").filter(Boolean).length;
  const asksSigns = ["animal", "unknown"].includes(answers.lost_how);
  const next = () => asksSigns ? go("sign", { ...a, at: 0 }) : finish(a, "check", {});
  const file = h("input", { type: "file", accept: "image/*", capture: "environment", class: "visually-hidden", id: "camera" });
  const note = h("p", { role: "status" }, taken ? say("Photos kept: %d", taken) : "");
  file.addEventListener("change", async () => {
    if (!file.files[0]) return;
    note.textContent = say("One moment …");
    try {
      const id = await keepPhoto(a, file.files[0]);
      await answer(a, "check", { photo: [answers.photo, id].filter(Boolean).join(" ") });
      kept();
      await redraw();
    } catch (err) {
      note.textContent = store.isFull(err) ? say("This phone is full: the photo is NOT kept. Make room and take it again.") : say("This photo could not be read. Take it again.");
    }
  });
  return [await heading(a, say("Photo first, before you touch anything")), h("p", {}, say("Straight down on the bowl, then one from 10 ft. Lay the scale beside the shells. No people.")), note,
    h("div", { class: "answers" }, h("label", { class: "tap answer plain", for: "camera" }, h("span", {}, taken ? say("ANOTHER PHOTO") : say("TAKE A PHOTO"))), file,
      tap(taken ? say("GO ON") : say("NO PHOTO"), next, { name: "go-on", class: "tap answer " + (taken ? "good" : "plain") })), back(() => go("how", a))];
});

// keepPhoto draws the picture again, small: what the file says of place and time stays behind.
async function keepPhoto(a, file) {
  const picture = await createImageBitmap(file);
  const line = await walk.lineOf(a.line);
  let side = 1280, blob;
  for (const quality of [0.8, 0.65, 0.5, 0.5, 0.5]) {
    const by = Math.min(1, side / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(picture.width * by));
    canvas.height = Math.max(1, Math.round(picture.height * by));
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", quality));
    if (blob.size <= 200000) break;
    if (quality === 0.5) side = side * 0.75;
  }
  const photo = { id: store.newID(), line: line.id, ranch: line.ranch, data: await blob.arrayBuffer(), state: "waiting" };
  await store.keepPhoto(photo);
  return photo.id;
}

// The signs, one by one: seen, looked and none, or not looked.
screen("sign", async (a) => {
  const name = signs[a.at];
  const q = await walk.question(name);
  const next = async (value) => {
    await answer(a, "check", { [name]: value });
    await go(a.at + 1 < signs.length ? "sign" : "guess", { ...a, at: a.at + 1 });
  };
  return [await heading(a, say(q.label)), h("p", { class: "where" }, say("Sign %d of %d", a.at + 1, signs.length)), pictures(q.choices, next),
    tap(say("Did not look, or cannot tell"), () => next(""), { name: "skip", class: "tap quiet" }),
    back(() => a.at > 0 ? go("sign", { ...a, at: a.at - 1 }) : go("photo", a))];
});

screen("guess", async (a) => {
  const q = await walk.question("guess");
  return [await heading(a, say("Your own guess, last of all")), h("p", {}, say("It is kept apart from what the signs say.")),
    h("div", { class: "pictures words" }, q.choices.map((c) => tap(say(c.label), () => finish(a, "check", { guess: c.value }), { name: c.value }))),
    tap(say("I can’t tell"), () => finish(a, "check", {}), { name: "no-guess", class: "tap answer plain" }), back(() => go("sign", { ...a, at: signs.length - 1 }))];
});

// Where the nest is, for whoever looks for it again: counted, not typed.
screen("spot", async (a) => {
  const s = await walk.lineState(await walk.lineOf(a.line));
  const set = s.stops[a.stop - 1].set;
  let answers = Object.assign({}, set.answers, await store.get(draftKey(a.line, a.stop, "set")) || {});
  const save = (name) => (value) => {
    answers = { ...answers, [name]: String(value) };
    return answer(a, "set", answers);
  };
  const toward = ["N", "NE", "E", "SE", "S", "SW", "W", "NW"];
  return [await heading(a, say("From the flag to the nest")), number(say("Steps"), Number(answers.steps || 10), save("steps")),
    h("div", { class: "pictures words" }, toward.map((d, i) => tap(walk.compass(i * 45), async () => {
      await answer(a, "set", { ...answers, bearing: d, steps: answers.steps || "10" });
      await redraw();
    }, { name: d, pressed: answers.bearing === d }))),
    number(say("Markers put here"), Number(answers.markers_set || 0), save("markers_set")),
    tap(say("Camera here: %s", answers.camera_here === "yes" ? say("yes") : say("no")), async () => {
      await answer(a, "set", { ...answers, camera_here: answers.camera_here === "yes" ? "no" : "yes" });
      await redraw();
    }, { name: "camera", pressed: answers.camera_here === "yes" }),
    tap(say("KEEP"), () => finish(a, "set", answers), { name: "keep", class: "tap answer good" }), back(lineScreen(a))];
});
