package pages_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/fieldwork"
	"tussock/internal/paper"
	"tussock/internal/postgres"
	plans "tussock/internal/season"
	"tussock/internal/survey"
)

// photographs sends files to a form for photos.
func (m *member) photographs(path string, files ...sheet) answer {
	m.t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	w.WriteField("csrf", m.word())
	for _, f := range files {
		part, err := w.CreateFormFile("photo", f.name)
		if err != nil {
			m.t.Fatal(err)
		}
		part.Write([]byte(f.data))
	}
	w.Close()
	r := httptest.NewRequest(http.MethodPost, path, &b)
	r.Header.Set("Content-Type", w.FormDataContentType())
	return m.asks(r)
}

// A paperStage has planned lines with their printed sheets.
type paperStage struct {
	ada, ben, luis *member
	draw, breaks   access.ID
	lines          map[string]plans.Line // by their names; those of ben's ranch begin with "b"
}

func newPaperStage(t *testing.T) *paperStage {
	t.Helper()
	if _, err := exec.LookPath("pdftoppm"); err != nil {
		if os.Getenv("REQUIRE_TOOLS") == "1" {
			t.Fatal("pdftoppm is needed: install poppler-utils")
		}
		t.Skip("no pdftoppm here")
	}
	st := newStage(t)
	rosa := st.cooperative("Sandhill")
	s := &paperStage{draw: rosa.adds("Cottonwood Draw", "Marsh"), breaks: rosa.adds("North Breaks", "Bell"), lines: map[string]plans.Line{}}
	s.ada, s.ben = rosa.invites(access.Landowner, s.draw), rosa.invites(access.Landowner, s.breaks)
	s.luis = rosa.invites(access.Hand, s.draw)
	s.ada.wakes()
	s.ben.wakes()
	set := survey.DateOf(2026, 5, 4)
	line := func(name string) plans.Line {
		return plans.Line{Name: name, Pasture: "North", Stops: 6, Spacing: 60, SetOn: set, FirstCheck: set + 14, LastCheck: set + 28, Slack: 2}
	}
	for _, of := range []struct {
		owner *member
		ranch access.ID
		names []string
	}{{s.ada, s.draw, []string{"1", "2"}}, {s.ben, s.breaks, []string{"b1"}}} {
		of.owner.does(func(tx *postgres.Tx) error {
			var list []plans.Line
			for _, name := range of.names {
				list = append(list, line(name))
			}
			plan := plans.Plan{Ranch: of.ranch, Season: 2026, Purpose: plans.Trend, Lines: len(list), Stops: 6, Spacing: 60, SetOn: set, First: 14, Last: 28, Slack: 2}
			if err := tx.SaveLines(of.ranch, 2026, plan, list); err != nil {
				return err
			}
			saved, err := tx.Lines(of.ranch, 2026)
			for _, l := range saved {
				s.lines[l.Name] = l
			}
			return err
		})
	}
	return s
}

// sheetDots is how many dots a millimeter the printed sheets have here.
const sheetDots = 8.0

// page prints a line's sheet as the service does and returns one of its pages: 1 nests, 3 remains, 4 belt.
func (s *paperStage) page(t *testing.T, who *member, query string, page int) *image.Gray {
	t.Helper()
	pdf := who.opens("/paper/sheets.pdf?" + query)
	dir := t.TempDir()
	file := filepath.Join(dir, "sheets.pdf")
	if err := os.WriteFile(file, []byte(pdf.body), 0o600); err != nil {
		t.Fatal(err)
	}
	n := fmt.Sprint(page)
	if out, err := exec.Command("pdftoppm", "-r", fmt.Sprint(sheetDots*25.4), "-gray", "-f", n, "-l", n, "-singlefile", file, filepath.Join(dir, "p")).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, out)
	}
	data, err := os.ReadFile(filepath.Join(dir, "p.pgm"))
	if err != nil {
		t.Fatal(err)
	}
	var w, h, most int
	if _, err := fmt.Sscanf(string(data), "P5\n%d %d\n%d\n", &w, &h, &most); err != nil {
		t.Fatal(err)
	}
	return &image.Gray{Pix: data[len(data)-w*h:], Stride: w, Rect: image.Rect(0, 0, w, h)}
}

// draw lays a stroke on a page, in millimeters.
func stroke(g *image.Gray, x0, y0, x1, y1 float64) {
	for t := 0.0; t <= 1; t += .004 {
		x, y := (x0+t*(x1-x0))*sheetDots, (y0+t*(y1-y0))*sheetDots
		for dy := -3; dy <= 3; dy++ {
			for dx := -3; dx <= 3; dx++ {
				if px, py := int(x)+dx, int(y)+dy; math.Hypot(float64(dx), float64(dy)) < 3 && image.Pt(px, py).In(g.Rect) {
					g.Pix[py*g.Stride+px] = 40
				}
			}
		}
	}
}

