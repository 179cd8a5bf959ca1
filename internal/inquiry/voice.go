package inquiry

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"tussock/internal/survey"
	"tussock/internal/words"
)

// A Voice says sentences in the language of the person who reads them. What a sheet says is repeated as it stands there.
type Voice struct{ words.Speaker }

// List joins words as a sentence does: a, b and c.
func (v Voice) List(parts []string) string {
	if len(parts) < 2 {
		return strings.Join(parts, "")
	}
	return v.Say("%s and %s", strings.Join(parts[:len(parts)-1], ", "), parts[len(parts)-1])
}

// Quoted lists words of the sheet in quotation marks.
func (v Voice) Quoted(ws []string) string {
	var out []string
	for _, w := range ws {
		out = append(out, "“"+w+"”")
	}
	return v.List(out)
}

// Table names a file, or a tab of it.
func (v Voice) Table(file, sheet string) string {
	if sheet == "" {
		return file
	}
	return v.Say("tab “%s” of %s", sheet, file)
}

// Spans writes row numbers as "row 5" or "rows 4–9, 12 and 15".
func (v Voice) Spans(rows []int) string {
	slices.Sort(rows)
	rows = slices.Compact(rows)
	if len(rows) > 0 && rows[0] == 0 {
		rows = rows[1:]
	}
	if len(rows) == 0 {
		return ""
	}
	var parts []string
	for i := 0; i < len(rows); {
		j := i
		for j+1 < len(rows) && rows[j+1] == rows[j]+1 {
			j++
		}
		if len(parts) >= 5 {
			parts = append(parts, v.Say("others"))
			break
		}
		switch {
		case j == i:
			parts = append(parts, fmt.Sprint(rows[i]))
		case j == i+1:
			parts = append(parts, fmt.Sprint(rows[i]), fmt.Sprint(rows[j]))
		default:
			parts = append(parts, fmt.Sprintf("%d–%d", rows[i], rows[j]))
		}
		i = j + 1
	}
	if len(rows) == 1 {
		return v.Say("row %s", parts[0])
	}
	return v.Say("rows %s", v.List(parts))
}

// At names one cell's row.
func (v Voice) At(c survey.Cell) string {
	if c.Sheet != "" {
		return v.Say("tab “%s”, row %d", c.Sheet, c.Row)
	}
	return v.Say("row %s", fmt.Sprint(c.Row))
}

// Nest names a nest in the middle of a sentence.
func (v Voice) Nest(n *survey.Nest) string {
	return v.Say("nest %s of transect %s", n.Number, n.Transect)
}

// Date writes a day as people do.
func (v Voice) Date(d survey.Date) string { return v.Day(d.Time()) }

// Found says a state in a word that our reader understands in a sheet of the same language.
func (v Voice) Found(s survey.State) string {
	switch s {
	case survey.Intact:
		return v.Say("intact")
	case survey.Taken:
		return v.Say("taken")
	case survey.Lost:
		return v.Say("lost")
	case survey.Spoiled:
		return v.Say("spoiled")
	case survey.Trampled:
		return v.Say("trampled")
	case survey.Flooded:
		return v.Say("flooded")
	}
	return string(s)
}

// FoundOn says what was found on a day, as part of a list.
func (v Voice) FoundOn(visit survey.Visit) string {
	day := v.Date(visit.On)
	switch visit.State {
	case survey.Intact:
		return v.Say("eggs all there on %s", day)
	case survey.Taken:
		return v.Say("taken by %s", day)
	case survey.Lost:
		return v.Say("not found on %s", day)
	case survey.Spoiled:
		return v.Say("spoiled by %s", day)
	case survey.Trampled:
		return v.Say("trampled by %s", day)
	case survey.Flooded:
		return v.Say("flooded by %s", day)
	}
	return day
}

// Cover says what a nest sits in; a sheet's own word stands as it is.
func (v Voice) Cover(s survey.Substrate) string {
	switch s {
	case survey.Bunchgrass, survey.PricklyPear, survey.Yucca, survey.Shrub, survey.Forb:
		return v.Say(string(s))
	}
	return string(s)
}

// Animal names a predator of the key; what a crew wrote itself stands as it is.
func (v Voice) Animal(p survey.Predator) string {
	switch {
	case p == survey.Other:
		return v.Say("other")
	case slices.Contains(survey.Predators, p):
		return v.Say(string(p))
	}
	return string(p)
}

// Capital begins a sentence.
func Capital(s string) string {
	c, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return s
	}
	return string(unicode.ToUpper(c)) + s[size:]
}

// Short cuts a cell of the sheet down to what a sentence can carry.
func Short(s string) string {
	if len(s) > 60 {
		return strings.ToValidUTF8(s[:60], "") + "…"
	}
	return s
}
