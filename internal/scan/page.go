package scan

import "image"

// PerMM is how many pixels of a straightened page stand for a millimeter: about 150 dots an inch, at which pencil stays
// readable.
const PerMM = 6

// A page is a straightened photo of a sheet, as ink: how much darker each pixel is than the paper around it, from 0 to 255.
type page struct {
	w, h int
	ink  []uint8
	sums sums
}

// inkOf evens out the light: shadows and stains are wider than strokes.
func inkOf(g *image.Gray) *page {
	p := &page{w: g.Rect.Dx(), h: g.Rect.Dy()}
	const cell = 6 * PerMM
	cols, rows := (p.w+cell-1)/cell, (p.h+cell-1)/cell
	hist := make([][256]int32, cols*rows)
	for y := range p.h {
		for x := range p.w {
			hist[y/cell*cols+x/cell][g.Pix[y*g.Stride+x]]++
		}
	}
	white := make([]float64, cols*rows)
	for i := range white {
		white[i] = float64(max(1, paperWhite(hist, cols, rows, i%cols, i/cols)))
	}
	p.ink = make([]uint8, p.w*p.h)
	for y := range p.h {
		cy := (float64(y)+.5)/cell - .5
		for x := range p.w {
			w := between(white, cols, rows, (float64(x)+.5)/cell-.5, cy)
			p.ink[y*p.w+x] = uint8(max(0, 255*(1-float64(g.Pix[y*g.Stride+x])/w)))
		}
	}
	p.sums = integral(p.ink, p.w, p.w, p.h)
	return p
}

// paperWhite returns how bright the paper is about a cell: what four fifths of the pixels in it and the cells beside it do not
// exceed.
func paperWhite(hist [][256]int32, cols, rows, x, y int) int {
	var all [256]int32
	n := int32(0)
	for cy := max(0, y-1); cy <= min(rows-1, y+1); cy++ {
		for cx := max(0, x-1); cx <= min(cols-1, x+1); cx++ {
			for v, count := range hist[cy*cols+cx] {
				all[v] += count
				n += count
			}
		}
	}
	below := int32(0)
	for v, count := range all {
		if below += count; below*5 >= n*4 {
			return v
		}
	}
	return 255
}

// between returns a value between those of a grid.
func between(grid []float64, cols, rows int, x, y float64) float64 {
	x, y = min(max(x, 0), float64(cols-1)), min(max(y, 0), float64(rows-1))
	x0, y0 := min(int(x), max(0, cols-2)), min(int(y), max(0, rows-2))
	x1, y1 := min(x0+1, cols-1), min(y0+1, rows-1)
	fx, fy := x-float64(x0), y-float64(y0)
	top := grid[y0*cols+x0] + fx*(grid[y0*cols+x1]-grid[y0*cols+x0])
	low := grid[y1*cols+x0] + fx*(grid[y1*cols+x1]-grid[y1*cols+x0])
	return top + fy*(low-top)
}

// mean returns how much ink there is on average within x0, y0 and x1, y1, in pixels.
func (p *page) mean(x0, y0, x1, y1 int) float64 {
	x0, y0, x1, y1 = max(0, x0), max(0, y0), min(p.w, x1), min(p.h, y1)
	if x1 <= x0 || y1 <= y0 {
		return 0
	}
	return float64(p.sums.of(x0, y0, x1, y1)) / float64((x1-x0)*(y1-y0))
}

// picture returns the page as a picture, as it is now.
func (p *page) picture() *image.Gray {
	g := image.NewGray(image.Rect(0, 0, p.w, p.h))
	for i, ink := range p.ink {
		g.Pix[i] = 255 - ink
	}
	return g
}

// at returns the ink at a pixel, none outside of the page.
func (p *page) at(x, y int) float64 {
	if x < 0 || y < 0 || x >= p.w || y >= p.h {
		return 0
	}
	return float64(p.ink[y*p.w+x])
}
