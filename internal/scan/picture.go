package scan

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"

	"tussock/internal/errs"
	"tussock/internal/words"
)

// Limits of what is sent.
const (
	MaxFile    = 12 << 20   // bytes of a file
	mostPixels = 26_000_000 // of a picture
	mostMemory = 210 << 20  // bytes that decoding a picture may take
	mostPages  = 16         // pictures in a PDF
	mostScans  = 64         // passes over a JPEG, each of which takes as long as the picture is big; cameras write ten at most
)

// A Picture is a picture in a file that was sent. It is decoded only when it is read.
type Picture struct {
	decode func() (*image.Gray, error)
}

// Pictures returns the pictures in a JPEG, a PNG, or a PDF whose pages are pictures. errs.Invalid and errs.TooLarge, with a
// sentence that says what to do, for other files.
func Pictures(data []byte) ([]Picture, error) {
	switch {
	case len(data) > MaxFile:
		return nil, errTooBig
	case bytes.HasPrefix(data, []byte("%PDF-")):
		return pdfPictures(data)
	case bytes.HasPrefix(data, []byte{0xff, 0xd8}):
		p, err := jpegPicture(data)
		return []Picture{p}, err
	case bytes.HasPrefix(data, []byte("\x89PNG")):
		p, err := pngPicture(data)
		return []Picture{p}, err
	case len(data) > 12 && string(data[4:8]) == "ftyp":
		return nil, errHEIC
	}
	return nil, errFormat
}

// Read decodes the picture and reads the sheet in it.
func (p Picture) Read() (*Reading, error) {
	photo, err := p.decode()
	if err != nil {
		return nil, err
	}
	return Read(photo)
}

func jpegPicture(data []byte) (Picture, error) {
	c, err := jpeg.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return Picture{}, errs.Hide(errs.Invalid, errDamaged, err)
	}
	scans, progressive := scansIn(data)
	if scans > mostScans {
		return Picture{}, errOdd
	}
	perPixel := 3
	if progressive {
		perPixel = 15 // all coefficients are held, four bytes each
	}
	return bounded(c, perPixel, func() (image.Image, error) { return jpeg.Decode(bytes.NewReader(data)) })
}

// scansIn returns how many scans a JPEG has, up to its end, and whether its frame header is that of a progressive one (ITU-T T.81,
// B.1.1). What a phone puts behind the end, such as a film, does not matter.
func scansIn(data []byte) (scans int, progressive bool) {
	for i := 2; ; {
		next := bytes.IndexByte(data[min(i, len(data)):], 0xff)
		if i += next; next < 0 || i+4 > len(data) {
			return scans, progressive
		}
		switch m := data[i+1]; {
		case m == 0xff: // fills
			i++
			continue
		case m <= 0x01 || 0xd0 <= m && m <= 0xd8: // stand alone, within a scan or before it
			i += 2
			continue
		case m == 0xd9:
			return scans, progressive
		case m == 0xda:
			scans++
		case m == 0xc2:
			progressive = true
		}
		i += 2 + int(data[i+2])<<8 + int(data[i+3])
	}
}

func pngPicture(data []byte) (Picture, error) {
	c, err := png.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return Picture{}, errs.Hide(errs.Invalid, errDamaged, err)
	}
	perPixel := 4
	switch c.ColorModel {
	case color.RGBA64Model, color.NRGBA64Model:
		perPixel = 8
	}
	return bounded(c, perPixel, func() (image.Image, error) { return png.Decode(bytes.NewReader(data)) })
}

// bounded returns the picture where it is small enough to be decoded.
func bounded(c image.Config, perPixel int, decode func() (image.Image, error)) (Picture, error) {
	if c.Width < 1 || c.Height < 1 || c.Width > mostPixels/c.Height || c.Width*c.Height > mostMemory/perPixel {
		return Picture{}, errTooBig
	}
	return Picture{func() (*image.Gray, error) {
		pic, err := decode()
		if err != nil {
			return nil, errs.Hide(errs.Invalid, errDamaged, err)
		}
		return grayOf(pic), nil
	}}, nil
}

// grayOf returns a picture's brightness. How a phone was held, which the file may say in its Exif block, does not matter: the
// corner marks tell which side is up.
func grayOf(pic image.Image) *image.Gray {
	b := pic.Bounds()
	rect := image.Rect(0, 0, b.Dx(), b.Dy())
	switch p := pic.(type) {
	case *image.YCbCr:
		return &image.Gray{Pix: p.Y, Stride: p.YStride, Rect: rect}
	case *image.Gray:
		return &image.Gray{Pix: p.Pix, Stride: p.Stride, Rect: rect}
	}
	out := image.NewGray(rect)
	row := image.NewRGBA(image.Rect(0, 0, rect.Dx(), 1))
	for y := range rect.Dy() {
		draw.Draw(row, row.Rect, image.White, image.Point{}, draw.Src)
		draw.Draw(row, row.Rect, pic, image.Pt(b.Min.X, b.Min.Y+y), draw.Over)
		for x := range rect.Dx() {
			p := row.Pix[4*x : 4*x+3]
			out.Pix[y*out.Stride+x] = uint8((299*int(p[0]) + 587*int(p[1]) + 114*int(p[2])) / 1000) // ITU-R BT.601
		}
	}
	return out
}

var (
	errDamaged = words.Mark("This picture is damaged. Take another.")
	errTooBig  = errs.New(errs.TooLarge, words.Mark("This picture is too big. Take it with a smaller setting, up to 24 megapixels and 12 MB, and send it again."))
	errOdd     = errs.New(errs.Invalid, words.Mark("This picture is stored in an unusual way that would take us too long to open. Take a screenshot of it and send that."))
	errFormat  = errs.New(errs.Invalid, words.Mark("This is not a picture we can read. Send a JPEG or a PNG, or a PDF from a scanner."))
	errHEIC    = errs.New(errs.Invalid, words.Mark("This photo is in a format that we cannot open (HEIC). Set the phone’s camera to JPEG, which some phones call “most compatible”, or take a screenshot of the photo and send that."))
	errPDF     = errs.New(errs.Invalid, words.Mark("We find no scanned page in this PDF that we can read. Send photos of the pages, or let the scanner make JPEG files."))
	errLocked  = errs.New(errs.Invalid, words.Mark("This PDF is locked. Send photos of the pages, or let the scanner make JPEG files."))
)