// fill ticks the boxes of a page whose numbers are given, and writes where the number is "~".
func fillSheet(g *image.Gray, s paper.Sheet, answers map[string]string) {
	for _, f := range s.Fields() {
		for _, v := range answers[f.Name] {
			if v == '~' {
				p := f.Place
				stroke(g, p.X+1, p.Y+.5, p.X+2.5, p.Y+p.H-.5)
				stroke(g, p.X+2.5, p.Y+p.H-.5, p.X+4, p.Y+.5)
				continue
			}
			b := f.Boxes[v-'1']
			stroke(g, b.X+1.3, b.Y+3, b.X+2.6, b.Y+4.8)
			stroke(g, b.X+2.6, b.Y+4.8, b.X+5, b.Y+1.2)
		}
	}
}

// snap is a JPEG of a page on a table, with an Exif block (Exif 2.3, APP1) that says where it was taken.
func snap(t *testing.T, g *image.Gray) string {
	t.Helper()
	const border = 60
	pic := image.NewGray(image.Rect(0, 0, g.Rect.Dx()+2*border, g.Rect.Dy()+2*border))
	for i := range pic.Pix {
		pic.Pix[i] = 90
	}
	for y := range g.Rect.Dy() {
		copy(pic.Pix[(y+border)*pic.Stride+border:], g.Pix[y*g.Stride:y*g.Stride+g.Rect.Dx()])
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, pic, &jpeg.Options{Quality: 80}); err != nil {
		t.Fatal(err)
	}
	block := []byte("Exif\x00\x00II*\x00GPS 39.123 -101.456")
	head := binary.BigEndian.AppendUint16([]byte{0xff, 0xd8, 0xff, 0xe1}, uint16(len(block)+2))
	return string(append(append(head, block...), b.Bytes()[2:]...))
}

var valueForm = regexp.MustCompile(`<input[^>]* name="([^"]+)" value="([^"]*)"`)

// formOf returns the fields of a key page as they would be sent.
func formOf(page answer) map[string]string {
	fields := map[string]string{}
	for _, m := range valueForm.FindAllStringSubmatch(page.body, -1) {
		if m[1] != "csrf" && m[1] != "empty" { // what is not ticked is not sent
			fields[m[1]] = m[2]
		}
	}
	return fields
}

func pairs(fields map[string]string) []string {
	var list []string
	for name, value := range fields {
		list = append(list, name, value)
	}
	return list
}

