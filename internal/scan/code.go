package scan

import (
	"image"
	"math"
	"slices"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode/decoder"

	"tussock/internal/paper"
)

// codePerMM is how many pixels a millimeter the QR code is read with.
const codePerMM = 12

// codeMargin is how far around its place the QR code is looked for, in millimeters.
const codeMargin = 2.5

// readCode returns what the QR code says where it should stand, and false where it cannot be read. That its place and its
// size are known lets it be read in photos too small or too blurred for a search: its modules are looked up between its three
// finder patterns, and what they say is left to a library (ISO/IEC 18004).
func readCode(photo *image.Gray, h plane, size paper.Size) (string, bool) {
	at := size.Code()
	part := h.straighten(photo, at.X-codeMargin, at.Y-codeMargin, at.W+2*codeMargin, at.H+2*codeMargin, codePerMM)
	// As many modules as codes of the versions 2 to 5 have: addresses of 20 to 80 letters.
	for _, modules := range []int{29, 33, 25, 37} {
		grid, ok := findGrid(part, at.W, modules)
		if !ok {
			continue
		}
		values := grid.values(part, modules)
		for _, sd := range []float64{.5, .01, .7, .6, .85} {
			if text, ok := decode(sharpen(values, modules, sd), modules); ok {
				return text, true
			}
		}
	}
	return "", false
}

// A grid is where the modules of a code lie in a picture: the corner of the first one, and one step to the right and down.
type grid struct{ origin, right, down point }

// findGrid finds the three finder patterns of a code of so many modules.
func findGrid(part *image.Gray, side float64, modules int) (grid, bool) {
	m := side / float64(modules+8) * codePerMM // pixels a module
	first := codeMargin*codePerMM + 4*m + 3.5*m
	last := first + float64(modules-7)*m
	var found [3]point
	for i, at := range [3]point{{first, first}, {last, first}, {first, last}} {
		var ok bool
		if found[i], ok = findPattern(part, at, m); !ok {
			return grid{}, false
		}
	}
	n := float64(modules - 7)
	g := grid{right: point{(found[1].x - found[0].x) / n, (found[1].y - found[0].y) / n}, down: point{(found[2].x - found[0].x) / n, (found[2].y - found[0].y) / n}}
	g.origin = point{found[0].x - 3.5*(g.right.x+g.down.x), found[0].y - 3.5*(g.right.y+g.down.y)}
	return g, true
}

// findPattern looks near a place for the center of a finder pattern: seven modules wide, dark but for a white ring.
func findPattern(part *image.Gray, near point, m float64) (point, bool) {
	const far = codeMargin * codePerMM
	best, at := math.Inf(-1), near
	for dy := -far; dy <= far; dy += 2 {
		for dx := -far; dx <= far; dx += 2 {
			c := point{near.x + dx, near.y + dy}
			if v := pattern(part, c, m); v > best {
				best, at = v, c
			}
		}
	}
	return at, best > 20
}

// pattern returns how much brighter the white rings of a finder pattern at a place are than its dark ones.
func pattern(part *image.Gray, c point, m float64) float64 {
	var sum, n [2]float64
	for y := -4; y <= 4; y++ {
		for x := -4; x <= 4; x++ {
			white := 0
			if ring := max(x, -x, y, -y); ring == 2 || ring == 4 {
				white = 1
			}
			sum[white] += sample(part, c.x+float64(x)*m, c.y+float64(y)*m)
			n[white]++
		}
	}
	return sum[1]/n[1] - sum[0]/n[0]
}

// values returns how bright each module is, row by row, from 0 for dark to 1 for white.
func (g *grid) values(part *image.Gray, modules int) []float64 {
	values := make([]float64, modules*modules)
	for i := range values {
		for _, dy := range []float64{.3, .5, .7} {
			for _, dx := range []float64{.3, .5, .7} {
				x, y := float64(i%modules)+dx, float64(i/modules)+dy
				values[i] += sample(part, g.origin.x+x*g.right.x+y*g.down.x, g.origin.y+x*g.right.y+y*g.down.y) / 9
			}
		}
	}
	sorted := slices.Sorted(slices.Values(values))
	dark, white := sorted[len(sorted)/20], sorted[len(sorted)*19/20]
	for i, v := range values {
		values[i] = (v - dark) / max(1, white-dark)
	}
	return values
}

// sharpen takes blur out of the values of modules, from 0 for dark to 1 for white, by looking again and again at what the
// picture so far would look like blurred (van Cittert 1931). sd is how wide the blur is, in modules.
func sharpen(values []float64, side int, sd float64) []float64 {
	phi := func(x float64) float64 { return (1 + math.Erf(x/sd/math.Sqrt2)) / 2 }
	var taps [3]float64 // of a module itself, and of those one and two beside it
	for i := range taps {
		taps[i] = phi(float64(i)+.5) - phi(float64(i)-.5)
	}
	out, across, blurred := slices.Clone(values), make([]float64, len(values)), make([]float64, len(values))
	blur := func(to, from []float64, step int, at func(i int) int) {
		for i := range from {
			sum, weight := 0.0, 0.0
			for d := -2; d <= 2; d++ {
				if x := at(i) + d; x >= 0 && x < side {
					sum += taps[max(d, -d)] * from[i+d*step]
					weight += taps[max(d, -d)]
				}
			}
			// Around the code it is white.
			to[i] = sum + 1 - weight
		}
	}
	for range 12 {
		blur(across, out, 1, func(i int) int { return i % side })
		blur(blurred, across, side, func(i int) int { return i / side })
		for i := range out {
			out[i] = min(1, max(0, out[i]+values[i]-blurred[i]))
		}
	}
	return out
}

// decode returns what the modules say, and false where errors are more than the code can mend.
func decode(values []float64, modules int) (string, bool) {
	bits, err := gozxing.NewBitMatrix(modules, modules)
	if err != nil {
		return "", false
	}
	for i, v := range values {
		if v < .5 {
			bits.Set(i%modules, i/modules)
		}
	}
	got, err := decoder.NewDecoder().Decode(bits, nil)
	if err != nil {
		return "", false
	}
	return got.GetText(), true
}
