package scan

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/png"
	"io"
	"math/bits"
	"regexp"
	"strconv"

	"golang.org/x/image/ccitt"
)

// smallestScan is the shorter side of a page in a PDF, in pixels; what is smaller is a logo.
const smallestScan = 700

// mostStreams is how many streams of a PDF are looked at; a scanner writes a few a page.
const mostStreams = 1000

// pdfPictures returns the pictures of a PDF that may be scanned pages. Scanners write one picture a page, as a stream of its own
// (ISO 32000-1, 7.3.8 and 8.9.5): it is found without reading the rest of the file.
func pdfPictures(data []byte) ([]Picture, error) {
	if bytes.Contains(data, []byte("/Encrypt")) {
		return nil, errLocked
	}
	var list []Picture
	rest := data
	for range mostStreams {
		d, body, after, ok := nextStream(rest)
		if !ok || len(list) == mostPages {
			break
		}
		rest = after
		if p, ok := d.picture(body); ok {
			list = append(list, p)
		}
	}
	if len(list) == 0 {
		return nil, errPDF
	}
	return list, nil
}

// A dict is the text of the dictionary before a stream.
type dict string

// mostDict is how long a dictionary of an image is at most, in bytes.
const mostDict = 4096

// nextStream returns the next stream with its dictionary, and what follows it.
func nextStream(data []byte) (d dict, body, rest []byte, ok bool) {
	at := bytes.Index(data, []byte("stream"))
	if at < 0 {
		return "", nil, nil, false
	}
	head := data[max(0, at-mostDict):at]
	if i := bytes.LastIndex(head, []byte(" obj")); i >= 0 {
		head = head[i:]
	}
	body = data[at+len("stream"):]
	body = bytes.TrimPrefix(bytes.TrimPrefix(body, []byte("\r")), []byte("\n"))
	d = dict(head)
	if n, ok := d.number("Length"); ok && n <= len(body) && endForm.Match(body[n:min(len(body), n+len("\r\nendstream"))]) {
		return d, body[:n], body[n+len("endstream"):], true
	}
	end := bytes.Index(body, []byte("endstream"))
	if end < 0 {
		return "", nil, nil, false
	}
	return d, body[:end], body[end+len("endstream"):], true
}

// number returns the number that the dictionary has under a name; none where it refers to another object.
func (d dict) number(name string) (int, bool) {
	m := regexp.MustCompile(`/` + name + `\s+(-?\d{1,9})(\s+\d+\s+R)?`).FindStringSubmatch(string(d))
	if m == nil || m[2] != "" {
		return 0, false
	}
	n, err := strconv.Atoi(m[1])
	return n, err == nil
}

var (
	imageForm  = regexp.MustCompile(`/Subtype\s*/Image\b`)
	filterForm = regexp.MustCompile(`/(DCTDecode|FlateDecode|CCITTFaxDecode|JBIG2Decode|JPXDecode|LZWDecode|RunLengthDecode|ASCII85Decode|ASCIIHexDecode)\b`)
	indexForm  = regexp.MustCompile(`/Indexed\b`)
	endForm    = regexp.MustCompile(`^[\r\n ]{0,2}endstream`)
	alignForm  = regexp.MustCompile(`/EncodedByteAlign\s+true`)
)

// picture returns the picture that a stream is; false for other streams, and for pictures in forms that are not read.
func (d dict) picture(body []byte) (Picture, bool) {
	w, _ := d.number("Width")
	h, _ := d.number("Height")
	if !imageForm.MatchString(string(d)) || min(w, h) < smallestScan || w > mostPixels/h {
		return Picture{}, false
	}
	filters := ""
	for _, m := range filterForm.FindAllStringSubmatch(string(d), -1) {
		filters += m[1] + " "
	}
	switch filters {
	case "DCTDecode ":
		p, err := jpegPicture(body)
		return p, err == nil
	case "FlateDecode DCTDecode ":
		return Picture{func() (*image.Gray, error) { return inflatedJPEG(body) }}, true
	case "CCITTFaxDecode ":
		return Picture{func() (*image.Gray, error) { return d.fax(body, w, h) }}, true
	case "FlateDecode ":
		return Picture{func() (*image.Gray, error) { return d.samples(body, w, h) }}, !indexForm.MatchString(string(d))
	}
	return Picture{}, false
}