// TestPhotoOfASheet: a photo of a filled sheet opens the keying page with what was read; what is not clear stands beside its part of the
// photo; nothing counts until somebody says so, and then it is what a typed sheet would be.
func TestPhotoOfASheet(t *testing.T) {
	s := newPaperStage(t)
	line := s.lines["1"]
	nests := paper.Sheet{Page: paper.Nests, Size: paper.Letter, First: 1, Last: 6}
	g := s.page(t, s.luis, "line="+string(line.ID), 1)
	fillSheet(g, nests, map[string]string{"on1": "~", "on2": "~", "who1": "~", "cover.1": "1", "found2.1": "1", "fresh2.1": "~", "cover.2": "3", "found2.2": "2", "left2.2": "~",
		"cover.3": "24", "found2.3": "4", "cover.4": "2", "left2.4": "~"})
	remains := s.page(t, s.luis, "line="+string(line.ID), 3)
	fillSheet(remains, paper.Sheet{Page: paper.Remains, Size: paper.Letter, First: 1, Last: 6}, map[string]string{"bits.2": "4", "ground.2": "1", "trace.2": "~"})
	looks := func() (all []fieldwork.Look) {
		s.ada.does(func(tx *postgres.Tx) (err error) {
			all, err = tx.Looks(s.draw, 2026)
			return err
		})
		return all
	}

	sent := s.luis.photographs("/key/photos", sheet{"nests.jpg", snap(t, g)}, sheet{"remains.jpg", snap(t, remains)})
	if to := sent.header.Get("Location"); sent.status != http.StatusSeeOther || to != "/key/"+line.Code {
		t.Fatalf("sending: %d %s %s", sent.status, to, sent.text())
	}
	opened := s.luis.opens("/key/" + line.Code)
	s.luis.want(opened, http.StatusOK, "It counts nowhere until you say", "Answers that were clear: 8", "Please look: Nests, stops 1 to 6", "Please look: Remains, stops 1 to 6", "This is what the sheet says")
	got := formOf(opened)
	for box, want := range map[string]string{"cover.1": "1", "found2.1": "1", "cover.2": "3", "found2.2": "2", "found2.3": "4", "bits.2": "4", "ground.2": "1", "cover.3": "", "on1": "", "left2.2": ""} {
		if got[box] != want {
			t.Errorf("%s is %q, want %q", box, got[box], want)
		}
	}
	doubts := regexp.MustCompile(`class="key-cut"[^>]*>.*?</svg></div>\s*<div class="key-say"><label for="([^"]+)"`).FindAllStringSubmatch(opened.body, -1)
	var boxes []string
	for _, d := range doubts {
		boxes = append(boxes, d[1])
	}
	if want := "on1 who1 on2 fresh2.1 left2.2 cover.3 found2.4 left2.4 trace.2"; strings.Join(boxes, " ") != want {
		t.Errorf("to look at: %v, want %s", boxes, want)
	}
	for _, l := range looks() {
		if l.Kind != fieldwork.Note {
			t.Fatalf("counted before anybody confirmed it: %+v", l)
		}
	}
	if other := s.ada.opens("/key/" + line.Code).body; strings.Contains(other, "It counts nowhere until you say") {
		t.Error("what one member sent is another's draft")
	}

	// The photos are kept without where they were taken, for the ranch alone.
	var ids []string
	for _, l := range looks() {
		ids = append(ids, l.Answers["photo"])
	}
	if len(ids) != 2 || !strings.Contains(opened.body, `href="/field/photos/`+ids[0]+`"`) {
		t.Fatalf("%d photos kept, or the page does not show them", len(ids))
	}
	shown := s.ada.opens("/field/photos/" + ids[0])
	if shown.status != http.StatusOK || strings.Contains(shown.body, "Exif") || strings.Contains(shown.body, "39.123") {
		t.Errorf("the photo: %d, or it carries more than a picture", shown.status)
	}
	s.ben.want(s.ben.opens("/field/photos/"+ids[0]), http.StatusNotFound)

	// What is not clear and handwriting that nobody typed are asked about, and what is missing is said.
	page := "/key/" + line.Code
	s.luis.want(s.luis.posts(page, pairs(got)...), http.StatusUnprocessableEntity, "Something is written here", "Stop 4, What you found, Week 2 : It is not clear what is ticked here", "Nothing of this sheet counts yet")
	got = formOf(s.luis.opens(page))
	got["on1"], got["on2"], got["who1"], got["fresh2.1"], got["left2.2"], got["cover.3"], got["found2.4"], got["left2.4"] = "2026-05-04", "2026-05-18", "LO", "3", "1", "2", "1", "3"
	s.luis.want(s.luis.posts(page, pairs(got)...), http.StatusUnprocessableEntity, "Tracks, scat, hair : Something is written here")
	got["empty"] = "1"
	kept := s.luis.posts(page, pairs(got)...)
	if to := kept.header.Get("Location"); kept.status != http.StatusSeeOther || to != page+"?kept=8" {
		t.Fatalf("confirming: %d %s: %s", kept.status, to, kept.text())
	}
	answers := map[string]string{}
	for _, l := range looks() {
		for name, v := range l.Answers {
			answers[fmt.Sprintf("%s %d %s", l.Kind, l.Stop, name)] = v
		}
	}
	for what, want := range map[string]string{"set 1 cover": "bunchgrass", "set 3 cover": "prickly_pear", "check 1 found": "all", "check 1 eggs_fresh_put": "3", "check 2 eggs_left": "1",
		"check 2 bits": "halves", "check 2 ground": "calm", "check 3 found": "not_found", "check 2 looked_on": "2026-05-18"} {
		if answers[what] != want {
			t.Errorf("%s is %q, want %q", what, answers[what], want)
		}
	}

	// The same page again, with week 4 filled in: what was confirmed is not asked about again, what the photo says otherwise is.
	fillSheet(g, nests, map[string]string{"on3": "~", "found3.1": "1", "cover.2": "5"})
	s.luis.photographs(page+"/photos", sheet{"again.jpg", snap(t, g)})
	again := s.luis.opens(page)
	got = formOf(again)
	if got["found3.1"] != "1" || got["cover.2"] != "3" || got["on1"] != "2026-05-04" {
		t.Errorf("the second photo: found3.1 %q, cover.2 %q, on1 %q", got["found3.1"], got["cover.2"], got["on1"])
	}
	boxes = nil
	for _, d := range regexp.MustCompile(`class="key-say"><label for="([^"]+)"`).FindAllStringSubmatch(again.body, -1) {
		boxes = append(boxes, d[1])
	}
	if want := "on3 cover.2 cover.3 found2.4"; strings.Join(boxes, " ") != want {
		t.Errorf("to look at after the second photo: %v, want %s", boxes, want)
	}
}

