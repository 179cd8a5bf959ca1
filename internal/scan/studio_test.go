package scan_test

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"tussock/internal/paper"
	"tussock/internal/print"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
	"tussock/web"
)

// The studio fills in printed sheets by hand and takes photos of them. It has nothing in common with the reader but the
// layout: ink is laid on as the distance to a stroke, and the camera stands in space.

// A truth is what somebody put on a sheet, by field.
type truth map[string]answer

// An answer is one field's: what each box got ("", "tick", "withdrawn", or "?" where nobody could tell), the value, "?" where
// nobody could tell, and whether something is written by hand.
type answer struct {
	Boxes   []string
	Value   string
	Written bool
}

const dpi = 220 // of the printed page as it comes from Poppler

const dots = dpi / 25.4 // a millimeter

// printed returns the pages of a line's sheets, as gray pictures by tag.
func printed(t *testing.T, size paper.Size, stops int) map[string]*image.Gray {
	t.Helper()
	if _, err := exec.LookPath("pdftoppm"); err != nil {
		if os.Getenv("REQUIRE_TOOLS") == "1" {
			t.Fatal("pdftoppm is needed: install poppler-utils")
		}
		t.Skip("no pdftoppm here")
	}
	book, err := words.Open(web.FS)
	if err != nil {
		t.Fatal(err)
	}
	p, err := print.New(web.FS, book)
	if err != nil {
		t.Fatal(err)
	}
	day := survey.DateOf(2026, 5, 4)
	line := season.Line{Season: 2026, Name: "3", Code: "KX7P2M", Pasture: "Cañón del Sur", Stops: stops, Covers: []survey.Substrate{survey.Bunchgrass, survey.PricklyPear},
		SetOn: day, FirstCheck: day + 14, LastCheck: day + 28, Slack: 2, BeltWidth: 6, BeltLength: 726}
	var pdf bytes.Buffer
	if err := p.Sheets(&pdf, size, print.Sheet{Ranch: "Rancho Ñandú", Line: line, Link: "https://tussock.example/key/"}); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "sheets.pdf")
	if err := os.WriteFile(file, pdf.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("pdftoppm", "-r", strconv.Itoa(dpi), "-gray", file, filepath.Join(dir, "p")).CombinedOutput(); err != nil {
		t.Fatalf("pdftoppm: %v %s", err, out)
	}
	names, err := filepath.Glob(filepath.Join(dir, "p-*.pgm"))
	if err != nil {
		t.Fatal(err)
	}
	pages := map[string]*image.Gray{}
	for i, name := range names {
		which := []paper.Page{paper.Nests, "hazards", paper.Remains, paper.Belt}[i%4]
		first := 1 + i/4*paper.Rows
		s := paper.Sheet{Page: which, Size: size, First: first, Last: min(stops, first+paper.Rows-1)}
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		var w, h, most int
		if _, err := fmt.Sscanf(string(data), "P5\n%d %d\n%d\n", &w, &h, &most); err != nil || most != 255 || len(data) < w*h {
			t.Fatalf("%s: %v", name, err)
		}
		pages[s.Tag()] = &image.Gray{Pix: data[len(data)-w*h:], Stride: w, Rect: image.Rect(0, 0, w, h)}
	}
	return pages
}

// A pen lays ink on a page.
type pen struct {
	wide float64 // millimeters
	dark float64 // 0 to 1
	soft bool    // grains, as a pencil leaves
}

func anyPen(r *rand.Rand) pen {
	return []pen{{.5, .55, true}, {.7, .7, true}, {.4, .85, false}, {.55, .95, false}, {1, .95, false}, {.4, .7, false}}[r.IntN(6)]
}

// stroke draws straight from place to place, in millimeters.
func (p pen) stroke(g *image.Gray, r *rand.Rand, at ...[2]float64) {
	for i := 1; i < len(at); i++ {
		a, b := at[i-1], at[i]
		x0, x1 := int((min(a[0], b[0])-p.wide)*dots), int((max(a[0], b[0])+p.wide)*dots)+1
		y0, y1 := int((min(a[1], b[1])-p.wide)*dots), int((max(a[1], b[1])+p.wide)*dots)+1
		for y := max(0, y0); y <= min(g.Rect.Dy()-1, y1); y++ {
			for x := max(0, x0); x <= min(g.Rect.Dx()-1, x1); x++ {
				d := distance((float64(x)+.5)/dots, (float64(y)+.5)/dots, a, b)
				ink := p.dark * min(1, max(0, (p.wide/2-d)*dots+.5))
				if p.soft {
					ink *= .6 + .4*r.Float64()
				}
				if v := uint8(float64(g.Pix[y*g.Stride+x])*(1-ink) + .5); ink > 0 {
					// Ink on ink does not get much darker.
					g.Pix[y*g.Stride+x] = min(g.Pix[y*g.Stride+x], max(v, uint8(255*(1-p.dark)*.8)))
				}
			}
		}
	}
}