func inflatedJPEG(body []byte) (*image.Gray, error) {
	plain, err := inflate(body, MaxFile)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", errPDF, err)
	}
	p, err := jpegPicture(plain)
	if err != nil {
		return nil, err
	}
	return p.decode()
}

func inflate(data []byte, most int) ([]byte, error) {
	r, err := zlib.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(io.LimitReader(r, int64(most)))
}

// fax decodes a page in black and white (ITU-T T.4 and T.6).
func (d dict) fax(body []byte, w, h int) (*image.Gray, error) {
	kind := ccitt.Group3
	if k, _ := d.number("K"); k < 0 {
		kind = ccitt.Group4
	}
	rows := make([]byte, (w+7)/8*h)
	r := ccitt.NewReader(bytes.NewReader(body), ccitt.MSB, kind, w, h, &ccitt.Options{Align: alignForm.MatchString(string(d))})
	if _, err := io.ReadFull(r, rows); err != nil {
		return nil, fmt.Errorf("%w: %w", errPDF, err)
	}
	return blackAndWhite(rows, w, h), nil
}

// samples decodes a page whose samples are compressed as they are: gray or in color, one or eight bits each.
func (d dict) samples(body []byte, w, h int) (*image.Gray, error) {
	depth, _ := d.number("BitsPerComponent")
	if depth != 1 && depth != 8 {
		return nil, errPDF
	}
	if predictor, _ := d.number("Predictor"); predictor >= 10 {
		colors, _ := d.number("Colors")
		pic, err := png.Decode(bytes.NewReader(pngOf(body, w, h, depth, colors == 3)))
		if err != nil {
			return nil, fmt.Errorf("%w: %w", errPDF, err)
		}
		return grayOf(pic), nil
	}
	plain, err := inflate(body, 3*w*h+1)
	switch {
	case err != nil:
		return nil, fmt.Errorf("%w: %w", errPDF, err)
	case depth == 1 && len(plain) >= (w+7)/8*h:
		return blackAndWhite(plain, w, h), nil
	case len(plain) >= 3*w*h:
		out := image.NewGray(image.Rect(0, 0, w, h))
		for i := range out.Pix {
			out.Pix[i] = plain[3*i+1] // green, which is most of brightness
		}
		return out, nil
	case len(plain) >= w*h && depth == 8:
		return &image.Gray{Pix: plain, Stride: w, Rect: image.Rect(0, 0, w, h)}, nil
	}
	return nil, errPDF
}

// blackAndWhite returns the picture of rows with a bit for each pixel. Most of a page is white, whichever bit stands for it.
func blackAndWhite(rows []byte, w, h int) *image.Gray {
	ones := 0
	for _, b := range rows {
		ones += bits.OnesCount8(b)
	}
	black := byte(1)
	if ones > len(rows)*4 {
		black = 0
	}
	out := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		row := rows[y*((w+7)/8):]
		for x := range w {
			if row[x/8]>>(7-x%8)&1 != black {
				out.Pix[y*w+x] = 255
			}
		}
	}
	return out
}

// pngOf returns the PNG whose data samples compressed with a predictor of PNG are (ISO/IEC 15948, 5 and 11).
func pngOf(data []byte, w, h, bits int, color bool) []byte {
	kind := byte(0)
	if color {
		kind = 2
	}
	b := []byte("\x89PNG\r\n\x1a\n")
	head := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, uint32(w)), uint32(h))
	for _, chunk := range []struct {
		name string
		data []byte
	}{{"IHDR", append(head, byte(bits), kind, 0, 0, 0)}, {"IDAT", data}, {"IEND", nil}} {
		b = binary.BigEndian.AppendUint32(b, uint32(len(chunk.data)))
		at := len(b)
		b = append(append(b, chunk.name...), chunk.data...)
		b = binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[at:]))
	}
	return b
}
