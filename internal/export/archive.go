package export

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
)

// meta is what describes a set of tables in whichever format.
type meta struct {
	About
	name, title string
	version     string
	meaning     string
	rights      string
	rightsName  string
	warning     string // first line of the README, "" for none
	bulletin    *bulletinNumber
}

type bulletinNumber struct {
	Season    int    `json:"season"`
	Number    int    `json:"number"`
	Published string `json:"published"`
	SHA256    string `json:"sha256"`
}

// A file is one entry of an archive.
type file struct {
	name string
	data []byte
}

func sum(data []byte) string {
	h := sha256.Sum256(data)
	return hex.EncodeToString(h[:])
}

// pack adds README.txt, RIGHTS.txt and SHA256SUMS, and zips it all.
func pack(m meta, how string, files []file) ([]byte, error) {
	files = append(files, file{"README.txt", readme(m, how, files)}, file{"RIGHTS.txt", []byte(wrapped(m.rights))})
	var sums strings.Builder
	for _, f := range files {
		fmt.Fprintf(&sums, "%s  %s\n", sum(f.data), f.name) // the form that sha256sum -c reads
	}
	files = append(files, file{"SHA256SUMS", []byte(sums.String())})

	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, f := range files {
		h := &zip.FileHeader{Name: f.name, Method: zip.Deflate}
		h.Modified = m.Made.UTC().Truncate(24 * 3600e9)
		entry, err := w.CreateHeader(h)
		if err != nil {
			return nil, fmt.Errorf("export %s: %w", m.name, err)
		}
		if _, err := entry.Write(f.data); err != nil {
			return nil, fmt.Errorf("export %s: %w", m.name, err)
		}
	}
	if err := w.Close(); err != nil {
		return nil, fmt.Errorf("export %s: %w", m.name, err)
	}
	return b.Bytes(), nil
}

func readme(m meta, how string, files []file) []byte {
	var b strings.Builder
	para := func(s string) {
		if s != "" {
			b.WriteString(wrapped(s) + "\n")
		}
	}
	para(m.title)
	para(m.warning)
	para(m.meaning)
	if m.bulletin != nil {
		para(fmt.Sprintf("Bulletin %d, season %d, published %s. SHA-256 of the whole publication: %s", m.bulletin.Number, m.bulletin.Season, m.bulletin.Published, m.bulletin.SHA256))
	}
	para("What these figures are not: " + limits())
	para("What you may do with them: " + m.rights)
	para("The files:")
	for _, f := range files {
		fmt.Fprintf(&b, "  %s, %d bytes\n", f.name, len(f.data))
	}
	b.WriteString("\n")
	para("To check that nothing was changed: sha256sum -c SHA256SUMS")
	b.WriteString(how)
	fmt.Fprintf(&b, "\nMade by %s for %s, %s.\n", m.maker(), m.Cooperative, m.day())
	return []byte(b.String())
}

// wrapped breaks a paragraph into lines of at most 100 characters.
func wrapped(s string) string {
	var b strings.Builder
	width := 0
	for _, w := range strings.Fields(s) {
		n := len([]rune(w))
		if width > 0 && width+1+n > 100 {
			b.WriteString("\n")
			width = 0
		}
		if width > 0 {
			b.WriteString(" ")
			width++
		}
		b.WriteString(w)
		width += n
	}
	return b.String() + "\n"
}
