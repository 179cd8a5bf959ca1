package fieldwork

import "tussock/internal/access"

// A Draft is a sheet that somebody has begun to key. It counts nowhere until it is saved.
type Draft struct {
	Boxes  Keyed
	Photos []SheetPhoto
}

// Empty tells whether nothing was begun.
func (d *Draft) Empty() bool { return len(d.Boxes) == 0 && len(d.Photos) == 0 }

// A SheetPhoto is a photo of a page of the sheet, from which boxes were filled in.
type SheetPhoto struct {
	Photo  access.ID `json:"photo"`
	Page   string    `json:"page"`   // which one, as its code names it
	Doubts []string  `json:"doubts"` // boxes that a person has to look at
}