// TestWrongPhotos: what is no filled sheet of this line is said so, and nothing of it is kept.
func TestWrongPhotos(t *testing.T) {
	s := newPaperStage(t)
	nests := paper.Sheet{Page: paper.Nests, Size: paper.A4, First: 1, Last: 6}
	sheetOf := func(who *member, name string) string {
		g := s.page(t, who, "size=a4&line="+string(s.lines[name].ID), 1)
		fillSheet(g, nests, map[string]string{"cover.1": "1"})
		return snap(t, g)
	}
	own, other, bens := sheetOf(s.luis, "1"), sheetOf(s.luis, "2"), sheetOf(s.ben, "b1")
	empty := snap(t, s.page(t, s.luis, "line="+string(s.lines["1"].ID), 1))
	unplanned := s.page(t, s.luis, "size=a4", 1)
	fillSheet(unplanned, paper.Sheet{Page: paper.Nests, Size: paper.A4, First: 1, Last: 12}, map[string]string{"cover.1": "1", "cover.9": "2"})
	blank := snap(t, unplanned)
	page := "/key/" + s.lines["1"].Code
	for _, test := range []struct {
		name, path, data string
		status           int
		saying           string
	}{
		{"another ranch's", "/key/photos", bens, http.StatusUnprocessableEntity, "not of a line that you can key"},
		{"another ranch's, here", page + "/photos", bens, http.StatusUnprocessableEntity, "not of a line that you can key"},
		{"another line's", page + "/photos", other, http.StatusUnprocessableEntity, "This is the sheet of line 2, season 2026"},
		{"empty", page + "/photos", empty, http.StatusUnprocessableEntity, "Nothing is ticked or written on this page yet"},
		{"without a line", "/key/photos", blank, http.StatusUnprocessableEntity, "printed without a line"},
		{"HEIC", "/key/photos", "\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic", http.StatusUnprocessableEntity, "HEIC"},
		{"no picture", page + "/photos", "not a picture", http.StatusUnprocessableEntity, "not a picture we can read"},
		{"something else", "/key/photos", snap(t, image.NewGray(image.Rect(0, 0, 900, 700))), http.StatusUnprocessableEntity, "no field sheet of ours"},
		{"a stranger's page", "/key/" + s.lines["b1"].Code + "/photos", own, http.StatusNotFound, ""},
	} {
		t.Run(test.name, func(t *testing.T) {
			s.luis.want(s.luis.photographs(test.path, sheet{"it.jpg", test.data}), test.status, test.saying)
		})
	}
	s.luis.want(s.luis.photographs("/key/photos"), http.StatusUnprocessableEntity, "Choose photos of the sheet first")
	many := make([]sheet, 13)
	for i := range many {
		many[i] = sheet{"x.jpg", "x"}
	}
	s.luis.want(s.luis.photographs("/key/photos", many...), http.StatusUnprocessableEntity, "more than twelve photos")
	for name, ranch := range map[*member]access.ID{s.ada: s.draw, s.ben: s.breaks} {
		name.does(func(tx *postgres.Tx) error {
			all, err := tx.Looks(ranch, 2026)
			if len(all) > 0 {
				t.Errorf("%d looks of photos that were refused", len(all))
			}
			return err
		})
	}

	// Sheets of several lines at once, one of them not to be read: those that can be are read, and both lines are named.
	got := s.luis.photographs("/key/photos", sheet{"1.jpg", own}, sheet{"2.jpg", other}, sheet{"3.jpg", "x"})
	s.luis.want(got, http.StatusOK, "Line 1, 2026 : 1 page was read", "Line 2, 2026 : 1 page was read", "3.jpg: This is not a picture we can read")
	// A sheet printed without a line is taken for the line it is sent for; what is beyond its last stop is said.
	got = s.luis.photographs(page+"/photos", sheet{"blank.jpg", blank})
	s.luis.want(got, http.StatusOK, "something on the sheet at stop 9, but this line has 6 stops")
	// The QR code of a sheet opens its line, in capitals as it is printed.
	if to := s.luis.opens("/KEY/" + s.lines["1"].Code + ".1NL1-6").header.Get("Location"); to != "/key?code="+s.lines["1"].Code {
		t.Errorf("the QR code leads to %q", to)
	}
}