// distance returns how far x, y is from the line between a and b.
func distance(x, y float64, a, b [2]float64) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	t := ((x-a[0])*dx + (y-a[1])*dy) / max(1e-9, dx*dx+dy*dy)
	t = min(1, max(0, t))
	return math.Hypot(x-a[0]-t*dx, y-a[1]-t*dy)
}

// A hand is how somebody ticks.
type hand struct {
	style string
	pen   pen
	big   float64 // of the box
	off   float64 // how far beside the middle, millimeters
}

func anyHand(r *rand.Rand) hand {
	return hand{[]string{"check", "check", "cross", "cross", "slash", "full", "vee"}[r.IntN(7)], anyPen(r), .65 + .5*r.Float64(), .2 + .7*r.Float64()}
}

func (h hand) tick(g *image.Gray, r *rand.Rand, b paper.Rect) {
	n := func(sd float64) float64 { return r.NormFloat64() * sd }
	x, y, s := b.X+b.W/2+n(h.off/2), b.Y+b.H/2+n(h.off/2), b.W*h.big*(.9+.2*r.Float64())
	p := func(dx, dy float64) [2]float64 { return [2]float64{x + dx*s + n(.12), y + dy*s + n(.12)} }
	switch h.style {
	case "check":
		h.pen.stroke(g, r, p(-.35, -.02), p(-.12, .32), p(.2, -.15), p(.45, -.5))
	case "vee":
		h.pen.stroke(g, r, p(-.3, -.35), p(0, .35), p(.3, -.35))
	case "cross":
		h.pen.stroke(g, r, p(-.36, -.36), p(.36, .36))
		h.pen.stroke(g, r, p(.36, -.36), p(-.36, .36))
	case "slash":
		h.pen.stroke(g, r, p(-.3, .42), p(.3, -.42))
	case "full":
		zigzag(h.pen, g, r, b, .38, 14)
		zigzag(h.pen, g, r, b, .38, 14)
	}
}

// zigzag fills a box with so many strokes to and fro.
func zigzag(p pen, g *image.Gray, r *rand.Rand, b paper.Rect, half float64, n int) {
	turn := r.Float64() * math.Pi
	c, s := math.Cos(turn), math.Sin(turn)
	var at [][2]float64
	for i := range n + 1 {
		u := (2*float64(i)/float64(n) - 1) * half * b.W
		v := half * b.W * (.9 + .2*r.Float64())
		if i%2 == 0 {
			v = -v
		}
		at = append(at, [2]float64{b.X + b.W/2 + u*c - v*s, b.Y + b.H/2 + u*s + v*c})
	}
	p.stroke(g, r, at...)
}

// scrawl writes something in a place, which nobody has to read.
func scrawl(p pen, g *image.Gray, r *rand.Rand, place paper.Rect) {
	x, letters := place.X+.6+r.Float64(), 1+r.IntN(4)
	tall := min(place.H, 4)
	y := place.Y + (place.H-tall)/2
	for range letters {
		if x+2 > place.X+place.W {
			break
		}
		var at [][2]float64
		for range 4 + r.IntN(3) {
			at = append(at, [2]float64{x + 2*r.Float64(), y + tall*r.Float64()})
		}
		p.stroke(g, r, at...)
		x += 2.8
	}
}

