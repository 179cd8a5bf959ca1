package fieldwork

import (
	"bytes"
	"image/jpeg"

	"tussock/internal/errs"
	"tussock/internal/words"
)

// Limits of a photo: what our form sends is below 200 kB and 1600 pixels wide.
const (
	MaxPhoto = 400_000 // bytes
	maxSide  = 4096    // pixels
)

// CleanPhoto returns the picture alone of a JPEG that came in: it is drawn again, so that neither where it was taken, nor
// with what, nor anything else that a file can carry beside a picture is kept. errs.Invalid for what is no such picture,
// errs.TooLarge for one that is too big.
func CleanPhoto(data []byte) ([]byte, error) {
	if len(data) > 2*MaxPhoto {
		return nil, errs.New(errs.TooLarge, words.Mark("This photo is too big. Make it smaller and send it again."))
	}
	size, err := jpeg.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, errs.Hide(errs.Invalid, words.Mark("This is not a photo we can read. Send a JPEG."), err)
	}
	if size.Width > maxSide || size.Height > maxSide {
		return nil, errs.New(errs.TooLarge, words.Mark("This photo is too big. Make it smaller and send it again."))
	}
	picture, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, errs.Hide(errs.Invalid, words.Mark("This photo is damaged. Take another."), err)
	}
	for _, quality := range []int{80, 60, 40, 20} {
		var b bytes.Buffer
		if err := jpeg.Encode(&b, picture, &jpeg.Options{Quality: quality}); err != nil {
			return nil, err
		}
		if b.Len() <= MaxPhoto {
			return b.Bytes(), nil
		}
	}
	return nil, errs.New(errs.TooLarge, words.Mark("This photo is too big. Make it smaller and send it again."))
}
