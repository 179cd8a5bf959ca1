// Package print makes the paper of the field: for each line two leaves printed on both sides, the nests with the card of
// hazards behind them, and the remains with the tally of clumps behind those.
//
// Everything stands in English over Spanish, in black on white, for Letter and A4 on their long side. A form is made to be
// filled in with a pencil in gloves and to be photographed: boxes to tick measure 6 mm, each page carries its line's code
// as letters and as a QR code (ISO/IEC 18004), a mark in each corner by which a photo can be squared, and a ruler that
// serves as the scale beside remains. The pictures are those of the phone form, in its order.
//
// What is filled in stands where package paper says, so that package scan can read a photo of it. The fonts are the viewer's own Helvetica and
// Courier in the code page 1252, which has every letter of both languages.
package print

import (
	"errors"
	"fmt"
	"io"
	"io/fs"

	"codeberg.org/go-pdf/fpdf"

	"tussock/internal/paper"
	"tussock/internal/season"
	"tussock/internal/words"
)

// A Sheet is what is to be printed for one line.
type Sheet struct {
	Ranch string
	Line  season.Line // without a Code and a Name the sheet is blank, for a line that nobody planned
	Link  string      // what stands before the line's code in the QR code: where sheets are keyed, or nothing
}

// A Printer makes sheets. It is safe for use by many at once.
type Printer struct {
	drawings map[string]drawing
	spanish  words.Speaker
}

// New returns a printer with the drawings below static/remains in files.
func New(files fs.FS, book *words.Book) (*Printer, error) {
	all, err := readDrawings(files)
	if err != nil {
		return nil, err
	}
	return &Printer{drawings: all, spanish: book.In(words.Spanish)}, nil
}

// Sheets writes one PDF with the leaves of every sheet, to be printed on both sides and turned over the short side.
func (p *Printer) Sheets(w io.Writer, size paper.Size, sheets ...Sheet) error {
	if len(sheets) == 0 {
		return errors.New("print: no sheet")
	}
	pdf := fpdf.New("L", "mm", map[paper.Size]string{paper.Letter: "Letter", paper.A4: "A4"}[size], "")
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetTitle("Tussock: field sheets", true)
	pdf.SetLang("en")
	for _, sheet := range sheets {
		for first := 1; first <= max(1, sheet.stops()); first += paper.Rows {
			p.leaves(pdf, size, sheet, first)
		}
	}
	if err := pdf.Output(w); err != nil {
		return fmt.Errorf("print sheets: %w", err)
	}
	return nil
}

// stops returns how many stops the line has; a blank sheet has a leaf of them.
func (s *Sheet) stops() int {
	if s.Line.Stops == 0 {
		return paper.Rows
	}
	return s.Line.Stops
}

// leaves prints the four pages of the stops from first on.
func (p *Printer) leaves(pdf *fpdf.Fpdf, size paper.Size, s Sheet, first int) {
	last := min(s.stops(), first+paper.Rows-1)
	pg := &page{Fpdf: pdf, drawings: p.drawings, spanish: p.spanish, translate: pdf.UnicodeTranslatorFromDescriptor(""), sheet: s, size: size, first: first, last: last}
	pg.nests()
	pg.hazards()
	pg.remains()
	pg.belt()
}
