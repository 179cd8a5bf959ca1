package sheet

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
	"unicode"
	"unicode/utf8"

	"tussock/internal/errs"
	"tussock/internal/words"
)

// A File is one file as it was sent, or as it lay in an archive.
type File struct {
	Name string // in an archive with its folders: 2019/nests.csv
	Data []byte
}

// What an archive may hold.
const (
	MaxFiles    = 200
	maxArchived = 100 << 20 // bytes of all its files together
)

// Unpack returns the files that lie in data, in the archive's order where it is a ZIP of files, else data itself. A
// workbook that is a ZIP inside is one file. What programs put into archives for themselves is left out; all else is
// there, pictures and archives too: KindOf tells what each is, and Open says of each that it cannot read what to do. The
// failure is of kind TooLarge or Invalid and carries a sentence for the sender.
func Unpack(name string, data []byte, say words.Speaker) ([]File, error) {
	if len(data) > MaxBytes {
		return nil, tooBig(name, len(data), say)
	}
	if KindOf(data) != Archive {
		return []File{{name, data}}, nil
	}
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, damaged(name, say, err)
	}
	var files []File
	left := int64(maxArchived)
	for _, f := range z.File {
		if f.FileInfo().IsDir() || litter(f.Name) {
			continue
		}
		if len(files) == MaxFiles {
			return nil, errs.New(errs.TooLarge, say.Say("There are more than %d files in %s. Send fewer years at a time.", MaxFiles, name))
		}
		if f.Flags&1 != 0 {
			return nil, errs.New(errs.Invalid, say.Say(refusals[Locked], name))
		}
		body, err := unpackOne(f, min(left, MaxBytes))
		switch {
		case errors.Is(err, errTooBig):
			return nil, unpacksTooFar(name, say)
		case err != nil:
			return nil, damaged(name, say, err)
		}
		left -= int64(len(body))
		files = append(files, File{safePath(f), body})
	}
	if len(files) == 0 {
		return nil, errs.New(errs.Invalid, say.Say("%s is a packed folder with nothing in it. Please send the sheets themselves, as .xlsx or CSV.", name))
	}
	return files, nil
}

func tooBig(name string, size int, say words.Speaker) error {
	return errs.New(errs.TooLarge, say.Say("%s is %d MB; a file may be 20 MB. Send one season or one ranch at a time, or leave pictures out of the workbook.", name, size>>20))
}

var errTooBig = errors.New("archive: a file in it is too large")

// unpackOne reads one file of an archive, and stops past limit bytes whatever size the archive claims.
func unpackOne(f *zip.File, limit int64) (data []byte, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("unpack: %v", p)
		}
	}()
	r, err := f.Open()
	if err != nil {
		return nil, err
	}
	defer r.Close() // only read
	data, err = io.ReadAll(io.LimitReader(r, limit+1))
	if int64(len(data)) > limit {
		return nil, errTooBig
	}
	return data, err
}

// litter tells of a file that a program or a system put there for itself.
func litter(name string) bool {
	name = strings.ToLower(strings.ReplaceAll(name, `\`, "/"))
	base := path.Base(name)
	switch base {
	case "thumbs.db", "desktop.ini", "icon\r":
		return true
	}
	return strings.HasPrefix(base, ".") || strings.HasSuffix(base, ".css") || strings.HasPrefix(base, "~$") || strings.HasPrefix(name, "__macosx/") || strings.Contains(name, "/__macosx/")
}

// safePath returns the name of a file with its folders, as is safe to show: no way up, no control characters. Names that
// are not UTF-8 are in the code page of DOS, as old programs wrote them.
func safePath(f *zip.File) string {
	name := f.Name
	if f.NonUTF8 && !utf8.ValidString(name) {
		out, _, _ := toUTF8([]byte(name))
		name = string(out)
	}
	name = path.Clean("/" + strings.ReplaceAll(name, `\`, "/"))[1:]
	name = strings.Map(func(c rune) rune {
		if unicode.IsControl(c) || unicode.Is(unicode.Bidi_Control, c) || c == utf8.RuneError {
			return -1
		}
		return c
	}, name)
	if runes := []rune(name); len(runes) > 200 {
		name = "…" + string(runes[len(runes)-199:])
	}
	if name == "" {
		return "sheet"
	}
	return name
}
