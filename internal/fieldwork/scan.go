package fieldwork

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	_ "image/png" // read, not written

	"tussock/internal/errs"
)

// Limits of a picture of a sheet as it comes from a phone or a scanner.
const (
	MaxScan     = 12 << 20   // bytes
	scanPixels  = 26_000_000 // of the picture that comes in
	scanLonger  = 1800       // pixels of the longer side of the one that is kept: pencil stays readable
	scanQuality = 70
)

// CleanScan returns a smaller picture of a filled sheet as a grey JPEG of at most MaxPhoto bytes. It is drawn anew, so that
// nothing a file carries beside its picture, such as where it was taken, is kept. errs.Invalid for what is no picture,
// errs.TooLarge for one that is too big.
func CleanScan(data []byte) ([]byte, error) {
	const tooBig = "This picture is too big. Take it with a smaller setting, up to 24 megapixels, and send it again."
	if len(data) > MaxScan {
		return nil, errs.New(errs.TooLarge, tooBig)
	}
	size, _, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, errs.Hide(errs.Invalid, "This is not a picture we can read. Send a JPEG or a PNG.", err)
	}
	if size.Width < 1 || size.Height < 1 || size.Width > scanPixels/size.Height {
		return nil, errs.New(errs.TooLarge, tooBig)
	}
	pic, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, errs.Hide(errs.Invalid, "This picture is damaged. Take another.", err)
	}
	small := shrink(pic)
	for quality := scanQuality; quality >= 10; quality -= 20 {
		var b bytes.Buffer
		if err := jpeg.Encode(&b, small, &jpeg.Options{Quality: quality}); err != nil {
			return nil, err
		}
		if b.Len() <= MaxPhoto {
			return b.Bytes(), nil
		}
	}
	return nil, errs.New(errs.TooLarge, tooBig)
}

// shrink makes pic grey and no longer than scanLonger, each pixel the mean of those it stands for: thin pencil would fall
// through a sparser net.
func shrink(pic image.Image) *image.Gray {
	b := pic.Bounds()
	longer := max(b.Dx(), b.Dy())
	w, h := b.Dx(), b.Dy()
	if longer > scanLonger {
		w, h = max(1, b.Dx()*scanLonger/longer), max(1, b.Dy()*scanLonger/longer)
	}
	out := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		y0, y1 := b.Min.Y+y*b.Dy()/h, b.Min.Y+(y+1)*b.Dy()/h
		for x := range w {
			x0, x1 := b.Min.X+x*b.Dx()/w, b.Min.X+(x+1)*b.Dx()/w
			sum, n := 0, 0
			for yy := y0; yy < y1; yy++ {
				for xx := x0; xx < x1; xx++ {
					sum += int(color.GrayModel.Convert(pic.At(xx, yy)).(color.Gray).Y)
					n++
				}
			}
			out.Pix[y*out.Stride+x] = uint8(sum / n)
		}
	}
	return out
}
