package fieldwork

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"tussock/internal/errs"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// What was found at a check ("found").
const (
	AllHere    = "all"
	SomeGone   = "some"
	AllLost    = "lost"
	NotFound   = "not_found"
	NotChecked = "not_checked"
)

// LostHow lists what may have ended a nest ("lost_how"), in the order it is asked.
var LostHow = []string{"animal", "hoof", "water", "hail", "fire", "burst", "people", "unknown"}

// Covers lists what a nest may sit in, as answers.
var Covers = []string{"bunchgrass", "prickly_pear", "yucca", "shrub", "forb"}

// A Column is one answer that a look may carry.
type Column struct {
	Name     string
	Choices  []string // the answers there are; nil where it is free
	Number   bool     // a number, 0 or more
	Date     bool     // like 2026-05-12
	Longest  int      // letters of free text
	Kinds    []Kind
	Families bool // Name is the beginning of a name: clumps_bunchgrass
}

// Columns lists the answers of all looks.
func Columns() []Column {
	yesNo := []string{"yes", "no"}
	cols := []Column{
		{Name: "cover", Longest: 60, Kinds: []Kind{Set}},
		{Name: "cover_plant", Longest: 60, Kinds: []Kind{Set}},
		{Name: "set_on", Date: true, Kinds: []Kind{Set}},
		{Name: "eggs_set", Number: true, Kinds: []Kind{Set}},
		{Name: "steps", Number: true, Kinds: []Kind{Set}},
		{Name: "bearing", Longest: 20, Kinds: []Kind{Set}},
		{Name: "place", Longest: 200, Kinds: []Kind{Set}},
		{Name: "moved", Number: true, Kinds: []Kind{Set}}, // paces from the planned stop to the clump
		{Name: "camera_here", Choices: yesNo, Kinds: []Kind{Set}},
		{Name: "flags_set", Number: true, Kinds: []Kind{Set}},
		{Name: "markers_set", Number: true, Kinds: []Kind{Set}},

		{Name: "look", Number: true, Kinds: []Kind{Check}},
		{Name: "looked_on", Date: true, Kinds: []Kind{Check}},
		{Name: "found", Choices: []string{AllHere, SomeGone, AllLost, NotFound, NotChecked}, Kinds: []Kind{Check}},
		{Name: "eggs_left", Number: true, Kinds: []Kind{Check}},
		{Name: "eggs_fresh_put", Number: true, Kinds: []Kind{Check}},
		{Name: "lost_how", Choices: LostHow, Kinds: []Kind{Check}},
		{Name: "trace", Longest: 200, Kinds: []Kind{Check}},
		{Name: "guess", Longest: 60, Kinds: []Kind{Check}},
		{Name: "guess_sure", Choices: []string{"low", "mid", "high"}, Kinds: []Kind{Check}},
		{Name: "photo", Longest: 200, Kinds: []Kind{Check, Set, Note}}, // ids of photos, a space between
		{Name: "second_who", Longest: 20, Kinds: []Kind{Check, Belt}},

		{Name: "belt", Longest: 20, Kinds: []Kind{Belt}},
		{Name: "belt_on", Date: true, Kinds: []Kind{Belt}},
		{Name: "pace_ft", Number: true, Kinds: []Kind{Belt, Pace}},
		{Name: "paces", Number: true, Kinds: []Kind{Belt, Pace}},
		{Name: "belt_wide_ft", Number: true, Kinds: []Kind{Belt}},
		{Name: "belt_long_ft", Number: true, Kinds: []Kind{Belt}},
		{Name: "clumps_maybe", Number: true, Kinds: []Kind{Belt}},
		{Name: "clumps_", Number: true, Kinds: []Kind{Belt}, Families: true},

		{Name: "measured_ft", Number: true, Kinds: []Kind{Pace}},

		{Name: "eggs_out", Number: true, Kinds: []Kind{Close}},
		{Name: "flags_out", Number: true, Kinds: []Kind{Close}},
		{Name: "markers_out", Number: true, Kinds: []Kind{Close}},
		{Name: "cameras_out", Number: true, Kinds: []Kind{Close}},

		{Name: "note", Longest: 500, Kinds: []Kind{Set, Check, Belt, Close, Note}},
		{Name: "hazards_read", Date: true, Kinds: []Kind{Note}},
		{Name: "keep", Longest: 36, Kinds: []Kind{Choose}},
	}
	for _, f := range survey.Features {
		cols = append(cols, Column{Name: f.Name, Choices: f.Choices, Kinds: []Kind{Check}})
	}
	return cols
}

