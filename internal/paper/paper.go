// Package paper says where everything stands on a printed field sheet, in millimeters from the upper left corner of the
// page held on its long side.
//
// There is one description: package print draws from it, and package scan reads photos by it. Whoever moves a box here moves
// it for both, and raises Version: sheets printed before are then told apart by their code and keyed by hand, and not read by a
// layout that is not theirs. New pictures for internal/scan/testdata have to be drawn.
package paper

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// Version is the number of this layout, printed in each sheet's code.
const Version = 1

// Measures of all pages, in millimeters.
const (
	Tick   = 6.0  // side of a box to tick
	Left   = 13.0 // of what is printed, clear of the corner marks; as much on the right
	Top    = 26.0 // of what is filled in, below the heading
	Border = 0.9  // from a printed line to the place inside it where somebody writes
	edge   = 6.0  // from the paper's edge to the corner marks: printers leave about 4 mm white
	corner = 5.0  // side of a corner mark
	hole   = 2.0  // side of the white square in the lower right mark
	code   = 23.0 // side of the QR code with its quiet zone
)

// Rows is the number of stops on one page; a longer line continues on more pages.
const Rows = 12

// A Size is a size of paper.
type Size string

// The sizes.
const (
	Letter Size = "letter" // 8.5 by 11 inches
	A4     Size = "a4"     // 210 by 297 mm, ISO 216
)

// Sizes lists the sizes in the order in which they are offered.
var Sizes = []Size{Letter, A4}

// MM returns the width and the height of the page on its long side.
func (s Size) MM() (w, h float64) {
	if s == A4 {
		return 297, 210
	}
	return 11 * 25.4, 8.5 * 25.4
}

// Marks returns the black squares in the corners: upper left, upper right, lower left, and lower right, which alone has
// a Hole, so that a photo shows which side is up.
func (s Size) Marks() [4]Rect {
	w, h := s.MM()
	x, y := w-edge-corner, h-edge-corner
	return [4]Rect{{edge, edge, corner, corner}, {x, edge, corner, corner}, {edge, y, corner, corner}, {x, y, corner, corner}}
}

// Hole returns the white square inside the lower right mark.
func (s Size) Hole() Rect { return s.Marks()[3].Grow((hole - corner) / 2) }

// Code returns the square of the QR code, its quiet zone of four modules included. It reaches up to the corner mark.
func (s Size) Code() Rect {
	w, _ := s.MM()
	return Rect{w - edge - corner - code - .5, Top - code, code, code}
}

// A Rect is a rectangle in millimeters.
type Rect struct{ X, Y, W, H float64 }

// Grow returns the rectangle with mm added on every side.
func (r Rect) Grow(mm float64) Rect { return Rect{r.X - mm, r.Y - mm, r.W + 2*mm, r.H + 2*mm} }

// Union returns the smallest rectangle that holds both; an empty one adds nothing.
func (r Rect) Union(o Rect) Rect {
	switch {
	case r == Rect{}:
		return o
	case o == Rect{}:
		return r
	}
	x, y := min(r.X, o.X), min(r.Y, o.Y)
	return Rect{x, y, max(r.X+r.W, o.X+o.W) - x, max(r.Y+r.H, o.Y+o.H) - y}
}

// A Page is one of the pages that are filled in.
type Page string

// The pages.
const (
	Nests   Page = "nests"   // a row for each stop: set out, week 2, week 4
	Remains Page = "remains" // a row for each stop: what was found beside a nest that lost eggs
	Belt    Page = "belt"    // pace, strip, clumps counted, what was carried out
)

// A Sheet is one printed page: which one, on what paper, and of which stops.
type Sheet struct {
	Page        Page
	Size        Size
	First, Last int
}

var tagForm = regexp.MustCompile(`^([0-9])([NRB])([LA])([0-9]{1,3})-([0-9]{1,3})$`)

var pageLetters = map[Page]string{Nests: "N", Remains: "R", Belt: "B"}
var sizeLetters = map[Size]string{Letter: "L", A4: "A"}

// Tag returns what the code says of the page besides its line, in letters that a QR code packs tightly: 1NL1-12 is page
// nests of layout 1 on Letter, with the stops 1 to 12.
func (s Sheet) Tag() string {
	return fmt.Sprintf("%d%s%s%d-%d", Version, pageLetters[s.Page], sizeLetters[s.Size], s.First, s.Last)
}

// Errors of ParseCode.
var (
	ErrNoTag   = errors.New("paper: a code without a layout")
	ErrVersion = errors.New("paper: a code of another layout")
)

// CodeText returns what the QR code holds: the address where the line's sheet is keyed, ending in the line's code, a dot and
// the tag, all in capitals. prefix may be empty; line is empty on a sheet for a line that nobody planned.
func (s Sheet) CodeText(prefix, line string) string {
	return strings.ToUpper(prefix + line + "." + s.Tag())
}

// ParseCode reads what a QR code holds: the line's code, "" on a sheet for a line that nobody planned, and which page it
// is. ErrNoTag for a code that says no page, ErrVersion for one of another layout.
func ParseCode(text string) (line string, s Sheet, err error) {
	text = text[strings.LastIndex(text, "/")+1:]
	line, tag, _ := strings.Cut(text, ".")
	s, err = ParseTag(tag)
	return line, s, err
}

// ParseTag returns the sheet of a tag, with the errors of ParseCode.
func ParseTag(tag string) (s Sheet, err error) {
	m := tagForm.FindStringSubmatch(tag)
	switch {
	case m == nil:
		return s, ErrNoTag
	case m[1] != strconv.Itoa(Version):
		return s, ErrVersion
	}
	for page, letter := range pageLetters {
		if letter == m[2] {
			s.Page = page
		}
	}
	for size, letter := range sizeLetters {
		if letter == m[3] {
			s.Size = size
		}
	}
	s.First, _ = strconv.Atoi(m[4])
	s.Last, _ = strconv.Atoi(m[5])
	if s.First < 1 || s.Last < s.First || s.Last >= s.First+Rows {
		return s, ErrNoTag
	}
	return s, nil
}