// fill fills in a page as people do, and returns what is on it then.
func fill(g *image.Gray, s paper.Sheet, r *rand.Rand) truth {
	hands := map[string]hand{}
	handOf := func(kind string) hand {
		if _, ok := hands[kind]; !ok {
			hands[kind] = anyHand(r)
		}
		return hands[kind]
	}
	rows, lost := 7+r.IntN(6), map[string]bool{}
	for stop := s.First; stop <= s.Last; stop++ {
		lost[strconv.Itoa(stop)] = r.Float64() < .45
	}
	all := truth{}
	for _, f := range s.Fields() {
		column, stop, _ := strings.Cut(f.Name, ".")
		kind := strings.TrimLeft(column, "abcdefghijklmnopqrstuvwxyz_") // the day: 2 or 3
		if s.Page == paper.Remains {
			n, _ := strconv.Atoi(stop)
			kind = strconv.Itoa(n / 5)
		}
		h := handOf(kind)
		a := answer{Boxes: make([]string, len(f.Boxes))}
		n, _ := strconv.Atoi(stop)
		on := s.Page == paper.Belt || s.Page == paper.Nests && (stop == "" || n-s.First < rows) || s.Page == paper.Remains && lost[stop]
		switch {
		case !on:
		case f.Tally:
			tally(h, g, r, f, &a)
		case f.Boxes != nil && r.Float64() < .85:
			choose(h, g, r, f, &a)
		}
		if on && f.Place != (paper.Rect{}) && r.Float64() < .4 {
			scrawl(h.pen, g, r, f.Place)
			a.Written = true
		}
		all[f.Name] = a
	}
	return all
}

func tally(h hand, g *image.Gray, r *rand.Rand, f paper.Field, a *answer) {
	count := r.IntN(min(len(f.Boxes), 45))
	for i := 0; i < len(f.Boxes) && count > 0; i++ {
		h.tick(g, r, f.Boxes[i])
		if r.Float64() < .02 && h.style != "full" {
			zigzag(h.pen, g, r, f.Boxes[i], .48, 12)
			zigzag(h.pen, g, r, f.Boxes[i], .48, 12)
			a.Boxes[i] = "withdrawn"
			continue
		}
		a.Boxes[i] = "tick"
		count--
	}
	n := 0
	for _, b := range a.Boxes {
		if b == "tick" {
			n++
		}
	}
	if n > 0 {
		a.Value = strconv.Itoa(n)
	}
}

// choose ticks one box of a field, mostly.
func choose(h hand, g *image.Gray, r *rand.Rand, f paper.Field, a *answer) {
	i := r.IntN(len(f.Boxes))
	j := (i + 1 + r.IntN(len(f.Boxes)-1)) % len(f.Boxes)
	one := func(i int) { h.tick(g, r, f.Boxes[i]); a.Boxes[i] = "tick" }
	scribble := func(i int) {
		h.tick(g, r, f.Boxes[i])
		zigzag(h.pen, g, r, f.Boxes[i], .48, 12)
		zigzag(h.pen, g, r, f.Boxes[i], .48, 12)
		a.Boxes[i] = "withdrawn"
	}
	x, y := f.Boxes[i].X, f.Boxes[i].Y
	switch event := r.Float64(); {
	case event < .06: // the wrong one first
		scribble(j)
		one(i)
		a.Value = strconv.Itoa(i + 1)
		if h.style == "full" {
			a.Value = "?"
		}
	case event < .08: // taken back, and nothing instead
		scribble(i)
		a.Value = "?"
		if h.style == "full" { // looks like any tick of that hand
			a.Boxes[i], a.Value = "tick", strconv.Itoa(i+1)
		}
	case event < .10: // struck through with two lines
		one(j)
		b := f.Boxes[j]
		h.pen.stroke(g, r, [2]float64{b.X + .3, b.Y + 2.2}, [2]float64{b.X + 5.7, b.Y + 2})
		h.pen.stroke(g, r, [2]float64{b.X + .3, b.Y + 4.2}, [2]float64{b.X + 5.7, b.Y + 4})
		a.Boxes[j] = "withdrawn"
		one(i)
		a.Value = strconv.Itoa(i + 1)
		if h.style == "full" {
			a.Value, a.Boxes[j] = "?", "?"
		}
	case event < .12: // both
		one(i)
		one(j)
		a.Value = "?"
	case event < .14 && i > 0: // one stroke across two boxes
		h.pen.stroke(g, r, [2]float64{f.Boxes[i-1].X + 1.5, y + 4}, [2]float64{x + 4.5, y + 2 + r.Float64()})
		a.Boxes[i], a.Boxes[i-1], a.Value = "?", "?", "?"
	case event < .17: // and a dot elsewhere
		one(i)
		h.pen.stroke(g, r, [2]float64{f.Boxes[j].X + 3, f.Boxes[j].Y + 3.5}, [2]float64{f.Boxes[j].X + 3.2, f.Boxes[j].Y + 3.6})
		a.Value = strconv.Itoa(i + 1)
	case event < .19: // with a tail far out of its box
		one(i)
		h.pen.stroke(g, r, [2]float64{x + 4, y + 2}, [2]float64{x + 7.2, y - 1.5})
		a.Value = strconv.Itoa(i + 1)
	default:
		one(i)
		a.Value = strconv.Itoa(i + 1)
	}
}

