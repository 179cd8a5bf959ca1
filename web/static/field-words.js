// Texts of the field form in English and Spanish. English stands in the scripts and is the key; the Spanish is in the page
// itself and in the pack (the catalogs web/words/es).

let spanish = {};
let language = "en";

export function addWords(more) {
  spanish = Object.assign(spanish, more);
}

export function speak(t) {
  language = t === "es" ? "es" : "en";
  document.documentElement.lang = language;
}

export function spoken() { return language; }

// say puts the arguments in for %s and %d in turn, or for %[2]s in their own order.
export function say(text, ...args) {
  let next = 0;
  const said = language === "es" && spanish[text] || text;
  return said.replace(/%(?:\[(\d)\])?[sd]/g, (_, at) => String(args[at ? at - 1 : next++]));
}

// day writes 2026-05-12 as people do: May 12, 12 de mayo.
export function day(iso) {
  if (!iso) return "";
  const [y, m, d] = iso.split("-").map(Number);
  return new Intl.DateTimeFormat(language === "es" ? "es-MX" : "en-US", { day: "numeric", month: "long" }).format(new Date(y, m - 1, d));
}
