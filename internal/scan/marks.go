package scan

import (
	"cmp"
	"image"
	"math"
	"slices"
)

// A blob is a dark patch of a photo that may be a corner mark.
type blob struct {
	center point
	area   float64 // pixels, its hole included
	open   bool    // whether it has a hole in the middle, as the lower right mark has
}

// mostBlobs bounds the search among them; a photo of a sheet has some twenty.
const mostBlobs = 40

// blobs returns the dark patches of g that look like squares seen at an angle: filled, or with a hole in the middle.
func blobs(g *image.Gray) []blob {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	dark := darkPixels(g)
	longer := max(w, h)
	most := longer / 22
	var found []blob
	stack := make([]int32, 0, 4096)
	for start := range dark {
		if dark[start] != 1 {
			continue
		}
		// Flood the patch; 2 marks what was visited.
		box := image.Rectangle{}
		stack = append(stack[:0], int32(start))
		dark[start] = 2
		for i := 0; i < len(stack); i++ {
			p := int(stack[i])
			x, y := p%w, p/w
			box = box.Union(image.Rect(x, y, x+1, y+1))
			for _, q := range [4]int{p - 1, p + 1, p - w, p + w} {
				if q >= 0 && q < len(dark) && dark[q] == 1 && (q/w == y || q%w == x) {
					dark[q] = 2
					stack = append(stack, int32(q))
				}
			}
		}
		if len(stack) < 30 || box.Dx() > most || box.Dy() > most || box.Dx() > 4*box.Dy() || box.Dy() > 4*box.Dx() {
			continue
		}
		if b, ok := square(stack, box, w); ok && standsOut(g, box, stack) {
			found = append(found, b)
		}
	}
	slices.SortFunc(found, func(a, b blob) int { return cmp.Compare(b.area, a.area) })
	return found[:min(len(found), mostBlobs)]
}

// darkPixels marks with 1 what is darker than its surroundings, a tenth of the photo wide (Bradley & Roth 2007, Adaptive
// Thresholding Using the Integral Image).
func darkPixels(g *image.Gray) []uint8 {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	sums := integral(g.Pix, g.Stride, w, h)
	half := max(w, h) / 20
	dark := make([]uint8, w*h)
	for y := range h {
		y0, y1 := max(0, y-half), min(h, y+half+1)
		for x := range w {
			x0, x1 := max(0, x-half), min(w, x+half+1)
			mean := sums.of(x0, y0, x1, y1) / ((x1 - x0) * (y1 - y0))
			if int(g.Pix[y*g.Stride+x])*4 < mean*3 {
				dark[y*w+x] = 1
			}
		}
	}
	return dark
}

// sums holds for each corner of a pixel the sum of all above and left of it.
type sums struct {
	w   int // pixels in a row
	all []uint32
}

func integral(pix []uint8, stride, w, h int) sums {
	s := sums{w, make([]uint32, (w+1)*(h+1))}
	for y := range h {
		row := uint32(0)
		for x := range w {
			row += uint32(pix[y*stride+x])
			s.all[(y+1)*(w+1)+x+1] = s.all[y*(w+1)+x+1] + row
		}
	}
	return s
}

func (s *sums) of(x0, y0, x1, y1 int) int {
	w := s.w + 1
	return int(s.all[y1*w+x1] - s.all[y0*w+x1] - s.all[y1*w+x0] + s.all[y0*w+x0])
}

// square tells whether a patch has a square's shape as seen at an angle. Of a filled parallelogram, area² is 144 times the
// determinant of its pixels' covariance; an ellipse has 158.
func square(pixels []int32, box image.Rectangle, w int) (blob, bool) {
	bw, bh := box.Dx(), box.Dy()
	in := make([]uint8, bw*bh)
	for _, p := range pixels {
		in[(int(p)/w-box.Min.Y)*bw+int(p)%w-box.Min.X] = 1
	}
	holes := fillHoles(in, bw, bh)
	var n, sx, sy, sxx, sxy, syy float64
	for i, v := range in {
		if v == 2 {
			continue // outside
		}
		x, y := float64(i%bw), float64(i/bw)
		n++
		sx, sy = sx+x, sy+y
		sxx, sxy, syy = sxx+x*x, sxy+x*y, syy+y*y
	}
	mx, my := sx/n, sy/n
	cxx, cxy, cyy := sxx/n-mx*mx+1.0/12, sxy/n-mx*my, syy/n-my*my+1.0/12
	det := cxx*cyy - cxy*cxy
	hole := float64(holes) / n // of the lower right mark, 4 of 25
	b := blob{point{float64(box.Min.X) + mx + .5, float64(box.Min.Y) + my + .5}, n, hole > .04}
	fill := n / (12 * math.Sqrt(det))
	trace := cxx + cyy
	longer, shorter := trace/2+math.Sqrt(trace*trace/4-det), trace/2-math.Sqrt(max(0, trace*trace/4-det))
	return b, fill > .88 && fill < 1.1 && longer < 6*shorter && hole < .3
}