// wear lays stains and folds on a page.
func wear(g *image.Gray, r *rand.Rand) {
	w, h := float64(g.Rect.Dx()), float64(g.Rect.Dy())
	type stain struct{ x, y, wide, deep, rim float64 }
	var stains []stain
	for range r.IntN(3) {
		stains = append(stains, stain{r.Float64() * w, r.Float64() * h, (8 + 25*r.Float64()) * dots, .05 + .25*r.Float64(), .25 * r.Float64()})
	}
	type fold struct{ x, y, c, s, deep, wide float64 }
	var folds []fold
	for range r.IntN(3) {
		turn := []float64{0, math.Pi / 2, r.Float64() * math.Pi}[r.IntN(3)] + r.NormFloat64()*.02
		folds = append(folds, fold{w * (.2 + .6*r.Float64()), h * (.2 + .6*r.Float64()), math.Cos(turn), math.Sin(turn), .05 + .2*r.Float64(), (.25 + .6*r.Float64()) * dots})
	}
	for y := range g.Rect.Dy() {
		for x := range g.Rect.Dx() {
			light := 1.0
			for _, s := range stains {
				d := math.Hypot(float64(x)-s.x, (float64(y)-s.y)*1.3) / s.wide
				light *= 1 - s.deep/(1+math.Exp((d-1)*25)) - s.rim*math.Exp(-(d-1)*(d-1)*2000)
			}
			for _, f := range folds {
				d := ((float64(x)-f.x)*f.c + (float64(y)-f.y)*f.s) / f.wide
				light *= 1 - f.deep*math.Exp(-d*d) + f.deep*.4*math.Exp(-(d-2)*(d-2))
			}
			g.Pix[y*g.Stride+x] = uint8(min(255, float64(g.Pix[y*g.Stride+x])*light))
		}
	}
}

// A camera is where a photo is taken from.
type camera struct {
	wide, tall              int
	focal                   float64 // pixels
	turn, tip, lean         float64 // about the axes of the camera, radians
	curl                    float64 // of the paper, millimeters
	bend                    float64
	blur, noise             float64
	gradient, shadow, soft  float64
	shadowX, shadowY, angle float64
}

func anyCamera(r *rand.Rand, longer int) camera {
	c := camera{wide: longer, tall: longer * 3 / 4, focal: float64(longer) * .8, turn: []float64{0, 0, math.Pi, math.Pi / 2, -math.Pi / 2, r.Float64() * 2 * math.Pi}[r.IntN(6)] + r.NormFloat64()*.08,
		tip: r.NormFloat64() * .14, lean: r.NormFloat64() * .14, curl: 1.2 * r.Float64(), bend: r.Float64() * 6,
		blur: float64(longer) / 1600 * (.4 + .7*r.Float64()), noise: 1 + 4*r.Float64(),
		gradient: .35 * r.Float64(), shadow: .45 * r.Float64(), soft: 2 + 25*r.Float64(), shadowX: r.Float64(), shadowY: r.Float64(), angle: r.Float64() * 2 * math.Pi}
	if s := math.Abs(math.Sin(c.turn)); s > .7 {
		c.wide, c.tall = c.tall, c.wide
	}
	return c
}

