package fieldwork_test

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"testing"

	"tussock/internal/errs"
	"tussock/internal/fieldwork"
)

// What a file carries beside the picture goes: a JPEG's application segment 1 is where Exif 2.32 (4.5.4) puts the place.
func TestCleanPhoto(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 64, 48))
	img.Set(5, 5, color.White)
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	secret := []byte("Exif\x00\x00 GPSLatitude 36.5 left of the windmill")
	segment := append([]byte{0xff, 0xe1, 0, byte(len(secret) + 2)}, secret...)
	withPlace := append(append([]byte{0xff, 0xd8}, segment...), b.Bytes()[2:]...)
	withPlace = append(withPlace, "and after the picture, <script>"...)

	clean, err := fieldwork.CleanPhoto(withPlace)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(clean, []byte("Exif")) || bytes.Contains(clean, []byte("windmill")) || bytes.Contains(clean, []byte("script")) {
		t.Error("something is left beside the picture")
	}
	if got, err := jpeg.Decode(bytes.NewReader(clean)); err != nil || got.Bounds() != img.Bounds() {
		t.Errorf("the picture is %v, %v", got, err)
	}
	for name, data := range map[string][]byte{"text": []byte("not a photo"), "nothing": nil, "half": b.Bytes()[:b.Len()/2]} {
		if _, err := fieldwork.CleanPhoto(data); !errors.Is(err, errs.Invalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := fieldwork.CleanPhoto(make([]byte, 3*fieldwork.MaxPhoto)); !errors.Is(err, errs.TooLarge) {
		t.Errorf("too big: %v", err)
	}
}
