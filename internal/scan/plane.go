package scan

import (
	"image"
	"math"

	"gonum.org/v1/gonum/mat"
)

// A point is a place in a photo, in pixels, or on paper, in millimeters.
type point struct{ x, y float64 }

// A plane tells where in a photo a place on the paper is seen: a homography, which is exact for flat paper and a lens without
// distortion (Hartley & Zisserman, Multiple View Geometry, 2nd ed., 2.3).
type plane [9]float64

// planeOf returns the plane that shows four places on paper at four points of a photo, and false where three of them lie on
// one line.
func planeOf(paper, photo [4]point) (plane, bool) {
	a, b := mat.NewDense(8, 8, nil), mat.NewVecDense(8, nil)
	for i := range paper {
		p, q := paper[i], photo[i]
		a.SetRow(2*i, []float64{p.x, p.y, 1, 0, 0, 0, -p.x * q.x, -p.y * q.x})
		a.SetRow(2*i+1, []float64{0, 0, 0, p.x, p.y, 1, -p.x * q.y, -p.y * q.y})
		b.SetVec(2*i, q.x)
		b.SetVec(2*i+1, q.y)
	}
	var x mat.VecDense
	if err := x.SolveVec(a, b); err != nil {
		return plane{}, false
	}
	var h plane
	copy(h[:], x.RawVector().Data)
	h[8] = 1
	return h, true
}

// at returns where a place on paper is seen.
func (h *plane) at(x, y float64) point {
	w := h[6]*x + h[7]*y + h[8]
	return point{(h[0]*x + h[1]*y + h[2]) / w, (h[3]*x + h[4]*y + h[5]) / w}
}

// area returns how many pixels a square millimeter at a place takes up; negative where the paper is seen in a mirror.
func (h *plane) area(x, y float64) float64 {
	w := h[6]*x + h[7]*y + h[8]
	det := h[0]*(h[4]*h[8]-h[5]*h[7]) - h[1]*(h[3]*h[8]-h[5]*h[6]) + h[2]*(h[3]*h[7]-h[4]*h[6])
	return det / (w * w * w)
}

// scaled returns the plane in a photo that is k times as large.
func (h plane) scaled(k float64) plane {
	for i := range 6 {
		h[i] *= k
	}
	return h
}

// straighten returns a part of the paper as it looks from straight above, with so many pixels a millimeter. Each of its pixels is the
// mean of those that it stands for; what lies outside of the photo is gray.
func (h *plane) straighten(photo *image.Gray, x0, y0, wide, tall, perMM float64) *image.Gray {
	out := image.NewGray(image.Rect(0, 0, int(wide*perMM), int(tall*perMM)))
	density := math.Sqrt(math.Abs(h.area(x0+wide/2, y0+tall/2))) / perMM
	n := min(max(int(math.Round(density)), 1), 4)
	step := 1 / (perMM * float64(n))
	for py := range out.Rect.Dy() {
		for px := range out.Rect.Dx() {
			sum := 0.0
			for j := range n {
				y := y0 + (float64(py*n+j)+.5)*step
				for i := range n {
					at := h.at(x0+(float64(px*n+i)+.5)*step, y)
					sum += sample(photo, at.x, at.y)
				}
			}
			out.Pix[py*out.Stride+px] = uint8(sum/float64(n*n) + .5)
		}
	}
	return out
}

// sample returns how bright the photo is between its pixels, whose centers lie at halves.
func sample(g *image.Gray, x, y float64) float64 {
	x, y = x-.5, y-.5
	w, h := g.Rect.Dx(), g.Rect.Dy()
	if !(x >= 0 && y >= 0 && x < float64(w-1) && y < float64(h-1)) {
		return 128
	}
	xi, yi := int(x), int(y)
	fx, fy := x-float64(xi), y-float64(yi)
	p := g.Pix[yi*g.Stride+xi:]
	q := p[g.Stride:]
	top := float64(p[0]) + fx*(float64(p[1])-float64(p[0]))
	low := float64(q[0]) + fx*(float64(q[1])-float64(q[0]))
	return top + fy*(low-top)
}