// fillHoles marks with 2 what lies outside of the patch of ones, and returns how many pixels lie in its holes.
func fillHoles(in []uint8, w, h int) int {
	var stack []int
	visit := func(i int) {
		if in[i] == 0 {
			in[i] = 2
			stack = append(stack, i)
		}
	}
	for x := range w {
		visit(x)
		visit((h-1)*w + x)
	}
	for y := range h {
		visit(y * w)
		visit(y*w + w - 1)
	}
	for len(stack) > 0 {
		i := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		if x := i % w; x > 0 {
			visit(i - 1)
		}
		if x := i % w; x < w-1 {
			visit(i + 1)
		}
		if i >= w {
			visit(i - w)
		}
		if i < (h-1)*w {
			visit(i + w)
		}
	}
	holes := 0
	for _, v := range in {
		if v == 0 {
			holes++
		}
	}
	return holes
}

// standsOut tells whether a patch is much darker than what lies around it.
func standsOut(g *image.Gray, box image.Rectangle, pixels []int32) bool {
	inside := 0
	for _, p := range pixels {
		inside += int(g.Pix[int(p)/g.Rect.Dx()*g.Stride+int(p)%g.Rect.Dx()])
	}
	inside /= len(pixels)
	ring := box.Inset(-max(2, min(box.Dx(), box.Dy())/5)).Intersect(g.Rect)
	around, n := 0, 0
	for x := ring.Min.X; x < ring.Max.X; x++ {
		around += int(g.Pix[ring.Min.Y*g.Stride+x]) + int(g.Pix[(ring.Max.Y-1)*g.Stride+x])
		n += 2
	}
	for y := ring.Min.Y; y < ring.Max.Y; y++ {
		around += int(g.Pix[y*g.Stride+ring.Min.X]) + int(g.Pix[y*g.Stride+ring.Max.X-1])
		n += 2
	}
	return inside*10 < around/n*7
}

// A frame is four blobs that may be the corner marks of a sheet, in order around it: as seen, clockwise. The first is the
// likeliest upper left one.
type frame struct {
	corners [4]point
	off     float64 // how badly the sizes of the marks go with the size of the frame
}

// frames returns the likeliest sets of corner marks, best first: those whose marks have the size that marks in a frame of that
// size have.
func frames(all []blob, markSide, wide, tall float64) []frame {
	var found []frame
	for a := range all {
		for b := a + 1; b < len(all); b++ {
			if all[b].area*5 < all[a].area {
				break // sorted by area: marks of one photo do not differ by more
			}
			for c := b + 1; c < len(all); c++ {
				if all[c].area*5 < all[a].area {
					break
				}
				for d := c + 1; d < len(all); d++ {
					if all[d].area*5 < all[a].area {
						break
					}
					if f, ok := frameOf([4]blob{all[a], all[b], all[c], all[d]}, markSide, wide, tall); ok {
						found = append(found, f)
					}
				}
			}
		}
	}
	slices.SortFunc(found, func(f, g frame) int { return cmp.Compare(f.off, g.off) })
	return found
}

func frameOf(four [4]blob, markSide, wide, tall float64) (frame, bool) {
	var mid point
	for _, b := range four {
		mid.x, mid.y = mid.x+b.center.x/4, mid.y+b.center.y/4
	}
	slices.SortFunc(four[:], func(a, b blob) int {
		return cmp.Compare(math.Atan2(a.center.y-mid.y, a.center.x-mid.x), math.Atan2(b.center.y-mid.y, b.center.x-mid.x))
	})
	// A quick look before the exact one: the frame is some two thousand times as large as a mark.
	p := func(i int) point { return four[i%4].center }
	around := 0.0
	for i := range 4 {
		around += p(i).x*p(i+1).y - p(i+1).x*p(i).y
		if cross(p(i), p(i+1), p(i+2)) <= 0 {
			return frame{}, false
		}
	}
	times := wide * tall / (markSide * markSide)
	if r := around / 2 / ((four[0].area + four[1].area + four[2].area + four[3].area) / 4) / times; r < .5 || r > 2 {
		return frame{}, false
	}
	// The open mark is lower right; where its hole is not seen, any may be.
	open := slices.IndexFunc(four[:], func(b blob) bool { return b.open })
	if open >= 0 && slices.ContainsFunc(four[open+1:], func(b blob) bool { return b.open }) {
		return frame{}, false
	}
	var f frame
	first := (open + 2 + 4) % 4
	for i := range 4 {
		f.corners[i] = p(first + i)
	}
	h, ok := planeOf([4]point{{0, 0}, {wide, 0}, {wide, tall}, {0, tall}}, f.corners)
	if !ok {
		return frame{}, false
	}
	for i, at := range [4]point{{0, 0}, {wide, 0}, {wide, tall}, {0, tall}} {
		want := h.area(at.x, at.y) * markSide * markSide
		off := math.Abs(math.Log(four[(first+i)%4].area / want))
		if want <= 0 || off > .55 {
			return frame{}, false
		}
		f.off += off
	}
	if open < 0 {
		f.off += .3
	}
	return f, true
}

func cross(a, b, c point) float64 { return (b.x-a.x)*(c.y-b.y) - (b.y-a.y)*(c.x-b.x) }
