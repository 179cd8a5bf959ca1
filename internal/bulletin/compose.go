package bulletin

import (
	"tussock/internal/errs"
	"tussock/internal/survey"
)

// Compose makes the bulletin of a season.
func Compose(in Input) (Bulletin, error) {
	return Bulletin{}, errs.New(errs.Unavailable, "Bulletins cannot be composed yet.")
}

// FromSites makes a roster from the sites table of somebody's own files.
func FromSites(d *survey.Data) ([]Member, []Area) { return nil, nil }

// Beside tells how a ranch's own figure stands to a published one.
func Beside(own, estimate, low, high float64) string { return "" }
