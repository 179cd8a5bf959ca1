// Package keytable reads and writes the table of a key to remains as a file of its own: CSV, one line a sign, answer and animal, with how many
// times likelier the answer is from the animal, or with the camera nests at which it was written down.
//
//	sign,answer,animal,times,source      sign,answer,animal,nests,source
//	bits,halves,raccoon,4,               bits,halves,raccoon,31,"A county's cameras, 2019 to 2024"
//
// Signs, answers and animals are those of the season sheet. What is not listed is 1 time, or 0 nests.
//
// # What a key does
//
// How strongly each sign points to each animal is a table (stat/predator.Table): leanings, which somebody judged and which count as
// much as five camera nests, or counts of camera nests, whose rows are Dirichlet with their numbers and one nest more. Common practice
// is version 0. A coordinator adds versions of the cooperative's own (tussock.remains_key), each with a source line; none is ever
// changed, and each is a line of /changes. A season is read with the version that counted when it opened (season.remains_key, set by a
// trigger), one that never opened with that of the next that did, and a season to come with the latest (postgres.Tx.SeasonTables). So
// a season that has opened never changes with the key, nor does its bulletin, which keeps version and source (pub.bulletin). A new
// version forgets all kept findings of the cooperative. Where a mix is read, findings.Strengths says whose strengths these are.
package keytable

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"tussock/internal/stat/predator"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// What a file may be.
const (
	MostBytes = 200_000
	MostLines = 2000
)

// Write returns the table as a file, with CRLF as RFC 4180 has it.
func Write(t predator.Table) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	line := func(cells ...string) { w.Write(cells) } // a buffer takes everything
	if t.Assumed() {
		if len(t.Leanings) == 0 {
			t.Leanings = predator.Common().Leanings
		}
		line("sign", "answer", "animal", "times", "source")
		for _, l := range t.Leanings {
			line(l.Sign, l.Answer, l.Animal, strconv.FormatFloat(l.Times, 'f', -1, 64), inert(t.Source))
		}
	} else {
		line("sign", "answer", "animal", "nests", "source")
		for _, n := range t.Counts {
			line(n.Sign, n.Answer, n.Animal, strconv.Itoa(n.Nests), inert(t.Source))
		}
	}
	w.Flush()
	return b.Bytes()
}

// Blank is a file to fill in with counts: each answer of each sign with each animal.
func Blank() []byte {
	var t predator.Table
	k := predator.NewKey()
	for i, sign := range k.Features() {
		for _, answer := range k.Choices(i) {
			for _, animal := range predator.Predators() {
				t.Counts = append(t.Counts, predator.Count{Sign: sign, Answer: answer, Animal: animal})
			}
		}
	}
	return Write(t)
}

// inert puts an apostrophe before a text that a spreadsheet program would run as a formula.
func inert(s string) string {
	if strings.IndexAny(s, "=+-@\t\r\n＝＋－＠") == 0 {
		return "'" + s
	}
	return s
}

// headings name the columns, in English and Spanish.
var headings = map[string]string{"sign": "sign", "answer": "answer", "animal": "animal", "times": "times", "nests": "nests", "source": "source",
	"señal": "sign", "senal": "sign", "respuesta": "answer", "veces": "times", "nidos": "nests", "fuente": "source"}

// Read reads a file. Where anything in it is not understood, nothing of it is taken and the faults say what, in which line, and what to do. The
// source is that of the first line that has one.
func Read(file []byte) (predator.Table, []words.Phrase) {
	r := &reader{seen: map[[3]string]int{}}
	if r.open(file) && r.columns() {
		r.lines()
	}
	if len(r.faults) > 0 {
		return predator.Table{}, r.faults
	}
	return r.table, nil
}

type reader struct {
	csv    *csv.Reader
	at     map[string]int // the columns
	table  predator.Table
	seen   map[[3]string]int // sign, answer and animal, and their line
	faults []words.Phrase
}

func (r *reader) fault(text string, args ...any) {
	r.faults = append(r.faults, words.Later(text, args...))
}

