package words_test

import (
	"testing"
	"testing/fstest"
	"time"

	"tussock/internal/words"
)

// The catalog's form, its plural rule and reordered verbs are those of the GNU gettext manual (sections 3, 12.6 and
// 15.3.1).
const catalog = `msgid ""
msgstr ""
"Content-Type: text/plain; charset=UTF-8\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\n"

msgid "All here"
msgstr "Completo"

msgid "%d of %d nests"
msgstr "de %[2]d nidos, %[1]d"

msgid "%d nest"
msgid_plural "%d nests"
msgstr[0] "%d nido"
msgstr[1] "%d nidos"
`

func TestSpeaker(t *testing.T) {
	book, err := words.Open(fstest.MapFS{
		"words/es/a.po": {Data: []byte(catalog)},
		"words/es/b.po": {Data: []byte("msgid \"\"\nmsgstr \"\"\n\"Plural-Forms: nplurals=2; plural=(n != 1);\\n\"\n\nmsgid \"Lost\"\nmsgstr \"Perdido\"\n")},
	})
	if err != nil {
		t.Fatal(err)
	}
	es, en := book.In(words.Spanish), book.In(words.English)
	for _, test := range []struct{ got, want string }{
		{es.Say("All here"), "Completo"},
		{en.Say("All here"), "All here"},
		{es.Say("Lost"), "Perdido"},
		{es.Say("Not in the catalog"), "Not in the catalog"},
		{es.Say("100 % of them"), "100 % of them"},
		{es.Say("%d of %d nests", 3, 12), "de 12 nidos, 3"},
		{en.Say("%d of %d nests", 3, 12), "3 of 12 nests"},
		{es.Count("%d nest", "%d nests", 1), "1 nido"},
		{es.Count("%d nest", "%d nests", 0), "0 nidos"},
		{en.Count("%d nest", "%d nests", 1), "1 nest"},
		{en.Count("%d nest", "%d nests", 2), "2 nests"},
		{words.Speaker{}.Say("All here"), "All here"},
		{es.Day(time.Date(2026, 5, 2, 0, 0, 0, 0, time.UTC)), "2 de mayo de 2026"},
		{en.Weekday(time.Date(2026, 5, 25, 0, 0, 0, 0, time.UTC)), "Monday, May 25"},
		{es.Weekday(time.Date(2026, 5, 25, 0, 0, 0, 0, time.UTC)), "lunes 25 de mayo"},
	} {
		if test.got != test.want {
			t.Errorf("got %q, want %q", test.got, test.want)
		}
	}
}

func TestPreferred(t *testing.T) {
	for header, want := range map[string]words.Language{
		"":                        words.English,
		"es-MX,es;q=0.9,en;q=0.8": words.Spanish,
		"en-US,en;q=0.9,es;q=0.8": words.English,
		"fr-CA, es-419;q=0.5":     words.Spanish,
		"de":                      words.English,
		"\x00;;;,,,=":             words.English,
	} {
		if got := words.Preferred(header); got != want {
			t.Errorf("Preferred(%q) = %s, want %s", header, got, want)
		}
	}
}

// What goes before i is by Ortografía de la lengua española (2010): e before the sound i, y before hie.
func TestTell(t *testing.T) {
	book, err := words.Open(fstest.MapFS{"words/es/a.po": {Data: []byte(catalog + "\nmsgid \"shrub\"\nmsgstr \"arbusto\"\n\nmsgid \"Left out: %s.\"\nmsgstr \"Quedan fuera: %s.\"\n")}})
	if err != nil {
		t.Fatal(err)
	}
	es := book.In(words.Spanish)
	p := words.Later("Left out: %s.", []words.Phrase{words.LaterCount("%d nest", "%d nests", 2), words.Later("shrub"), words.Later("50% sage")})
	for _, test := range []struct{ got, want string }{
		{p.String(), "Left out: 2 nests, shrub and 50% sage."},
		{es.Tell(p), "Quedan fuera: 2 nidos, arbusto y 50% sage."},
		{es.Tell(words.Phrase{}), ""},
		{es.List([]string{"nopal", "hierba"}), "nopal y hierba"},
		{es.List([]string{"nopal", "Isla"}), "nopal e Isla"},
		{es.List([]string{"nopal", "hielo"}), "nopal y hielo"},
	} {
		if test.got != test.want {
			t.Errorf("got %q, want %q", test.got, test.want)
		}
	}
}
