package intake

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"tussock/internal/fieldwork"
	"tussock/internal/survey"
	tongue "tussock/internal/words"
)

// A voice says sentences in the tongue of whoever reads them. What a sheet says is repeated as it stands there.
type voice struct{ tongue.Speaker }

// list joins words as a sentence does: a, b and c.
func (v voice) list(parts []string) string {
	if len(parts) < 2 {
		return strings.Join(parts, "")
	}
	return v.Say("%s and %s", strings.Join(parts[:len(parts)-1], ", "), parts[len(parts)-1])
}

func (v voice) quoted(ws []string) string {
	var out []string
	for _, w := range ws {
		out = append(out, "“"+w+"”")
	}
	return v.list(out)
}

// table names a file, or a tab of it.
func (v voice) table(file, sheet string) string {
	if sheet == "" {
		return file
	}
	return v.Say("tab “%s” of %s", sheet, file)
}

// in says with a space before it in which table something stands; "" where there is but one.
func (v voice) in(t *table, many bool) string {
	if !many {
		return ""
	}
	return " " + v.Say("in %s", v.table(t.File, t.Name))
}

// spans writes row numbers as "row 5" or "rows 4–9, 12 and 15".
func (v voice) spans(rows []int) string {
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
	return v.Say("rows %s", v.list(parts))
}

// at names one cell's row.
func (v voice) at(c survey.Cell) string {
	if c.Sheet != "" {
		return v.Say("tab “%s”, row %d", c.Sheet, c.Row)
	}
	return v.Say("row %s", fmt.Sprint(c.Row))
}

// nest names a nest in the middle of a sentence.
func (v voice) nest(n *survey.Nest) string {
	return v.Say("nest %s of transect %s", n.Number, n.Transect)
}

func (v voice) day(d survey.Date) string { return v.Day(d.Time()) }

// found says a state in a word that our reader understands in a sheet of the same tongue.
func (v voice) found(s survey.State) string {
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

// foundOn says what was found on a day, as part of a list.
func (v voice) foundOn(visit survey.Visit) string {
	day := v.day(visit.On)
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

// cover says what a nest sits in; a sheet's own word stands as it is.
func (v voice) cover(s survey.Substrate) string {
	switch s {
	case survey.Bunchgrass, survey.PricklyPear, survey.Yucca, survey.Shrub, survey.Forb:
		return v.Say(string(s))
	}
	return string(s)
}

// animal names a predator of the key; what a crew wrote itself stands as it is.
func (v voice) animal(p survey.Predator) string {
	switch {
	case p == survey.Other:
		return v.Say("other")
	case slices.Contains(survey.Predators, p):
		return v.Say(string(p))
	}
	return string(p)
}

// answer names an answer about remains as the phone and the paper do.
func (v voice) answer(f survey.Feature, choice string) string {
	return v.Say(fieldwork.ChoiceLabel(f.Name, choice))
}

// answers lists those of a column: in English as a sheet spells them, else as people read them.
func (v voice) answers(f survey.Feature) string {
	var out []string
	for _, c := range f.Choices {
		if v.Tongue == tongue.Spanish {
			out = append(out, v.answer(f, c))
		} else {
			out = append(out, strings.ReplaceAll(c, "_", " "))
		}
	}
	return strings.Join(out, ", ")
}

// states lists the words for a state that sheets mostly use, as the middle of a sentence.
func (v voice) states() string {
	return v.Say("we know intact (ok, good, whole), taken (gone, eaten, depredated), lost (not found again), spoiled, trampled and flooded")
}

// colours names those of cells.
func (v voice) colours(names []string) string {
	known := map[string]string{"yellow": v.Say("yellow"), "orange": v.Say("orange"), "red": v.Say("red"), "green": v.Say("green"),
		"blue": v.Say("blue"), "grey": v.Say("grey"), "coloured": v.Say("coloured")}
	var out []string
	for _, name := range names {
		out = append(out, known[name])
	}
	return v.list(out)
}

func capital(s string) string {
	c, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return s
	}
	return string(unicode.ToUpper(c)) + s[size:]
}
