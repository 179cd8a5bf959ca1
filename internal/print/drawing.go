package print

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io/fs"
	"path"
	"strconv"
	"strings"
	"unicode"

	"codeberg.org/go-pdf/fpdf"
)

// viewBox is the side of every drawing in its own units.
const viewBox = 60

// A drawing is a picture made of paths, in the order in which they lie on one another.
type drawing []stroke

// A stroke is one path of a drawing with its look.
type stroke struct {
	steps []step
	width float64 // of its line in the drawing's units; 0 for none
	fill  string  // "none", "#fff" or "#000"
	dash  []float64
}

// A step is one command of SVG's path data (SVG 1.1, 8.3), of which our drawings use M, L, C and Z in capitals.
type step struct {
	command byte
	at      []float64
}

// readDrawings reads every drawing below static/remains, by its name without the extension.
func readDrawings(files fs.FS) (map[string]drawing, error) {
	names, err := fs.Glob(files, "static/remains/*.svg")
	if err != nil {
		return nil, err
	}
	all := map[string]drawing{}
	for _, name := range names {
		data, err := fs.ReadFile(files, name)
		if err != nil {
			return nil, err
		}
		d, err := parseDrawing(data)
		if err != nil {
			return nil, fmt.Errorf("read drawing %s: %w", name, err)
		}
		all[strings.TrimSuffix(path.Base(name), ".svg")] = d
	}
	return all, nil
}

func parseDrawing(data []byte) (drawing, error) {
	var svg struct {
		ViewBox string `xml:"viewBox,attr"`
		Group   struct {
			Width string    `xml:"stroke-width,attr"`
			Paths []svgPath `xml:"path"`
		} `xml:"g"`
	}
	if err := xml.NewDecoder(bytes.NewReader(data)).Decode(&svg); err != nil {
		return nil, err
	}
	if svg.ViewBox != fmt.Sprintf("0 0 %d %[1]d", viewBox) {
		return nil, fmt.Errorf("view box %q", svg.ViewBox)
	}
	var d drawing
	for _, p := range svg.Group.Paths {
		s, err := p.stroke(svg.Group.Width)
		if err != nil {
			return nil, err
		}
		d = append(d, s)
	}
	return d, nil
}

type svgPath struct {
	D      string `xml:"d,attr"`
	Fill   string `xml:"fill,attr"`
	Stroke string `xml:"stroke,attr"`
	Width  string `xml:"stroke-width,attr"`
	Dash   string `xml:"stroke-dasharray,attr"`
}

func (p *svgPath) stroke(width string) (stroke, error) {
	s := stroke{fill: "none"}
	if p.Fill != "" {
		s.fill = p.Fill
	}
	if p.Width != "" {
		width = p.Width
	}
	var err error
	if p.Stroke != "none" {
		if s.width, err = strconv.ParseFloat(width, 64); err != nil {
			return s, err
		}
	}
	if s.dash, err = numbers(p.Dash); err != nil {
		return s, err
	}
	s.steps, err = steps(p.D)
	return s, err
}

// steps reads path data.
func steps(d string) ([]step, error) {
	var all []step
	for d != "" {
		command := d[0]
		want, ok := map[byte]int{'M': 2, 'L': 2, 'C': 6, 'Z': 0}[command]
		if !ok {
			return nil, fmt.Errorf("path command %q", command)
		}
		end := 1 + strings.IndexFunc(d[1:], unicode.IsLetter)
		if end == 0 {
			end = len(d)
		}
		at, err := numbers(d[1:end])
		if err != nil || len(at) != want {
			return nil, fmt.Errorf("path command %q with %q", command, d[1:end])
		}
		all = append(all, step{command, at})
		d = d[end:]
	}
	return all, nil
}

func numbers(s string) ([]float64, error) {
	var list []float64
	for _, f := range strings.Fields(s) {
		x, err := strconv.ParseFloat(f, 64)
		if err != nil {
			return nil, err
		}
		list = append(list, x)
	}
	return list, nil
}

// draw puts d on the page with its upper left corner at x, y and the given side, in millimeters. It leaves thin black lines
// and white fill behind.
func (d drawing) draw(pdf *fpdf.Fpdf, x, y, side float64) {
	k := side / viewBox
	pdf.SetLineCapStyle("round")
	pdf.SetLineJoinStyle("round")
	for _, s := range d {
		style := s.look(pdf, k)
		for _, st := range s.steps {
			st.lay(pdf, x, y, k)
		}
		pdf.DrawPath(style)
	}
	pdf.SetDashPattern(nil, 0)
	pdf.SetFillColor(255, 255, 255)
	pdf.SetLineWidth(hair)
}

// look sets how the stroke is painted and returns fpdf's letters for it.
func (s *stroke) look(pdf *fpdf.Fpdf, k float64) string {
	scaled := make([]float64, len(s.dash))
	for i, v := range s.dash {
		scaled[i] = v * k
	}
	pdf.SetDashPattern(scaled, 0)
	if s.fill == "#000" {
		pdf.SetFillColor(0, 0, 0)
	} else {
		pdf.SetFillColor(255, 255, 255)
	}
	if s.width == 0 {
		return "F"
	}
	pdf.SetLineWidth(s.width * k)
	if s.fill == "none" {
		return "D"
	}
	return "DF"
}

// lay adds the step to the path being laid down.
func (st *step) lay(pdf *fpdf.Fpdf, x, y, k float64) {
	px := func(i int) float64 { return x + st.at[i]*k }
	py := func(i int) float64 { return y + st.at[i]*k }
	switch st.command {
	case 'M':
		pdf.MoveTo(px(0), py(1))
	case 'L':
		pdf.LineTo(px(0), py(1))
	case 'C':
		pdf.CurveBezierCubicTo(px(0), py(1), px(2), py(3), px(4), py(5))
	case 'Z':
		pdf.ClosePath()
	}
}
