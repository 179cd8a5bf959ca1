package intake

import (
	"strings"

	"tussock/internal/sheet"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// A voice explains the blank workbook in one language.
type voice struct{ words.Speaker }

// exampleRanch marks the example rows of the blank workbook; rows of this ranch are never read as data.
const exampleRanch = "EXAMPLE"

// A blankColumn is a column of the blank workbook with its explanation and what the example row holds.
type blankColumn struct {
	sheet.Column
	meaning, example string
}

func wanted(heading string, width float64, meaning, example string, choices ...string) blankColumn {
	c := offered(heading, width, meaning, example, choices...)
	c.Needed = true
	return c
}

func offered(heading string, width float64, meaning, example string, choices ...string) blankColumn {
	help := meaning
	if len(help) > 250 { // the program cuts longer ones off
		help = strings.ToValidUTF8(help[:250], "")
	}
	return blankColumn{Column: sheet.Column{Heading: heading, Width: width, Choices: choices, Help: help}, meaning: meaning, example: example}
}

func date(c blankColumn) blankColumn {
	c.Date = true
	return c
}

func states() []string {
	var out []string
	for _, s := range survey.States {
		out = append(out, string(s))
	}
	return out
}

func (v voice) nestColumns() []blankColumn {
	cols := []blankColumn{
		wanted("ranch", 14, v.Say("The ranch's name, the same in every row."), exampleRanch),
		offered("site", 14, v.Say("The pasture or unit. Empty: the whole ranch."), "north pasture"),
		offered("season", 8, v.Say("The year. Empty: the year of set_on."), "2025"),
		wanted("transect", 9, v.Say("The line's number or name."), "A"),
		wanted("nest", 7, v.Say("The nest's number on its line."), "1"),
		wanted("substrate", 14, v.Say("What the nest sits in. Pick one, or write another word."), "bunchgrass", "bunchgrass", "prickly pear", "yucca", "shrub", "forb"),
		offered("plant", 16, v.Say("The plant's name, if you know it."), "little bluestem"),
		date(wanted("set_on", 12, v.Say("The day the eggs were put out, like 2025-05-01."), "2025-05-01")),
		date(wanted("check1_on", 12, v.Say("The day of the first check, about day 14."), "2025-05-15")),
		wanted("check1", 11, v.Say("What you found. intact: all eggs there. taken: an animal took eggs, even one. lost: the nest was not found again."), "intact", states()...),
		date(offered("check2_on", 12, v.Say("The day of the second check, about day 28."), "2025-05-29")),
		offered("check2", 11, v.Say("What you found at the second check. Leave it empty if nobody went."), "taken", states()...),
		offered("second_look", 11, v.Say("What a second person found at the last check, looking alone on the same day before hearing the first. A few nests a season are enough."), "", states()...),
		offered("eggs_left", 9, v.Say("How many eggs were left at the last check, where some were gone."), "0"),
	}
	for _, f := range survey.Features {
		cols = append(cols, offered(f.Name, 12, v.Say(remainsMeaning[f.Name]), remainsExample[f.Name], f.Choices...))
	}
	return append(cols,
		offered("trace", 16, v.Say("Tracks, scat or hair, in your words."), ""),
		offered("guess", 12, v.Say("Your own guess at who took the eggs, written last. It is kept apart from what the signs say."), "raccoon?"),
		offered("camera", 12, v.Say("The animal, only where a trail camera shows it taking the eggs."), "", predatorNames()...),
		date(offered("camera_on", 12, v.Say("The day on which the camera shows the eggs going."), "")),
		offered("steps", 8, v.Say("Steps from the flag to the nest. Private: never shared."), "10"),
		offered("bearing", 9, v.Say("Direction from the flag. Private: never shared."), "NE"),
		offered("spot", 20, v.Say("How to find the nest again. Private: never shared."), "corner post, left of the yucca"),
		offered("notes", 24, v.Say("Anything else."), ""),
	)
}

var remainsMeaning = map[string]string{
	"bits":        words.Mark("Size of the shell pieces. none means you looked and found none; empty means nobody looked."),
	"bits_far_ft": words.Mark("How far the farthest pieces lay from the bowl, in feet or by the list."),
	"heaps":       words.Mark("Shell pieces in heaps."),
	"opened_at":   words.Mark("Where the eggs were opened."),
	"bite_way":    words.Mark("Which way the bite runs on the egg."),
	"holes":       words.Mark("Holes in the shell."),
	"inside":      words.Mark("What is left inside the shell."),
	"ground":      words.Mark("The ground within 10 ft."),
	"bowl":        words.Mark("The nest's bowl."),
}

var remainsExample = map[string]string{"bits": "halves", "bits_far_ft": "under_3", "heaps": "one", "inside": "licked", "ground": "calm", "bowl": "neat"}

func predatorNames() []string {
	var out []string
	for _, p := range survey.Predators {
		out = append(out, string(p))
	}
	return out
}

func (v voice) beltColumns() []blankColumn {
	units := []string{"ft", "yd", "m", "steps"}
	return []blankColumn{
		wanted("ranch", 14, v.Say("The ranch's name, as on the first sheet."), exampleRanch),
		offered("site", 14, v.Say("The pasture or unit. Empty: the whole ranch."), "north pasture"),
		wanted("season", 8, v.Say("The year."), "2025"),
		wanted("transect", 9, v.Say("The line's number or name."), "A"),
		wanted("length", 9, v.Say("How long the belt is."), "300"),
		wanted("length_unit", 11, v.Say("The unit of the length."), "steps", units...),
		wanted("width", 9, v.Say("How wide the belt is, both sides together."), "6"),
		wanted("width_unit", 11, v.Say("The unit of the width."), "ft", "ft", "yd", "m", "in", "steps"),
		offered("step_length", 11, v.Say("Feet a step, where you counted steps: walk 100 ft, count, and divide."), "2.5"),
		wanted("count_bunchgrass", 12, v.Say("Clumps as big as a basketball or bigger, rooted within the belt. 0 where there were none."), "17"),
		offered("count_prickly_pear", 12, v.Say("The same for prickly pear. For another plant add a column count_… with its name."), "4"),
	}
}

func (v voice) siteColumns() []blankColumn {
	return []blankColumn{
		wanted("ranch", 14, v.Say("The ranch's name, as on the first sheet."), exampleRanch),
		offered("site", 14, v.Say("The pasture or unit. Empty: the ranch itself."), "north pasture"),
		offered("owner", 18, v.Say("The person or company behind the ranch. Empty: the ranch itself."), ""),
		offered("region", 14, v.Say("The cooperative's own area."), "upper creek"),
		offered("site_type", 16, v.Say("The kind of ground."), "sandy upland"),
		offered("area", 9, v.Say("How large it is."), "640"),
		offered("area_unit", 9, v.Say("acre or ha."), "acre", "acre", "ha"),
	}
}

// template is the blank season workbook: three sheets to fill in and one that explains each column. Headings and choices are
// the same in every tongue; what explains them is not.
func (v voice) template() []sheet.Blank {
	tables := []struct {
		name string
		cols []blankColumn
	}{
		{"nests", v.nestColumns()}, {"belts", v.beltColumns()}, {"sites", v.siteColumns()},
	}
	help := sheet.Blank{Name: v.Say("read me"), Wrap: true, Columns: []sheet.Column{{Heading: v.Say("sheet"), Width: 10}, {Heading: v.Say("column"), Width: 20}, {Heading: v.Say("needed?"), Width: 10}, {Heading: v.Say("what to write"), Width: 80}}}
	for _, line := range howTo {
		help.Rows = append(help.Rows, []string{"", "", "", v.Say(line)})
	}
	var out []sheet.Blank
	for _, t := range tables {
		blank := sheet.Blank{Name: t.name}
		var example []string
		for _, c := range t.cols {
			blank.Columns = append(blank.Columns, c.Column)
			example = append(example, c.example)
			needed := v.Say("no")
			if c.Needed {
				needed = v.Say("yes")
			}
			meaning := c.meaning
			if len(c.Choices) > 0 {
				meaning += " " + v.Say("One of: %s.", strings.Join(c.Choices, ", "))
			}
			help.Rows = append(help.Rows, []string{t.name, c.Heading, needed, meaning})
		}
		blank.Rows = [][]string{example}
		out = append(out, blank)
	}
	return append(out, help)
}

// howTo stands at the top of the sheet that explains the others.
var howTo = []string{
	words.Mark("Fill in the sheet “nests” with one row for each nest, and “belts” with one row for each belt on which clumps were counted. “sites” is filled in once."),
	words.Mark("The row that says EXAMPLE shows how. It is never counted; you may leave it or delete it."),
	words.Mark("Underlined columns are needed. Leave out what you do not know: an empty cell is better than a guess. More checks? Add check3_on and check3."),
	words.Mark("If some eggs were gone, write taken and the number left in eggs_left. If the nest could not be found again, write lost."),
	words.Mark("Where you put steps, bearing and spot is yours and your crew's alone; it is never shown to anyone else."),
	words.Mark("Safety: wear gloves, for the eggs' sake and yours, and wash your hands. Old eggs can burst; do not carry them in a pocket or a closed cab. Watch for snakes under clumps and before you reach. Take water and shade, and turn back in great heat. Do not touch a sick, tame or dead animal: it may have rabies. Trapping or moving predators is governed by law; ask your wildlife agency or a licensed professional first."),
	words.Mark("What simulated nests show is an index of the risk to nests, not the hatch of real ones."),
}
