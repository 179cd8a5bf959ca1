package scan

import (
	"cmp"
	"math"
	"slices"

	"tussock/internal/paper"
)

// A shift is how far a part of the page lies from where the layout has it, in pixels: paper is never quite flat.
type shift struct{ x, y int }

// A patch is up to patchSize boxes beside one another, which are shifted about alike.
type patch struct {
	boxes   []paper.Rect
	middle  point // in millimeters
	shift   shift
	outline float64 // how much darker the outlines of the boxes are there than what lies inside them
	own     []shift // of each box, close to that of the patch
}

const patchSize = 5

// A fit is where the boxes of a page's fields lie in a photo of it.
type fit struct {
	patches []patch
	of      [][]int // for each field, the patch of its first box, of its sixth, and so on
	clear   []patch // those whose outlines are seen well: not where all boxes are filled
}

// How far a patch may lie from where the layout has it, from where those around it say, and a box from its patch, in pixels.
const farPage, farPatch, farBox = 3 * PerMM, PerMM * 2 / 3, PerMM / 2

// fit finds the boxes: each patch for itself, then once more near to what the patches around it say.
func (p *page) fit(fields []Field) *fit {
	f := &fit{of: make([][]int, len(fields))}
	for i := range fields {
		for boxes := range slices.Chunk(fields[i].Boxes, patchSize) {
			t := patch{boxes: boxes, middle: middle(boxes[0].Union(boxes[len(boxes)-1]))}
			t.find(p, shift{}, farPage)
			f.of[i] = append(f.of[i], len(f.patches))
			f.patches = append(f.patches, t)
		}
	}
	f.clear = clearOf(f.patches)
	for i := range f.patches {
		t := &f.patches[i]
		t.find(p, f.around(t.middle), farPatch)
		for _, b := range t.boxes {
			one := patch{boxes: []paper.Rect{b}}
			one.find(p, t.shift, farBox)
			t.own = append(t.own, one.shift)
		}
	}
	f.clear = clearOf(f.patches)
	return f
}

// box returns the patch and the shift of one box of a field.
func (f *fit) box(field, i int) (*patch, shift) {
	t := &f.patches[f.of[field][i/patchSize]]
	return t, t.own[i%patchSize]
}

// find looks for the shift within far pixels of near at which the outlines are darkest; of two that are as good, the nearer.
func (t *patch) find(p *page, near shift, far int) {
	best := math.Inf(-1)
	for dy := -far; dy <= far; dy++ {
		for dx := -far; dx <= far; dx++ {
			s, sum := shift{near.x + dx, near.y + dy}, 0.0
			for _, b := range t.boxes {
				sum += p.outline(b, s)
			}
			sum /= float64(len(t.boxes))
			if score := sum - .5*math.Hypot(float64(dx), float64(dy)); score > best {
				best, t.shift, t.outline = score, s, sum
			}
		}
	}
}

// outline returns how much darker the outline of a box is than what lies just inside it, where the box is shifted so.
func (p *page) outline(b paper.Rect, s shift) float64 {
	x0, y0 := int(math.Round(b.X*PerMM))+s.x, int(math.Round(b.Y*PerMM))+s.y
	x1, y1 := int(math.Round((b.X+b.W)*PerMM))+s.x, int(math.Round((b.Y+b.H)*PerMM))+s.y
	const in = 5 // pixels from the outline to where it is white
	line := p.mean(x0, y0-1, x1, y0+1) + p.mean(x0, y1-1, x1, y1+1) + p.mean(x0-1, y0, x0+1, y1) + p.mean(x1-1, y0, x1+1, y1)
	inside := p.mean(x0+in, y0+in, x1-in, y0+in+2) + p.mean(x0+in, y1-in-2, x1-in, y1-in) +
		p.mean(x0+in, y0+in, x0+in+2, y1-in) + p.mean(x1-in-2, y0+in, x1-in, y1-in)
	return (line - inside) / 4
}

// clearOf returns the patches whose outlines are seen at least half as well as is usual on the page.
func clearOf(patches []patch) []patch {
	var outlines []float64
	for i := range patches {
		outlines = append(outlines, patches[i].outline)
	}
	usual := median(outlines)
	limit := min(usual, usual/2)
	return slices.DeleteFunc(slices.Clone(patches), func(t patch) bool { return t.outline < limit })
}

// near returns the nine clear patches nearest to a place.
func (f *fit) near(at point) []patch {
	near := slices.Clone(f.clear)
	far := func(t patch) float64 { return math.Hypot(t.middle.x-at.x, t.middle.y-at.y) }
	slices.SortFunc(near, func(a, b patch) int { return cmp.Compare(far(a), far(b)) })
	return near[:min(9, len(near))]
}

// around returns the median shift near a place.
func (f *fit) around(at point) shift {
	var xs, ys []int
	for _, t := range f.near(at) {
		xs, ys = append(xs, t.shift.x), append(ys, t.shift.y)
	}
	return shift{median(xs), median(ys)}
}

// median returns the middle of a list, the upper one of two.
func median[T cmp.Ordered](list []T) T {
	sorted := slices.Sorted(slices.Values(list))
	return sorted[len(sorted)/2]
}

func middle(r paper.Rect) point { return point{r.X + r.W/2, r.Y + r.H/2} }
