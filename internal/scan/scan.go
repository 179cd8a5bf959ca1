// Package scan reads photos and scans of filled field sheets: it finds the sheet by its corner marks, straightens it, reads its
// QR code, and tells from the layout in package paper which boxes are ticked.
//
// It says how sure it is. What is not sure, and whatever is written by hand, is for a person to look at; nothing that is
// read here counts before somebody has confirmed it.
package scan

import (
	"bytes"
	"image"
	"image/jpeg"
	"slices"

	"tussock/internal/errs"
	"tussock/internal/paper"
	"tussock/internal/words"
)

// A Reading is what a photo of a sheet says.
type Reading struct {
	Line   string // the line's code; "" on a sheet for a line that nobody planned
	Sheet  paper.Sheet
	Fields []Field
	Page   *image.Gray // the straightened sheet in even light, PerMM pixels a millimeter
}

// Read finds the sheet in a photo and reads it. errs.Invalid, with a sentence that says what to do, for a photo in which
// no sheet of ours can be read.
func Read(photo *image.Gray) (*Reading, error) {
	line, s, h, err := find(photo)
	if err != nil {
		return nil, err
	}
	w, tall := s.Size.MM()
	p := inkOf(h.straighten(photo, 0, 0, w, tall, PerMM))
	r := &Reading{Line: line, Sheet: s, Page: p.picture()}
	for _, f := range s.Fields() {
		r.Fields = append(r.Fields, Field{Field: f})
	}
	p.read(r.Fields)
	if s.Page == paper.Nests {
		doubtGaps(r.Fields)
	}
	return r, nil
}

// Blank tells whether nothing is ticked or written on the page.
func (r *Reading) Blank() bool {
	return !slices.ContainsFunc(r.Fields, func(f Field) bool { return !f.blank() })
}

// read fills in what the fields say.
func (p *page) read(fields []Field) {
	where := p.fit(fields)
	creased := p.traces(fields, where)
	traces := creased
	if p.smoothCreases(creased) {
		traces = p.traces(fields, where)
	}
	habits := habitsOf(fields, traces)
	for i := range fields {
		f := &fields[i]
		f.Written = f.Place != paper.Rect{} && p.written(f.Place, where)
		if f.Boxes == nil {
			f.Sure = !f.Written
			continue
		}
		h := habits[f.kind()]
		for j, t := range traces[i] {
			m := h.mark(t, t.line != nil && p.through(t.line))
			// A fold of the paper is a line. What was more than that and is gone with it may have been a tick.
			more := creased[i][j].line == nil && creased[i][j].extent > dot
			if m == Empty && (more || p.doubtful(f, i, j, where)) {
				m = Unsure
			}
			f.Marks = append(f.Marks, m)
		}
		f.decide(traces[i])
	}
}

// doubtful tells whether a box that looks empty may not be: its outline is hardly seen, or something like a stroke is, fainter
// than other strokes.
func (p *page) doubtful(f *Field, i, j int, where *fit) bool {
	patch, shift := where.box(i, j)
	if patch.outline < unseen {
		return true
	}
	t := p.trace(f.Boxes[j].Grow(-inset), f.number(j), shift, hints(patch.outline))
	return t.extent > dot && t.thin > .6 && (t.line == nil || !p.through(t.line))
}

// unseen is how little of the outlines of boxes is seen where they cannot be read.
const unseen = 12

// traces measures every box.
func (p *page) traces(fields []Field, where *fit) [][]trace {
	all := make([][]trace, len(fields))
	for i := range fields {
		for j, b := range fields[i].Boxes {
			patch, shift := where.box(i, j)
			all[i] = append(all[i], p.trace(b.Grow(-inset), fields[i].number(j), shift, strokes(patch.outline)))
		}
	}
	return all
}

// smoothCreases takes the folds of the paper that go through boxes out of the page, and tells whether there were any.
func (p *page) smoothCreases(all [][]trace) bool {
	any := false
	for _, traces := range all {
		for _, t := range traces {
			if t.line == nil {
				continue
			}
			if path, ok := p.crease(t.line); ok {
				p.smooth(path, t.strong)
				any = true
			}
		}
	}
	return any
}

// written tells whether anything is written in a place, however faint: it is better to look at nothing than to miss a number.
func (p *page) written(place paper.Rect, where *fit) bool {
	near := where.near(middle(place))
	t := p.trace(place, paper.Rect{}, where.around(middle(place)), hints(near[0].outline))
	return t.area > .6 && t.extent > 1.2
}

// JPEG returns the straightened sheet as a gray JPEG of at most most bytes. It is drawn new: nothing that the photo carried
// besides the sheet, such as where it was taken, is in it.
func (r *Reading) JPEG(most int) ([]byte, error) {
	for quality := 70; quality > 0; quality -= 15 {
		var b bytes.Buffer
		if err := jpeg.Encode(&b, r.Page, &jpeg.Options{Quality: quality}); err != nil {
			return nil, err
		}
		if b.Len() <= most {
			return b.Bytes(), nil
		}
	}
	return nil, errs.New(errs.TooLarge, words.Mark("This picture is too big. Send a smaller one."))
}

var (
	errNoSheet = errs.New(errs.Invalid, words.Mark("We see no field sheet of ours in this photo. All four black squares in the corners must be in it: lay the sheet flat, take the photo from above, and send it again."))
	errNoCode  = errs.New(errs.Invalid, words.Mark("We see the sheet, but cannot read the square code in its upper right corner. Take the photo again in better light, closer and without shaking. The page with the hazards has no code and need not be sent."))
	errOld     = errs.New(errs.Invalid, words.Mark("This sheet was printed in another layout than we read today. Key it by hand."))
)
