// Draws screens: one question each, answers at the bottom where the thumb is. Which screen is up is kept on the phone, so
// that a phone that went off comes back to where it was.

import * as store from "./field-store.js";
import { say } from "./field-words.js";

const screens = {};

// screen registers one: draw gets what the screen was opened with and returns its parts.
export function screen(name, draw) { screens[name] = draw; }

// h makes an element: h("p", {class: "small"}, "text", child). on… are listeners.
export function h(tag, props, ...kids) {
  const el = tag === "svg" || tag === "path" || tag === "g" ? document.createElementNS("http://www.w3.org/2000/svg", tag) : document.createElement(tag);
  for (const [name, value] of Object.entries(props || {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) el.addEventListener(name.slice(2), value);
    else el.setAttribute(name, value === true ? "" : value);
  }
  el.append(...kids.flat(3).filter((k) => k !== null && k !== undefined && k !== false && k !== "").map((k) => k.nodeType ? k : String(k)));
  return el;
}

let trouble = () => {};
export function onTrouble(fn) { trouble = fn; }

// tap makes a big button. While what it does is being written, no second tap gets in; where it cannot be written, the
// screen stays and says so.
export function tap(label, fn, more = {}) {
  const b = h("button", { type: "button", class: more.class || "tap", "data-tap": more.name || "", "aria-pressed": more.pressed === undefined ? undefined : String(more.pressed), disabled: more.disabled },
    more.drawing ? h("img", { src: more.drawing, alt: "", width: 60, height: 60 }) : null, h("span", {}, label, more.under ? h("small", {}, more.under) : null));
  b.addEventListener("click", async () => {
    if (document.body.dataset.busy) return;
    document.body.dataset.busy = "1";
    try {
      await fn();
      buzz(20);
    } catch (err) {
      trouble(err);
    } finally {
      delete document.body.dataset.busy;
    }
  });
  return b;
}

export function buzz(pattern) { if (navigator.vibrate) navigator.vibrate(pattern); }

// go opens a screen and keeps that it is up. A screen that is kept as "stay" is not come back to.
export async function go(name, args = {}, stay = false) {
  if (!stay) await store.put("at", { name, args });
  await draw(name, args);
}

let up = { name: "", args: {} };

export async function draw(name, args) {
  const parts = await screens[name](args);
  if (!parts) return; // it went on to another one
  up = { name, args };
  const main = document.getElementById("screen");
  main.dataset.screen = name;
  main.replaceChildren(...[parts].flat(3).filter(Boolean));
  window.scrollTo(0, 0);
  const title = main.querySelector("h1");
  if (title) {
    title.tabIndex = -1;
    title.focus({ preventScroll: true });
    document.title = title.textContent + " – Tussock";
  }
}

export function redraw() { return up.name ? draw(up.name, up.args) : undefined; }

export async function resume(first) {
  const at = await store.get("at");
  if (!at || !screens[at.name]) return go(first);
  try {
    await draw(at.name, at.args);
  } catch (err) {
    await go(first);
  }
}

// number is a big − / + with its value between, starting where most people end up.
export function number(label, value, set, more = {}) {
  const step = more.step || 1, least = more.least === undefined ? 0 : more.least, places = more.places || 0;
  const shown = h("output", {}, value.toFixed(places));
  const change = (by) => async () => {
    const next = Math.max(least, Math.min(more.most || 1e6, value + by));
    await set(Number(next.toFixed(places)));
    value = next;
    shown.textContent = value.toFixed(places);
    if (more.then) more.then(value);
  };
  if (more.big) {
    return h("div", { class: "number", role: "group", "aria-label": label }, h("div", { class: "name" }, h("span", {}, label), shown),
      h("div", {}, tap("−" + more.big, change(-more.big), { class: "tap step", name: "less-big" }), tap("−", change(-step), { class: "tap step", name: "less" }),
        tap("+", change(step), { class: "tap step", name: "more" }), tap("+" + more.big, change(more.big), { class: "tap step", name: "more-big" })));
  }
  return h("div", { class: "number", role: "group", "aria-label": label }, h("span", { class: "name" }, label),
    h("div", {}, tap("−", change(-step), { class: "tap step", name: "less" }), shown, tap("+", change(step), { class: "tap step", name: "more" })));
}

export function back(fn) { return tap("‹ " + say("Back"), fn, { class: "tap quiet back", name: "back" }); }
