package scan

import (
	"image"

	"tussock/internal/paper"
)

// searched is how long the longer side of a photo is, in pixels, when its corner marks are looked for.
const searched = 1500

// find looks for a sheet in a photo: its code, which page it is, and where the paper lies.
func find(photo *image.Gray) (line string, s paper.Sheet, h plane, err error) {
	k := max(1, max(photo.Rect.Dx(), photo.Rect.Dy())/searched)
	all := blobs(shrink(photo, k))
	marks := marksOf(paper.Letter)
	found := frames(all, paper.Letter.Marks()[0].W, marks[1].x-marks[0].x, marks[2].y-marks[1].y)
	for _, f := range found[:min(len(found), 5)] {
		for turn := range 4 {
			for _, size := range paper.Sizes {
				h, ok := f.plane(size, turn)
				if !ok {
					continue
				}
				h = h.scaled(float64(k))
				text, ok := readCode(photo, h, size)
				if !ok {
					continue
				}
				if line, s, err = paper.ParseCode(text); err != nil {
					return line, s, h, errOld
				}
				h, _ = f.plane(s.Size, turn)
				return line, s, h.scaled(float64(k)), nil
			}
		}
	}
	if len(found) > 0 {
		return "", s, h, errNoCode
	}
	return "", s, h, errNoSheet
}

// marksOf returns the centers of the corner marks clockwise from the upper left.
func marksOf(size paper.Size) [4]point {
	var list [4]point
	for i, m := range size.Marks() {
		list[[4]int{0, 1, 3, 2}[i]] = point{m.X + m.W/2, m.Y + m.H/2}
	}
	return list
}

// plane returns the plane of a frame around a sheet of that size, turned by so many quarters.
func (f *frame) plane(size paper.Size, turn int) (plane, bool) {
	var corners [4]point
	for i := range 4 {
		corners[i] = f.corners[(i+turn)%4]
	}
	return planeOf(marksOf(size), corners)
}

// shrink returns the photo k times smaller, each pixel the mean of those it stands for.
func shrink(g *image.Gray, k int) *image.Gray {
	if k == 1 {
		return g
	}
	out := image.NewGray(image.Rect(0, 0, g.Rect.Dx()/k, g.Rect.Dy()/k))
	row := make([]int, out.Rect.Dx())
	for y := range out.Rect.Dy() {
		clear(row)
		for dy := range k {
			from := g.Pix[(y*k+dy)*g.Stride:]
			for x := range row {
				for _, v := range from[x*k : x*k+k] {
					row[x] += int(v)
				}
			}
		}
		for x, sum := range row {
			out.Pix[y*out.Stride+x] = uint8(sum / (k * k))
		}
	}
	return out
}