func (r *reader) open(file []byte) bool {
	file = bytes.TrimPrefix(file, []byte("\xef\xbb\xbf"))
	switch {
	case len(file) > MostBytes:
		r.fault(words.Mark("The file is larger than a table can be. Send the table alone, as CSV."))
		return false
	case bytes.HasPrefix(file, []byte("PK\x03\x04")) || !utf8.Valid(file) || bytes.IndexByte(file, 0) >= 0:
		r.fault(words.Mark("This is no plain text. In a spreadsheet program choose “Save as” and the kind “CSV UTF-8”, and send that file."))
		return false
	}
	file = bytes.ReplaceAll(bytes.ReplaceAll(file, []byte("\r\n"), []byte("\n")), []byte("\r"), []byte("\n"))
	first, _, _ := bytes.Cut(bytes.TrimLeft(file, "\n"), []byte("\n"))
	r.csv = csv.NewReader(bytes.NewReader(file))
	r.csv.FieldsPerRecord, r.csv.LazyQuotes, r.csv.TrimLeadingSpace = -1, true, true
	for _, comma := range ";\t" {
		if strings.ContainsRune(string(first), comma) && !strings.ContainsRune(string(first), ',') {
			r.csv.Comma = comma
			r.csv.TrimLeadingSpace = comma != '\t'
		}
	}
	return true
}

// columns reads the heading.
func (r *reader) columns() bool {
	r.at = map[string]int{}
	cells, err := r.csv.Read()
	if err == nil {
		for i, cell := range cells {
			if name, ok := headings[strings.ToLower(strings.TrimSpace(cell))]; ok {
				r.at[name] = i
			}
		}
	}
	has := func(name string) bool { _, ok := r.at[name]; return ok }
	switch {
	case !has("sign") || !has("answer") || !has("animal") || !has("times") && !has("nests"):
		r.fault(words.Mark("The first line must name the columns: sign, answer, animal, and times or nests. Take today’s table as a file to see how."))
	case has("times") && has("nests"):
		r.fault(words.Mark("The first line names both times and nests. Keep one of the two columns: times where the strengths are judged, nests where they were counted."))
	default:
		return true
	}
	return false
}

func (r *reader) lines() {
	filled := false
	for n := 0; ; n++ {
		cells, err := r.csv.Read()
		if err != nil { // the end: nothing else is one where quotes are lazy
			break
		}
		if n >= MostLines {
			r.fault(words.Mark("The file has more than %d lines. Each sign, answer and animal needs one line at most."), MostLines)
			break
		}
		if strings.TrimSpace(strings.Join(cells, "")) != "" {
			line, _ := r.csv.FieldPos(0)
			filled = r.line(line, cells) || filled
		}
	}
	if len(r.faults) > 0 {
		return
	}
	if counted := r.counting() && len(r.table.Counts) == 0; counted || !filled {
		r.fault(words.Mark("The table tells nothing: no line has a number above 0. Fill it in and send it again."))
	}
}

func (r *reader) counting() bool { _, ok := r.at["nests"]; return ok }