// shoot takes a photo of a page that lies on a table.
func (c camera) shoot(g *image.Gray, r *rand.Rand, quality int) []byte {
	w, h := float64(g.Rect.Dx())/dots, float64(g.Rect.Dy())/dots
	// The camera's axes in the room: it looks down, turned, tipped and leaning.
	rot := func(v [3]float64) [3]float64 {
		s, k := math.Sin(c.tip), math.Cos(c.tip)
		v = [3]float64{v[0], v[1]*k - v[2]*s, v[1]*s + v[2]*k}
		s, k = math.Sin(c.lean), math.Cos(c.lean)
		v = [3]float64{v[0]*k + v[2]*s, v[1], -v[0]*s + v[2]*k}
		s, k = math.Sin(c.turn), math.Cos(c.turn)
		return [3]float64{v[0]*k - v[1]*s, v[0]*s + v[1]*k, v[2]}
	}
	axis := rot([3]float64{0, 0, 1})
	// From as far as it takes to have all four corners in the picture.
	far := 150.0
	inside := func(far float64) bool {
		eye := [3]float64{-axis[0] * far, -axis[1] * far, -axis[2] * far}
		x, y := rot([3]float64{1, 0, 0}), rot([3]float64{0, 1, 0})
		for _, p := range [4][2]float64{{-w / 2, -h / 2}, {w / 2, -h / 2}, {-w / 2, h / 2}, {w / 2, h / 2}} {
			d := [3]float64{p[0] - eye[0], p[1] - eye[1], -eye[2]}
			z := d[0]*axis[0] + d[1]*axis[1] + d[2]*axis[2]
			u, v := c.focal*(d[0]*x[0]+d[1]*x[1]+d[2]*x[2])/z, c.focal*(d[0]*y[0]+d[1]*y[1]+d[2]*y[2])/z
			if math.Abs(u) > float64(c.wide)*.49 || math.Abs(v) > float64(c.tall)*.49 {
				return false
			}
		}
		return true
	}
	for !inside(far) {
		far *= 1.02
	}
	far *= 1 + .12*r.Float64()
	eye := [3]float64{-axis[0] * far, -axis[1] * far, -axis[2] * far}
	out := make([]float64, c.wide*c.tall)
	table := 40 + 120*r.Float64()
	for v := range c.tall {
		for u := range c.wide {
			d := rot([3]float64{float64(u) + .5 - float64(c.wide)/2, float64(v) + .5 - float64(c.tall)/2, c.focal})
			t := -eye[2] / d[2]
			x, y := eye[0]+t*d[0]+w/2, eye[1]+t*d[1]+h/2
			y += c.curl * math.Sin(c.bend+x/60)
			out[v*c.wide+u] = at(g, x*dots, y*dots, table+12*math.Sin(x/3+.2*y))
		}
	}
	soften(out, c.wide, c.tall, c.blur)
	pic := image.NewGray(image.Rect(0, 0, c.wide, c.tall))
	ca, sa := math.Cos(c.angle), math.Sin(c.angle)
	for i, value := range out {
		x, y := float64(i%c.wide)/float64(c.wide), float64(i/c.wide)/float64(c.tall)
		light := 1 - c.gradient*((x-.5)*ca+(y-.5)*sa+.5)
		light *= 1 - c.shadow/(1+math.Exp(-((x-c.shadowX)*sa+(y-c.shadowY)*ca)*c.soft*6))
		pic.Pix[i] = uint8(min(255, max(0, value*light*.95+r.NormFloat64()*c.noise)))
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, pic, &jpeg.Options{Quality: quality}); err != nil {
		panic(err)
	}
	return b.Bytes()
}

// at returns what lies between four dots of the page, or the table.
func at(g *image.Gray, x, y, table float64) float64 {
	x0, y0 := int(math.Floor(x-.5)), int(math.Floor(y-.5))
	if x0 < 0 || y0 < 0 || x0+1 >= g.Rect.Dx() || y0+1 >= g.Rect.Dy() {
		return table
	}
	fx, fy := x-.5-float64(x0), y-.5-float64(y0)
	i := y0*g.Stride + x0
	return (1-fy)*((1-fx)*float64(g.Pix[i])+fx*float64(g.Pix[i+1])) + fy*((1-fx)*float64(g.Pix[i+g.Stride])+fx*float64(g.Pix[i+g.Stride+1]))
}

// soften blurs a picture twice with the mean of three neighbors, weighted so that the blur is as wide as wanted.
func soften(p []float64, w, h int, sd float64) {
	passes := max(1, int(math.Ceil(sd*sd/.6)))
	k := sd * sd / float64(passes) / 2 // of each neighbor
	line := make([]float64, max(w, h))
	pass := func(start, n, step int) {
		for i := range n {
			line[i] = p[start+i*step]
		}
		for i := range n {
			p[start+i*step] = (1-2*k)*line[i] + k*(line[max(0, i-1)]+line[min(n-1, i+1)])
		}
	}
	for range passes {
		for y := range h {
			pass(y*w, w, 1)
		}
		for x := range w {
			pass(x, h, w)
		}
	}
}

// name says what a picture is, for the log.
func (c camera) name(s paper.Sheet) string {
	return fmt.Sprintf("%s %dx%d turned %.0f°", s.Tag(), c.wide, c.tall, c.turn*180/math.Pi)
}
