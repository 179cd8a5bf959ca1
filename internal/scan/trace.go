package scan

import (
	"math"
	"slices"

	"tussock/internal/paper"
)

// A trace is the ink in one box, or in a place to write.
type trace struct {
	area   float64 // in square millimeters
	extent float64 // of its largest piece, corner to corner, in millimeters
	fill   float64 // share of the box that is covered
	length float64 // of its strokes, about, in millimeters
	strong float64 // how much darker its largest piece is than the paper in the box
	thin   float64 // share of its largest piece that has lighter paper on both sides, as a stroke has and a stain has not
	line   *line   // where its largest piece is one straight stroke
}

// A line is a straight stroke: its middle and its direction in pixels of the page, how long it is, and how dark.
type line struct {
	middle, along  point
	length, strong float64
}

const inset = .75 // from a box's outline to what is looked at, in millimeters

// stained is how dark the paper itself can be in a stain or a shadow, as ink; what is darker was filled in.
const stained = 45

// strokes and hints return how much darker than the paper ink is at least, where thin printed lines are so dark: strokes for what is
// taken for ink, hints for what may be some.
func strokes(outline float64) float64 { return max(20, outline/4) }
func hints(outline float64) float64   { return max(14, outline/7) }

// A window is a rectangle of a page, in pixels, but for its upper left corner.
type window struct {
	p                        *page
	x0, y0, w, h, butX, butY int
}

// window returns a rectangle shifted so, without what was printed in its upper left corner.
func (p *page) window(r, but paper.Rect, s shift) window {
	w := window{p: p, w: int(math.Round(r.W * PerMM)), h: int(math.Round(r.H * PerMM)),
		butX: int((but.X+but.W-r.X)*PerMM + .5), butY: int((but.Y+but.H-r.Y)*PerMM + .5)}
	w.x0 = min(max(int(math.Round(r.X*PerMM))+s.x, 0), p.w-w.w)
	w.y0 = min(max(int(math.Round(r.Y*PerMM))+s.y, 0), p.h-w.h)
	return w
}

// ink returns the ink of a pixel, counted row by row, and false in the corner that was printed.
func (w *window) ink(i int) (float64, bool) {
	x, y := i%w.w, i/w.w
	return float64(w.p.ink[(w.y0+y)*w.p.w+w.x0+x]), x >= w.butX || y >= w.butY
}

// trace returns the ink within a rectangle shifted so: what is darker than the paper by more than least. What stands in but was
// printed is left out.
func (p *page) trace(r, but paper.Rect, s shift, least float64) trace {
	w := p.window(r, but, s)
	var values []float64
	for i := range w.w * w.h {
		if v, ok := w.ink(i); ok {
			values = append(values, v)
		}
	}
	slices.Sort(values)
	level := values[len(values)*2/5]
	if level > stained {
		level = 0
	}
	m := mask{w: w.w, in: make([]bool, w.w*w.h)}
	n := 0
	for i := range m.in {
		if v, ok := w.ink(i); ok && v > level+least {
			m.in[i] = true
			n++
		}
	}
	var largest piece
	for _, p := range m.pieces() {
		if !m.rule(&p) && p.extent() > largest.extent() {
			largest = p
		}
	}
	if largest.pixels == nil {
		return trace{}
	}
	// What is at least half as dark as the darkest is the stroke itself; the rest is blur.
	core := level + (values[len(values)-1-n/10]-level)/2
	first := slices.IndexFunc(values, func(v float64) bool { return v > core })
	t := trace{area: float64(n) / (PerMM * PerMM), extent: largest.extent() / PerMM, fill: float64(len(values)-first) / float64(len(values)), line: largest.line(w.w)}
	t.length = t.area * PerMM / m.strokeWidth()
	for _, i := range largest.pixels {
		v, _ := w.ink(i)
		t.strong += (v - level) / float64(len(largest.pixels))
	}
	t.thin = w.thin(&largest, core)
	if t.line != nil {
		t.line.middle = point{t.line.middle.x + float64(w.x0), t.line.middle.y + float64(w.y0)}
		t.line.strong = t.strong
	}
	return t
}