// line reads one line and tells whether it says something.
func (r *reader) line(at int, cells []string) bool {
	cell := func(name string) string {
		if i, ok := r.at[name]; ok && i < len(cells) {
			return strings.TrimSpace(cells[i])
		}
		return ""
	}
	if source := strings.TrimPrefix(cell("source"), "'"); r.table.Source == "" {
		r.table.Source = source
	}
	key := predator.NewKey()
	sign, ok := find(key.Features(), cell("sign"))
	if !ok {
		r.fault(words.Mark("Line %d: “%s” is no sign of the key. The signs are %s."), at, short(cell("sign")), listed(key.Features()))
		return false
	}
	answers := key.Choices(slices.Index(key.Features(), sign))
	answer, ok := find(answers, cell("answer"))
	switch {
	case !ok && answerOf(sign, cell("answer")):
		r.fault(words.Mark("Line %d: “%s” tells nothing, since every animal can leave it so. Take the line out."), at, short(cell("answer")))
		return false
	case !ok:
		r.fault(words.Mark("Line %d: “%s” is no answer of the sign “%s”. Its answers are %s."), at, short(cell("answer")), sign, listed(answers))
		return false
	}
	animal, ok := find(predator.Predators(), cell("animal"))
	if !ok {
		r.fault(words.Mark("Line %d: “%s” is no animal of the key. The animals are %s."), at, short(cell("animal")), listed(predator.Predators()))
		return false
	}
	name := [3]string{sign, answer, animal}
	if before := r.seen[name]; before > 0 {
		r.fault(words.Mark("Line %d says the same sign, answer and animal as line %d. Keep one of the two."), at, before)
		return false
	}
	r.seen[name] = at
	if r.counting() {
		return r.count(at, cell("nests"), predator.Count{Sign: sign, Answer: answer, Animal: animal})
	}
	return r.lean(at, cell("times"), predator.Leaning{Sign: sign, Answer: answer, Animal: animal})
}

func (r *reader) count(at int, text string, n predator.Count) bool {
	if text == "" {
		return true // as if it were not listed
	}
	nests, err := strconv.ParseFloat(text, 64) // some programs write 12.0
	if err != nil || nests != float64(int(nests)) || nests < 0 || nests > predator.MostNests {
		r.fault(words.Mark("Line %d: the number of nests is “%s”. Write a whole number from 0 to %d."), at, short(text), predator.MostNests)
		return false
	}
	if n.Nests = int(nests); n.Nests > 0 {
		r.table.Counts = append(r.table.Counts, n)
	}
	return true
}

func (r *reader) lean(at int, text string, l predator.Leaning) bool {
	number := text
	if strings.Count(text, ",") == 1 && !strings.Contains(text, ".") {
		number = strings.Replace(text, ",", ".", 1) // 0,25 as in Spanish
	}
	times, err := strconv.ParseFloat(number, 64)
	if err != nil || !(times >= predator.LeastTimes && times <= predator.MostTimes) {
		r.fault(words.Mark("Line %d: how many times likelier is “%s”. Write a number from %s to %s, such as 4, or 0.25 for four times seldomer."), at, short(text),
			fmt.Sprint(predator.LeastTimes), fmt.Sprint(predator.MostTimes))
		return false
	}
	l.Times = times
	r.table.Leanings = append(r.table.Leanings, l)
	return true
}

// find returns the name that a cell means: capitals, blanks, hyphens and underscores do not matter.
func find(names []string, cell string) (string, bool) {
	same := func(s string) string {
		return strings.ToLower(strings.NewReplacer(" ", "", "_", "", "-", "").Replace(s))
	}
	i := slices.IndexFunc(names, func(name string) bool { return same(name) == same(cell) })
	if i < 0 {
		return "", false
	}
	return names[i], true
}

// answerOf tells whether the sheet has the answer, which the key then does not score.
func answerOf(sign, cell string) bool {
	i := slices.IndexFunc(survey.Features, func(f survey.Feature) bool { return f.Name == sign })
	if i < 0 {
		return false
	}
	_, ok := find(survey.Features[i].Choices, cell)
	return ok
}

func listed(names []string) string { return strings.Join(names, ", ") }

// short cuts a cell that is too long for a sentence.
func short(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}

// Silent lists the signs and the animals of which a table says nothing: such a sign points to no animal, and such an animal leaves every answer
// equally often.
func Silent(t predator.Table) (signs, animals []string) {
	said := map[string]bool{}
	for _, n := range t.Counts {
		said[n.Sign], said[n.Animal] = true, true
	}
	if t.Assumed() {
		for _, l := range t.Leanings {
			said[l.Sign], said[l.Animal] = true, true
		}
	}
	left := func(names []string) []string {
		return slices.DeleteFunc(slices.Clone(names), func(name string) bool { return said[name] })
	}
	return left(predator.NewKey().Features()), left(predator.Predators())
}
