package scan

import "math"

// stride is how far a walk along a line goes at once, in pixels, and ahead how far it looks for where the line goes on.
const stride, ahead = PerMM, 5 * PerMM

// A walk is what is found on going along a line from its middle, one way.
type walk struct {
	path []point // a stride apart
	on   []bool  // where the line is seen
	free []bool  // where it could be: not beside print
	own  int     // steps that lie on the stroke itself
}

// walk goes along a line as far as so many pixels or to the page's edge, and bends with it a little.
func (p *page) walk(l *line, way, to float64) walk {
	u := point{l.along.x * way, l.along.y * way}
	at := point{l.middle.x + u.x*l.length/4, l.middle.y + u.y*l.length/4}
	turns := 4 // the direction of so short a stroke is not known well
	w := walk{own: int(l.length/4)/stride + 2}
	for far := l.length / 4; far < to; far += stride {
		best, from, dir, free := .5, at, u, false
		for t := -turns; t <= turns; t++ {
			turn := float64(t) * .015
			v := unit(point{u.x - turn*u.y, u.y + turn*u.x})
			for d := -2.0; d <= 2; d++ {
				q := point{at.x - d*v.y, at.y + d*v.x}
				share, ok := p.seen(q, v, l.strong)
				free = free || ok
				// Straight on where that is as good.
				if share -= .01 * (math.Abs(d) + math.Abs(float64(t))); ok && share > best {
					best, from, dir = share, q, v
				}
			}
		}
		at, u = from, dir
		w.path, w.on, w.free = append(w.path, at), append(w.on, best > .5), append(w.free, free)
		if best > .5 {
			turns = 2
		}
		at = point{at.x + stride*u.x, at.y + stride*u.y}
		if at.x < 1 || at.y < 1 || at.x >= float64(p.w-2) || at.y >= float64(p.h-2) {
			break
		}
	}
	return w
}

// seen returns on what share of the way ahead from a place there is a line of that strength, and false where too much of the
// way lies on or beside print.
func (p *page) seen(at, u point, strong float64) (share float64, free bool) {
	on, n := 0, 0
	for i := range ahead {
		q := point{at.x + float64(i)*u.x, at.y + float64(i)*u.y}
		ink := p.beside(q, u, 0)
		near := max(p.beside(q, u, PerMM), p.beside(q, u, -PerMM))
		far := max(p.beside(q, u, PerMM+4), p.beside(q, u, -PerMM-4))
		if ink > 2*strong || max(near, far) > .7*strong {
			continue
		}
		n++
		if ink-near > .35*strong {
			on++
		}
	}
	if n*3 < ahead {
		return 0, false
	}
	return float64(on) / float64(n), true
}

// beside returns the ink so far beside a place, seen along u.
func (p *page) beside(at, u point, d float64) float64 {
	return p.at(int(at.x-d*u.y+.5), int(at.y+d*u.x+.5))
}

func unit(p point) point {
	n := math.Hypot(p.x, p.y)
	return point{p.x / n, p.y / n}
}

// share returns on how many of its first four free steps beyond the stroke itself the line is seen, on what share of all its free
// steps, and on what share of those near its end.
func (w *walk) share() (first int, all, last float64) {
	var on, free [2]float64
	seen := 0
	for i := min(w.own, len(w.path)); i < len(w.path); i++ {
		if !w.free[i] {
			continue
		}
		half := 0
		if i >= len(w.path)-12 {
			half = 1
		}
		free[half]++
		if w.on[i] {
			on[half]++
			if seen < 4 {
				first++
			}
		}
		seen++
	}
	return first, (on[0] + on[1]) / max(1, free[0]+free[1]), on[1] / max(1, free[1])
}

// through tells whether a line goes on beyond a box on both sides, as neither a tick nor a slash does.
func (p *page) through(l *line) bool {
	for _, way := range []float64{1, -1} {
		w := p.walk(l, way, 20*PerMM)
		if first, _, _ := w.share(); first < 3 {
			return false
		}
	}
	return true
}

// foldStrong is how dark folds are at most.
const foldStrong = 80

// crease tells whether a line is a fold of the paper, and returns where it is seen: a fold goes from edge to edge, also where
// nothing is printed and nobody writes.
func (p *page) crease(l *line) ([]point, bool) {
	if l.strong > foldStrong {
		return nil, false
	}
	var path []point
	for _, way := range []float64{1, -1} {
		w := p.walk(l, way, math.Inf(1))
		first, all, last := w.share()
		if first < 3 || all < .6 || last < .6 {
			return nil, false
		}
		for i, at := range w.path {
			if w.on[i] || !w.free[i] {
				path = append(path, at)
			}
		}
	}
	return path, true
}

// smooth takes a crease of that strength out of the page. What is much darker on it is something else.
func (p *page) smooth(path []point, strong float64) {
	const half = 7 // pixels
	for _, at := range path {
		for y := max(0, int(at.y)-half-stride/2); y <= min(p.h-1, int(at.y)+half+stride/2); y++ {
			for x := max(0, int(at.x)-half-stride/2); x <= min(p.w-1, int(at.x)+half+stride/2); x++ {
				if i := y*p.w + x; float64(p.ink[i]) < 1.6*strong && math.Hypot(float64(x)-at.x, float64(y)-at.y) <= half+1 {
					p.ink[i] = 0
				}
			}
		}
	}
}
