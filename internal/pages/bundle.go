package pages

import (
	"archive/zip"
	"bytes"
	"cmp"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"
	"unicode"

	"tussock/internal/errs"
	"tussock/internal/intake"
	"tussock/internal/words"
)

// Limits on what one sending may hold.
const (
	maxSending = 20 << 20 // bytes of all files together, as sent or as unpacked
	maxFiles   = 20
)

// bundleName is what a sending of several files is called.
const bundleName = "season sheets.zip"

// bundle makes one file of a sending, since a sending is kept, dated, replaced and undone as a whole: a single file is
// kept byte for byte as it came, several go unchanged into an uncompressed archive. The same files give the same
// bytes in whatever order they were chosen, so that sending them twice is noticed.
func bundle(files []intake.File) (name string, data []byte, err error) {
	if len(files) == 1 {
		return files[0].Name, files[0].Data, nil
	}

	files = slices.SortedFunc(slices.Values(files), func(a, b intake.File) int {
		return cmp.Or(cmp.Compare(a.Name, b.Name), bytes.Compare(a.Data, b.Data))
	})
	var buf bytes.Buffer
	w := zip.NewWriter(&buf)
	for _, f := range files {
		part, err := w.CreateHeader(&zip.FileHeader{Name: f.Name, Method: zip.Store})
		if err != nil {
			return "", nil, fmt.Errorf("bundle %q: %w", f.Name, err)
		}
		if _, err := part.Write(f.Data); err != nil {
			return "", nil, fmt.Errorf("bundle %q: %w", f.Name, err)
		}
	}
	if err := w.Close(); err != nil {
		return "", nil, fmt.Errorf("bundle %d files: %w", len(files), err)
	}
	return bundleName, buf.Bytes(), nil
}

// unbundle gives back the files of a sending: those of an archive, made by bundle or by the sender, or the file itself.
func unbundle(name string, data []byte, say words.Speaker) ([]intake.File, error) {
	if !strings.EqualFold(path.Ext(name), ".zip") {
		return []intake.File{{Name: name, Data: data}}, nil
	}

	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, errs.Hide(errs.Invalid, say.Say("This .zip file does not open. Send the sheets themselves, .xlsx or .csv."), err)
	}
	var files []intake.File
	left := int64(maxSending)
	for _, f := range r.File {
		base := path.Base(f.Name)
		if f.FileInfo().IsDir() || strings.HasPrefix(base, ".") || strings.HasPrefix(f.Name, "__MACOSX/") {
			continue
		}
		if len(files) == maxFiles {
			return nil, errs.New(errs.TooLarge, say.Say("There are more than %d files in this .zip. Send the season’s sheets only.", maxFiles))
		}
		part, err := unpack(f, left, say)
		if err != nil {
			return nil, err
		}
		left -= int64(len(part))
		files = append(files, intake.File{Name: safeName(base), Data: part})
	}
	if len(files) == 0 {
		return nil, errs.New(errs.Invalid, say.Say("There is no sheet in this .zip file. Send the sheets themselves, .xlsx or .csv."))
	}
	return files, nil
}

// unpack reads one file of an archive and stops at limit bytes, whatever size the archive claims.
func unpack(f *zip.File, limit int64, say words.Speaker) ([]byte, error) {
	r, err := f.Open()
	if err != nil {
		return nil, errs.Hide(errs.Invalid, say.Say("This .zip file does not open; it may have a password. Send the sheets themselves, .xlsx or .csv."), err)
	}
	defer r.Close()
	data, err := io.ReadAll(io.LimitReader(r, limit+1))
	if err != nil {
		return nil, errs.Hide(errs.Invalid, say.Say("This .zip file is damaged. Send the sheets themselves, .xlsx or .csv."), err)
	}
	if int64(len(data)) > limit {
		return nil, tooLarge(say)
	}
	return data, nil
}

// safeName keeps of a file's name what is safe to show and to hand back: the last part of the path, without control
// characters, at most 120 characters long.
func safeName(name string) string {
	name = name[strings.LastIndexAny(name, `/\`)+1:]
	name = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) || r == unicode.ReplacementChar {
			return -1
		}
		return r
	}, name)
	name = strings.Trim(name, " .")
	if runes := []rune(name); len(runes) > 120 {
		ext := []rune(path.Ext(name))
		if len(ext) > 10 {
			ext = nil
		}
		name = string(runes[:120-len(ext)]) + string(ext)
	}
	if name == "" {
		return "sheet"
	}
	return name
}
