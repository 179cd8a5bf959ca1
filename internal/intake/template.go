package intake

import "tussock/internal/sheet"

func template() []sheet.Blank {
	return []sheet.Blank{{Name: "nests", Columns: []sheet.Column{{Heading: "ranch", Width: 10}}}}
}
