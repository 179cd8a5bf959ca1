// Opens the field form without a signal. It keeps the form's page, which is the same for everybody, and the files of this
// version; everything else goes to the server as if this were not here.

const files = /* the files of this version */ [];
const name = "field-" + files.join("").split("").reduce((h, c) => (h * 31 + c.charCodeAt(0)) >>> 0, 7);

self.addEventListener("install", (e) => {
  e.waitUntil(caches.open(name).then((c) => Promise.all([c.add(new Request("/field", { cache: "reload" })), c.addAll(files)])));
});

self.addEventListener("activate", (e) => {
  e.waitUntil(caches.keys().then((all) => Promise.all(all.filter((n) => n.startsWith("field-") && n !== name).map((n) => caches.delete(n)))).then(() => self.clients.claim()));
});

self.addEventListener("fetch", (e) => {
  const url = new URL(e.request.url);
  if (e.request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname !== "/field" && !files.includes(url.pathname)) return;
  e.respondWith(caches.open(name).then((c) => c.match(url.pathname)).then((kept) => kept || fetch(e.request)));
});
