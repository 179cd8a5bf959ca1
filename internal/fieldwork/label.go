package fieldwork

import "tussock/internal/words"

// Label returns what a column is called in front of people, in English, the key of its translation; "" for a column that
// only machines read. Phone, paper and the page for keying say the same words.
func Label(column string) string { return labels()[column] }

// ChoiceLabel likewise returns what one answer of a column is called. Free text is returned as it is.
func ChoiceLabel(column, choice string) string {
	if text, ok := choiceLabels()[column][choice]; ok {
		return text
	}
	return choice
}

// Drawing returns the name of the line drawing of an answer, below static/remains without its extension; "" where there
// is none.
func Drawing(column, choice string) string {
	switch column {
	case "found":
		return map[string]string{AllHere: "nest-all_here", SomeGone: "nest-some_gone", AllLost: "nest-all_lost", NotFound: "nest-not_found"}[choice]
	case "lost_how":
		return map[string]string{"animal": "end-taken", "hoof": "end-trampled", "water": "end-flooded", "burst": "end-spoiled"}[choice]
	case "cover":
		if choice == "" {
			return ""
		}
	}
	if _, ok := choiceLabels()[column][choice]; !ok {
		return ""
	}
	return column + "-" + choice
}

func labels() map[string]string {
	return map[string]string{
		"cover": words.Mark("Nest cover"), "set_on": words.Mark("Put out on"), "eggs_set": words.Mark("Eggs put"),
		"looked_on": words.Mark("Looked on"), "found": words.Mark("What you found"), "eggs_left": words.Mark("Eggs left"),
		"eggs_fresh_put": words.Mark("Fresh eggs put"), "lost_how": words.Mark("Lost how"),
		"bits": words.Mark("Shell pieces"), "bits_far_ft": words.Mark("How far"), "heaps": words.Mark("Heaps"),
		"opened_at": words.Mark("Opened at"), "bite_way": words.Mark("Bite runs"), "holes": words.Mark("Holes"),
		"inside": words.Mark("Yolk left"), "ground": words.Mark("Ground"), "bowl": words.Mark("Nest bowl"),
		"trace": words.Mark("Tracks, scat, hair"), "guess": words.Mark("Your guess"), "guess_sure": words.Mark("How sure"),
		"place": words.Mark("Landmark"), "note": words.Mark("Note"),
	}
}

func choiceLabels() map[string]map[string]string {
	none := words.Mark("looked, none")
	return map[string]map[string]string{
		"cover": {"bunchgrass": words.Mark("bunchgrass"), "prickly_pear": words.Mark("prickly pear"), "yucca": words.Mark("yucca"),
			"shrub": words.Mark("shrub"), "forb": words.Mark("weeds")},
		"found": {AllHere: words.Mark("all here"), SomeGone: words.Mark("some gone"), AllLost: words.Mark("all lost"),
			NotFound: words.Mark("spot not found"), NotChecked: words.Mark("not checked")},
		"lost_how": {"animal": words.Mark("animal"), "hoof": words.Mark("hoof"), "water": words.Mark("water"), "hail": words.Mark("hail"),
			"fire": words.Mark("fire"), "burst": words.Mark("burst"), "people": words.Mark("people or dog"), "unknown": words.Mark("can’t tell")},
		"guess_sure": {"low": words.Mark("a hunch"), "mid": words.Mark("fairly sure"), "high": words.Mark("saw it")},

		"bits": {"none": none, "crumbs": words.Mark("crumbs"), "bits": words.Mark("bits"), "halves": words.Mark("halves"),
			"near_whole": words.Mark("near whole")},
		"bits_far_ft": {"none": none, "in_bowl": words.Mark("in the bowl"), "under_3": words.Mark("under 3 ft"), "3_to_30": words.Mark("3 to 30 ft"),
			"over_30": words.Mark("over 30 ft")},
		"heaps":     {"none": none, "one": words.Mark("one heap"), "several": words.Mark("several heaps"), "scattered": words.Mark("scattered")},
		"opened_at": {"end": words.Mark("at one end"), "side": words.Mark("at the side"), "both": words.Mark("end and side"), "crushed_flat": words.Mark("crushed flat")},
		"bite_way":  {"long_way": words.Mark("the long way"), "across": words.Mark("across")},
		"holes":     {"none": none, "pecked": words.Mark("pecked"), "paired": words.Mark("a pair"), "pin": words.Mark("pinholes")},
		"inside": {"licked": words.Mark("licked clean"), "dry": words.Mark("dried"), "smear": words.Mark("smear"), "pooled": words.Mark("pooled"),
			"full": words.Mark("full, crushed")},
		"ground": {"calm": words.Mark("calm"), "cone_pits": words.Mark("cone pits"), "rooted": words.Mark("rooted"), "dug": words.Mark("dug out"),
			"buried_egg": words.Mark("buried egg")},
		"bowl": {"neat": words.Mark("neat"), "pulled": words.Mark("pulled out"), "thrown": words.Mark("thrown about"), "gone": words.Mark("bowl gone")},
	}
}