// thin returns on what share of the dark pixels of a piece it is much lighter a stroke's width away on two opposite sides.
func (w *window) thin(pc *piece, core float64) float64 {
	const away = 9 // pixels: strokes are up to a millimeter wide
	p := w.p
	dark, n := 0, 0
	for _, i := range pc.pixels {
		x, y := w.x0+i%w.w, w.y0+i/w.w
		v := p.at(x, y)
		if v <= core {
			continue
		}
		dark++
		for _, d := range [4][2]int{{away, 0}, {0, away}, {away * 7 / 10, away * 7 / 10}, {away * 7 / 10, -away * 7 / 10}} {
			if max(p.at(x+d[0], y+d[1]), p.at(x-d[0], y-d[1])) < v*.6 {
				n++
				break
			}
		}
	}
	return float64(n) / float64(max(1, dark))
}

// A mask marks pixels in rows of w.
type mask struct {
	w  int
	in []bool
}

// A piece is some of a mask's pixels that hang together, and the corners of the rectangle around them.
type piece struct {
	pixels         []int
	x0, y0, x1, y1 int
}

func (p *piece) extent() float64 {
	if p.pixels == nil {
		return 0
	}
	return math.Hypot(float64(p.x1-p.x0+1), float64(p.y1-p.y0+1))
}

// pieces returns the pieces of the mask.
func (m *mask) pieces() []piece {
	seen := make([]bool, len(m.in))
	var all []piece
	for start, v := range m.in {
		if !v || seen[start] {
			continue
		}
		seen[start] = true
		p := piece{[]int{start}, start % m.w, start / m.w, start % m.w, start / m.w}
		for k := 0; k < len(p.pixels); k++ {
			x, y := p.pixels[k]%m.w, p.pixels[k]/m.w
			p.x0, p.y0, p.x1, p.y1 = min(p.x0, x), min(p.y0, y), max(p.x1, x), max(p.y1, y)
			for d := range 9 {
				nx, ny := x+d%3-1, y+d/3-1
				if i := ny*m.w + nx; nx >= 0 && nx < m.w && ny >= 0 && i < len(m.in) && m.in[i] && !seen[i] {
					seen[i] = true
					p.pixels = append(p.pixels, i)
				}
			}
		}
		all = append(all, p)
	}
	return all
}

// rule tells whether a piece is a printed line that reaches into the rectangle: thin, and along one of its sides.
func (m *mask) rule(p *piece) bool {
	w, h := p.x1-p.x0+1, p.y1-p.y0+1
	tall := len(m.in) / m.w
	return h <= PerMM && w > 3*h && (p.y0 == 0 || p.y1 == tall-1) || w <= PerMM && h > 3*w && (p.x0 == 0 || p.x1 == m.w-1)
}

// strokeWidth returns how wide strokes are in pixels: the median over the ink of its shorter run, across or down.
func (m *mask) strokeWidth() float64 {
	h := len(m.in) / m.w
	across, down := make([]int, len(m.in)), make([]int, len(m.in))
	runs := func(out []int, n, length, step, along int) {
		for k := range n {
			for i := 0; i < length; {
				j := i
				for j < length && m.in[k*step+j*along] {
					j++
				}
				for q := i; q < j; q++ {
					out[k*step+q*along] = j - i
				}
				i = max(j, i+1)
			}
		}
	}
	runs(across, h, m.w, m.w, 1)
	runs(down, m.w, h, 1, m.w)
	var all []int
	for i, v := range m.in {
		if v {
			all = append(all, min(across[i], down[i]))
		}
	}
	slices.Sort(all)
	return float64(all[len(all)/2])
}

// line returns the straight stroke that a piece is, or nil: its pixels' covariance is long one way and narrow the other.
func (p *piece) line(w int) *line {
	var sx, sy, sxx, sxy, syy float64
	n := float64(len(p.pixels))
	for _, i := range p.pixels {
		x, y := float64(i%w), float64(i/w)
		sx, sy, sxx, sxy, syy = sx+x, sy+y, sxx+x*x, sxy+x*y, syy+y*y
	}
	mx, my := sx/n, sy/n
	cxx, cxy, cyy := sxx/n-mx*mx, sxy/n-mx*my, syy/n-my*my
	half, root := (cxx+cyy)/2, math.Sqrt((cxx-cyy)*(cxx-cyy)/4+cxy*cxy)
	long, narrow := math.Sqrt(12*(half+root)), math.Sqrt(12*max(0, half-root))
	if long < 2.2*PerMM || narrow > 1.3*PerMM || narrow > long/3 {
		return nil
	}
	angle := math.Atan2(2*cxy, cxx-cyy) / 2
	return &line{middle: point{mx, my}, along: point{math.Cos(angle), math.Sin(angle)}, length: long}
}
