// Package words says what people read in their own language.
//
// The English text stands in the code and is the key; the other languages are GNU gettext catalogs (web/words/es/*.po),
// one for each part of the service, which any translator's tool opens. A text that a catalog lacks is said in
// English, and a test names it.
//
// Texts with a verb (%d, %s) are filled in as fmt does; a translation may change their order with %[2]s.
package words

import (
	"cmp"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"time"

	"github.com/leonelquinteros/gotext"
)

// A Language is a language by its BCP 47 tag.
type Language string

// The languages there are.
const (
	English Language = "en"
	Spanish Language = "es" // as spoken in the ranch country on both sides of the border
)

// Languages lists them, each with its own name.
func Languages() []Language { return []Language{English, Spanish} }

// Name returns what a language calls itself.
func (t Language) Name() string {
	if t == Spanish {
		return "Español"
	}
	return "English"
}

// Known returns the language called tag, and whether there is one.
func Known(tag string) (Language, bool) {
	t := Language(tag)
	return t, slices.Contains(Languages(), t)
}

// Preferred returns the language that comes first in an Accept-Language header (RFC 9110, 12.5.4); English where none of
// ours does. Weights are rarely out of order, and are not read.
func Preferred(header string) Language {
	for part := range strings.SplitSeq(header, ",") {
		tag, _, _ := strings.Cut(strings.TrimSpace(part), ";")
		base, _, _ := strings.Cut(strings.ToLower(tag), "-")
		if t, ok := Known(base); ok {
			return t
		}
	}
	return English
}

// Mark does nothing: it marks a text that is said elsewhere, so that the test of the catalogs finds it.
func Mark(text string) string { return text }

// A Book holds the catalogs.
type Book struct{ spanish *gotext.Po }

// Open reads the catalogs below words/ in files.
func Open(files fs.FS) (*Book, error) {
	names, err := fs.Glob(files, "words/es/*.po")
	if err != nil {
		return nil, err
	}
	slices.SortFunc(names, cmp.Compare[string])
	var all []byte
	for _, name := range names {
		part, err := fs.ReadFile(files, name)
		if err != nil {
			return nil, fmt.Errorf("read catalog: %w", err)
		}
		all = append(append(all, part...), "\n\n"...)
	}
	po := gotext.NewPo()
	po.Parse(all)
	return &Book{spanish: po}, nil
}

// In returns a speaker of t.
func (b *Book) In(t Language) Speaker {
	if t == Spanish {
		return Speaker{Spanish, b.spanish}
	}
	return Speaker{Language: English}
}

// A Speaker says texts in one language. The zero Speaker speaks English.
type Speaker struct {
	Language Language
	po       *gotext.Po
}

// Has tells whether the speaker's catalog holds text.
func (s Speaker) Has(text string) bool { return s.po == nil || s.po.IsTranslated(text) }

// HasCount tells the same of a text with a number.
func (s Speaker) HasCount(one string) bool {
	return s.po == nil || s.po.IsTranslatedN(one, 1) && s.po.IsTranslatedN(one, 2)
}

// Say returns text in the speaker's language, its verbs filled in.
func (s Speaker) Say(text string, args ...any) string {
	if s.po != nil && text != "" && s.po.IsTranslated(text) { // the empty text is a catalog's head
		text = s.po.Get(text, []any(nil)...)
	}
	return fill(text, args)
}

// Count returns the text that fits n of something: one where n is one, many else. Without args the verbs are filled in
// with n alone.
func (s Speaker) Count(one, many string, n int, args ...any) string {
	text := many
	if n == 1 {
		text = one
	}
	if s.po != nil && s.HasCount(one) {
		text = s.po.GetN(one, many, n, []any(nil)...)
	}
	if len(args) == 0 {
		if !strings.Contains(text, "%") {
			return text
		}
		args = []any{n}
	}
	return fill(text, args)
}

func fill(text string, args []any) string {
	if len(args) == 0 {
		return text
	}
	return fmt.Sprintf(text, args...)
}

// Day writes a day as people do: January 2, 2026, 2 de enero de 2026.
func (s Speaker) Day(t time.Time) string {
	if s.Language == Spanish {
		return fmt.Sprintf("%d de %s de %d", t.Day(), months[t.Month()-1], t.Year())
	}
	return t.Format("January 2, 2006")
}

// Weekday writes a day of this year with its name: Monday, May 26, lunes 26 de mayo.
func (s Speaker) Weekday(t time.Time) string {
	if s.Language == Spanish {
		return fmt.Sprintf("%s %d de %s", weekdays[t.Weekday()], t.Day(), months[t.Month()-1])
	}
	return t.Format("Monday, January 2")
}

var (
	months   = [...]string{"enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre", "octubre", "noviembre", "diciembre"}
	weekdays = [...]string{"domingo", "lunes", "martes", "miércoles", "jueves", "viernes", "sábado"}
)
