package sheet

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
	"time"

	"tussock/internal/errs"
	"tussock/internal/words"
)

// A pack is a ZIP archive whose parts make one workbook, by their names in small letters: programs differ in them.
type pack map[string]*zip.File

// What a workbook may unpack to: all its parts together, and a part that is decoded at once.
const (
	maxUnpacked = 400 << 20 // passed through, not held: 100 000 rows of 29 columns of an .ods are 290 MB
	maxInMemory = 8 << 20
)

func newPack(z *zip.Reader) pack {
	p := pack{}
	for _, f := range z.File {
		p[partName(f.Name)] = f
	}
	return p
}

func partName(name string) string {
	return strings.ToLower(strings.TrimPrefix(strings.ReplaceAll(name, `\`, "/"), "/"))
}

func (p pack) part(name string) *zip.File { return p[partName(name)] }

// decode reads a small part; one that is not there leaves into as it is.
func (p pack) decode(name string, into any) error {
	f := p.part(name)
	if f == nil {
		return nil
	}
	r, err := f.Open()
	if err != nil {
		return err
	}
	defer r.Close() // only read
	if err := xml.NewDecoder(io.LimitReader(r, maxInMemory)).Decode(into); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

// scan hands a part's tags to visit one by one, and reads it to its end, so that a part cut short is told.
func (p pack) scan(name string, visit func(*markup) error) error {
	f := p.part(name)
	if f == nil {
		return nil
	}
	r, err := f.Open()
	if err != nil {
		return err
	}
	defer r.Close() // only read
	m := newMarkup(io.LimitReader(r, maxUnpacked))
	for {
		switch err := m.next(); {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return fmt.Errorf("%s: %w", name, err)
		}
		if err := visit(m); err != nil {
			return err
		}
	}
}

// related returns where the parts lie that a part refers to, by the last word of their kind, and by ID.
func (p pack) related(part string) (byKind map[string][]string, byID map[string]string, err error) {
	var rels struct {
		List []struct {
			ID     string `xml:"Id,attr"`
			Type   string `xml:"Type,attr"`
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	dir, base := path.Split(part)
	if err := p.decode(dir+"_rels/"+base+".rels", &rels); err != nil {
		return nil, nil, err
	}
	byKind, byID = map[string][]string{}, map[string]string{}
	for _, r := range rels.List {
		target, rooted := strings.CutPrefix(r.Target, "/")
		if !rooted {
			target = path.Join(dir, r.Target)
		}
		kind := r.Type[strings.LastIndexByte(r.Type, '/')+1:]
		byKind[kind] = append(byKind[kind], target)
		byID[r.ID] = target
	}
	return byKind, byID, nil
}

// An xlsx reads one workbook (ECMA-376-1:2016, part 18; ISO/IEC 29500; cited from memory).
type xlsx struct {
	pack
	*room
	styles   []xlsxStyle
	strings  stringTable
	date1904 bool
}

func openXLSX(name string, z *zip.Reader, say words.Speaker) (*Book, error) {
	x := &xlsx{pack: newPack(z), room: newRoom(name, say)}
	b := &Book{File: name}
	err := x.read(b)
	return b, err
}

func (x *xlsx) read(b *Book) error {
	root, _, err := x.related("")
	if err != nil {
		return err
	}
	main := "xl/workbook.xml"
	if found := root["officeDocument"]; len(found) > 0 {
		main = found[0]
	}
	if x.part(main) == nil {
		return errors.New("xlsx: no workbook part")
	}
	var book struct {
		Props struct {
			Date1904 string `xml:"date1904,attr"`
		} `xml:"workbookPr"`
		Sheets []struct {
			Name  string `xml:"name,attr"`
			ID    string `xml:"id,attr"`
			State string `xml:"state,attr"`
		} `xml:"sheets>sheet"`
	}
	kinds, parts, err := x.related(main)
	if err := errors.Join(err, x.decode(main, &book)); err != nil {
		return err
	}
	x.date1904 = book.Props.Date1904 == "1" || book.Props.Date1904 == "true"
	for _, part := range kinds["sharedStrings"] {
		if err := x.readStrings(part); err != nil {
			return err
		}
	}
	if err := x.readStyles(first(kinds["styles"]), first(kinds["theme"])); err != nil {
		return err
	}
	for _, s := range book.Sheets {
		part := parts[s.ID]
		if x.part(part) == nil || strings.Contains(part, "chartsheets/") || strings.Contains(part, "dialogsheets/") {
			continue
		}
		t := &Table{File: x.name, Name: s.Name, Hidden: s.State == "hidden" || s.State == "veryHidden", Date1904: x.date1904}
		b.Tables = append(b.Tables, t)
		if err := x.readSheet(t, part); err != nil {
			return err
		}
	}
	return nil
}

func first(list []string) string {
	if len(list) == 0 {
		return ""
	}
	return list[0]
}

// A stringTable holds the texts that cells refer to by number, one behind the other.
type stringTable struct {
	text   []byte
	ends   []uint32
	struck map[int]bool // crossed out as a whole
}

func (s *stringTable) at(i int) ([]byte, bool) {
	if i < 0 || i >= len(s.ends) {
		return nil, false
	}
	from := uint32(0)
	if i > 0 {
		from = s.ends[i-1]
	}
	return s.text[from:s.ends[i]], s.struck[i]
}

func (x *xlsx) readStrings(part string) error {
	s := &x.strings
	s.struck = map[int]bool{}
	var rich richText
	err := x.scan(part, func(m *markup) error {
		if string(m.name) == "si" {
			if m.closes || m.empty {
				if rich.struck() {
					s.struck[len(s.ends)] = true
				}
				s.text = append(s.text, rich.text...)
				s.ends = append(s.ends, uint32(len(s.text)))
				if len(s.text)+4*len(s.ends) > maxHeld {
					return unpacksTooFar(x.name, x.say)
				}
			}
			rich.reset()
			return nil
		}
		return rich.visit(m)
	})
	return err
}

// A richText joins the runs of a text whose parts look different.
type richText struct {
	text, scratch []byte
	strike        bool // of the run being read
	struckRuns    int
	runs          int
	phonetic      bool
}

func (r *richText) reset() { *r = richText{text: r.text[:0], scratch: r.scratch} }

// struck tells whether every run is crossed out.
func (r *richText) struck() bool { return r.runs > 0 && r.struckRuns == r.runs }

func (r *richText) visit(m *markup) error {
	switch string(m.name) {
	case "rPh": // how a text is spoken, in East Asian scripts
		r.phonetic = !m.closes && !m.empty
	case "r":
		r.strike = false
	case "strike":
		if v := m.attr("val"); !m.closes && string(v) != "0" && string(v) != "false" {
			r.strike = true
		}
	case "t":
		if !m.closes || r.phonetic || m.empty {
			return nil
		}
		r.scratch = unescape(plain(r.scratch[:0], m.text))
		r.text = append(r.text, r.scratch...)
		if len(bytes.TrimSpace(r.scratch)) > 0 {
			r.runs++
			if r.strike {
				r.struckRuns++
			}
		}
	}
	return nil
}

// unescape undoes _x000D_, by which workbooks write characters that XML may not hold.
func unescape(s []byte) []byte {
	i := bytes.Index(s, []byte("_x"))
	if i < 0 {
		return s
	}
	out := append([]byte(nil), s[:i]...)
	for i < len(s) {
		if i+7 <= len(s) && s[i] == '_' && s[i+1] == 'x' && s[i+6] == '_' {
			if c, ok := entity("#x" + string(s[i+2:i+6])); ok {
				out = append(out, string(c)...)
				i += 7
				continue
			}
		}
		out = append(out, s[i])
		i++
	}
	return out
}

// An xlsxStyle is how the cells of one style look.
type xlsxStyle struct {
	format numberFormat
	look   Look
}

func (x *xlsx) readStyles(part, theme string) error {
	var s struct {
		Formats []struct {
			ID   int    `xml:"numFmtId,attr"`
			Code string `xml:"formatCode,attr"`
		} `xml:"numFmts>numFmt"`
		Fonts []struct {
			Strike *struct {
				Val string `xml:"val,attr"`
			} `xml:"strike"`
		} `xml:"fonts>font"`
		Fills []struct {
			Pattern struct {
				Type  string    `xml:"patternType,attr"`
				Color xlsxColor `xml:"fgColor"`
				Back  xlsxColor `xml:"bgColor"`
			} `xml:"patternFill"`
		} `xml:"fills>fill"`
		Palette []struct {
			RGB string `xml:"rgb,attr"`
		} `xml:"colors>indexedColors>rgbColor"`
		Xfs []struct {
			Format int `xml:"numFmtId,attr"`
			Font   int `xml:"fontId,attr"`
			Fill   int `xml:"fillId,attr"`
		} `xml:"cellXfs>xf"`
	}
	if err := x.decode(part, &s); err != nil {
		return err
	}
	colors := xlsxColors{palette: indexed[:], theme: x.readTheme(theme)}
	if len(s.Palette) > 8 {
		colors.palette = nil
		for _, c := range s.Palette[8:] {
			colors.palette = append(colors.palette, hexColor(c.RGB))
		}
	}
	codes := map[int]string{}
	for _, f := range s.Formats {
		codes[f.ID] = f.Code
	}
	formats := map[int]numberFormat{}
	for _, xf := range s.Xfs {
		f, known := formats[xf.Format]
		if !known {
			code, own := codes[xf.Format]
			if !own {
				code = builtinFormats[xf.Format]
			}
			f = parseFormat(code)
			formats[xf.Format] = f
		}
		style := xlsxStyle{format: f}
		if xf.Font >= 0 && xf.Font < len(s.Fonts) {
			k := s.Fonts[xf.Font].Strike
			style.look.Struck = k != nil && k.Val != "0" && k.Val != "false"
		}
		if xf.Fill >= 0 && xf.Fill < len(s.Fills) {
			if p := s.Fills[xf.Fill].Pattern; p.Type == "solid" {
				style.look.Fill = colors.name(p.Color)
			} else if p.Type != "" && p.Type != "none" && xf.Fill > 1 { // fill 1 is there in every workbook
				style.look.Fill = colors.name(p.Back)
			}
		}
		x.styles = append(x.styles, style)
	}
	return nil
}

// An xlsxColor is a color element.
type xlsxColor struct {
	RGB     string  `xml:"rgb,attr"`
	Theme   *int    `xml:"theme,attr"`
	Indexed *int    `xml:"indexed,attr"`
	Tint    float64 `xml:"tint,attr"`
}

type xlsxColors struct {
	palette, theme []rgb
}

func (c xlsxColors) name(of xlsxColor) string {
	switch {
	case of.Theme != nil && *of.Theme >= 0 && *of.Theme < len(c.theme):
		return nameOf(c.theme[*of.Theme].tinted(of.Tint))
	case of.Theme != nil && *of.Theme == 0:
		return ""
	case of.RGB != "":
		return colorName(of.RGB)
	case of.Indexed != nil:
		return fromPalette(c.palette, *of.Indexed)
	case of.Theme != nil:
		return "coloured"
	}
	return ""
}

// readTheme returns the colors that styles name by their place in the theme; light and dark change places there.
func (x *xlsx) readTheme(part string) []rgb {
	var t struct {
		Scheme struct {
			Colors []struct {
				Own struct {
					Val string `xml:"val,attr"`
				} `xml:"srgbClr"`
				System struct {
					Last string `xml:"lastClr,attr"`
				} `xml:"sysClr"`
			} `xml:",any"`
		} `xml:"themeElements>clrScheme"`
	}
	if err := x.decode(part, &t); err != nil {
		return nil // a sheet reads as well without its theme's colors
	}
	var list []rgb
	for _, c := range t.Scheme.Colors {
		hex := c.Own.Val
		if hex == "" {
			hex = c.System.Last
		}
		list = append(list, hexColor(hex))
	}
	if len(list) >= 4 {
		list[0], list[1], list[2], list[3] = list[1], list[0], list[3], list[2]
	}
	return list
}

// isoDay returns the day at the start of a date as XML writes it, such as 2025-05-12T00:00:00.
func isoDay(s string) (string, bool) {
	if len(s) < 10 {
		return "", false
	}
	if _, err := time.Parse(time.DateOnly, s[:10]); err != nil {
		return "", false
	}
	return s[:10], true
}

func damaged(name string, say words.Speaker, cause error) error {
	return errs.Hide(errs.Invalid, say.Say("%s is damaged, or was cut short on the way. Please open it, save it again and send it once more.", name), cause)
}

func unpacksTooFar(name string, say words.Speaker) error {
	return errs.New(errs.TooLarge, say.Say("%s unpacks to far more than a season's sheet holds, so we left it shut. Please copy the table alone into a new workbook and send that.", name))
}