// Items lists what goes out and must come in again; a Close look has a column for each: eggs_out.
var Items = []string{"eggs", "flags", "markers", "cameras"}

var (
	idForm     = regexp.MustCompile(`^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$`)
	familyForm = regexp.MustCompile(`^[a-z0-9_]{1,40}$`)
)

// Most looks a line can have in a season, of all kinds, are far fewer; a stop beyond this is a slip.
const maxStop = 500

// Validate tells, as errs.Invalid, what is wrong with a look that came from outside. What a person can mend is left to
// Fold and to reading the sheet; here only what no form of ours sends is refused.
func (l *Look) Validate() error {
	bad := func(what words.Phrase) error {
		return errs.Tell(errs.Invalid, words.Later("A look cannot be kept: %s.", what), nil)
	}
	switch {
	case !idForm.MatchString(string(l.ID)) || !idForm.MatchString(string(l.Line)) || !idForm.MatchString(string(l.Ranch)):
		return bad(words.Later("its number, its line or its ranch is missing"))
	case l.Undoes != "" && !idForm.MatchString(string(l.Undoes)), (l.Kind == Undo) != (l.Undoes != ""):
		return bad(words.Later("what it takes back is not clear"))
	case l.Season < 1900 || l.Season > 2200:
		return bad(words.Later("the season is not a year"))
	case l.Stop < 0 || l.Stop > maxStop || l.Seq < 0:
		return bad(words.Later("there is no such stop"))
	case !slices.Contains([]Kind{Set, Check, Belt, Pace, Close, Note, Undo, Choose}, l.Kind):
		return bad(words.Later("it is of no kind we know"))
	case l.At.IsZero() || l.At.Year() < 2000 || l.At.Year() > 2200:
		return bad(words.Later("it does not say when it was"))
	case !plain(l.Who, 20) || !plain(l.Device, 64):
		return bad(words.Later("it does not say who looked"))
	}
	if name, ok := l.badAnswer(); !ok {
		return bad(words.Later("the answer “%s” is none that we know", name))
	}
	return nil
}

// badAnswer returns the name of an answer that does not fit the look, and true where all do.
func (l *Look) badAnswer() (string, bool) {
	cols := Columns()
	for name, v := range l.Answers {
		i := slices.IndexFunc(cols, func(c Column) bool {
			if c.Families {
				return strings.HasPrefix(name, c.Name) && familyForm.MatchString(name)
			}
			return c.Name == name
		})
		if i < 0 || !slices.Contains(cols[i].Kinds, l.Kind) || !cols[i].takes(v) {
			if !plain(name, 40) {
				name = "?"
			}
			return name, false
		}
	}
	return "", true
}

func (c *Column) takes(v string) bool {
	switch {
	case c.Choices != nil:
		return slices.Contains(c.Choices, v)
	case c.Number:
		x, err := strconv.ParseFloat(v, 64)
		return err == nil && x >= 0 && x <= 1e6
	case c.Date:
		t, err := time.Parse(time.DateOnly, v)
		return err == nil && t.Year() >= 2000 && t.Year() <= 2200
	}
	return plain(v, c.Longest)
}

// plain tells whether s is text of at most n letters without control characters.
func plain(s string, n int) bool {
	return utf8.ValidString(s) && utf8.RuneCountInString(s) <= n && !strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == 0x7f })
}
