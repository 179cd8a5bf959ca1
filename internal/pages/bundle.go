package pages

import (
	"archive/zip"
	"bytes"
	"cmp"
	"fmt"
	"path"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"tussock/internal/errs"
	"tussock/internal/intake"
	"tussock/internal/sheet"
	"tussock/internal/words"
)

// Limits on what one sending may hold. What archives unpack to is limited where they are unpacked.
const (
	maxSending = 20 << 20 // bytes of all files together, as sent
	maxFiles   = 200
)

// bundleName is what a sending of several files is called.
const bundleName = "season sheets.zip"

// bundle makes one file of a sending, since a sending is kept, dated, replaced and undone as a whole: a single file is
// kept byte for byte as it came, several go unchanged into an archive. The same files give the same bytes in whatever order
// they were chosen, so that sending them twice is noticed.
func bundle(files []intake.File) (name string, data []byte, err error) {
	if len(files) == 1 {
		return files[0].Name, files[0].Data, nil
	}

	files = slices.SortedFunc(slices.Values(files), func(a, b intake.File) int {
		return cmp.Or(cmp.Compare(a.Name, b.Name), bytes.Compare(a.Data, b.Data))
	})
	method, size := zip.Store, 0
	for _, f := range files {
		size += len(f.Data)
	}
	if size > maxSending-maxSending/20 { // what was unpacked may be more than a file may be
		method = zip.Deflate
	}
	var buf bytes.Buffer
	w := zip.NewWriter(&buf)
	for _, f := range files {
		part, err := w.CreateHeader(&zip.FileHeader{Name: f.Name, Method: method})
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

// unpacked takes the files out of the archives among those that were sent.
func unpacked(files []intake.File, say words.Speaker) ([]intake.File, error) {
	var all []intake.File
	for _, f := range files {
		inside, err := sheet.Unpack(f.Name, f.Data, say)
		if err != nil {
			return nil, err
		}
		for _, f := range inside {
			all = append(all, intake.File(f))
		}
	}
	if len(all) > maxFiles {
		return nil, errs.New(errs.TooLarge, say.Say("Those are more than %d files. Send fewer at a time.", maxFiles))
	}
	return all, nil
}

// yearIn finds a season's year in the name of a file or its folder.
var yearIn = regexp.MustCompile(`(?:^|[^0-9])((?:19|20)[0-9]{2})(?:[^0-9]|$)`)

// seasonsApart sorts old sheets into sendings: a workbook is one by itself; text files that name the same year are one
// together, since nests, checks and belts of a season may stand in a file each; any other text file is one by itself.
func seasonsApart(files []intake.File) (groups [][]intake.File) {
	at := map[string]int{}
	for _, f := range files {
		found := yearIn.FindStringSubmatch(f.Name)
		if found == nil || sheet.KindOf(f.Data) != sheet.Text {
			groups = append(groups, []intake.File{f})
			continue
		}
		i, ok := at[found[1]]
		if !ok {
			i = len(groups)
			at[found[1]] = i
			groups = append(groups, nil)
		}
		groups[i] = append(groups[i], f)
	}
	return groups
}

// oldName is what a group of old files is called: one by its own name, several by their year.
func oldName(group []intake.File, name string) string {
	if len(group) == 1 {
		return safeName(group[0].Name)
	}
	if found := yearIn.FindStringSubmatch(group[0].Name); found != nil {
		return found[1] + " " + name
	}
	return name
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
