package sheet

import (
	"archive/zip"
	"bytes"
	"fmt"

	"tussock/internal/errs"
	"tussock/internal/words"
)

// What one file may hold. A season of a large cooperative is a few thousand rows.
const (
	MaxBytes   = 20 << 20 // of the file as sent
	MaxRows    = 200_000  // that hold anything, over all tables of the file
	MaxColumns = 1_000
	MaxCell    = 32_767 // characters, the most a workbook cell holds
)

// A Book is one file: text with one table, a workbook with a table a worksheet, a web page with those on it.
type Book struct {
	File     string
	Tables   []*Table
	Encoding string // of text: "" is UTF-8, else what it was read as
	OrElse   string // the encoding that fits nearly as well, where some letters would come out otherwise; "" where none does
}

// Open tells what kind of file data is and opens it. The name is used in messages only. The failure is of kind
// TooLarge where the file is over a limit and Invalid where it cannot be read; both carry a sentence for the sender,
// said by say.
func Open(name string, data []byte, say words.Speaker) (*Book, error) {
	if len(data) > MaxBytes {
		return nil, tooBig(name, len(data), say)
	}
	kind := KindOf(data)
	if what := refusals[kind]; what != "" {
		return nil, errs.New(errs.Invalid, say.Say(what, name))
	}
	if kind == Text {
		return openText(name, data, say)
	}
	b, err := openBook(kind, name, data, say)
	if err == nil {
		return b, nil
	}
	if _, told := errs.Message(err); told {
		return nil, err
	}
	return nil, damaged(name, say, err)
}

// openBook opens what is more than text. A decoder that panics on a broken file has found it damaged.
func openBook(kind Kind, name string, data []byte, say words.Speaker) (b *Book, err error) {
	defer func() {
		if p := recover(); p != nil {
			b, err = nil, fmt.Errorf("open %v: %v", kind, p)
		}
	}()
	switch kind {
	case XLS:
		return openXLS(name, data, say)
	case FODS:
		return openFODS(name, data, say)
	case XMLSS:
		return openXMLSS(name, data, say)
	case HTML:
		return openHTML(name, data, say)
	}
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, err
	}
	if !unpacksTo(z, maxUnpacked) {
		return nil, unpacksTooFar(name, say)
	}
	if kind == ODS {
		return openODS(name, z, say)
	}
	return openXLSX(name, z, say)
}

// Close is for the reader's convenience: nothing is left open.
func (b *Book) Close() error { return nil }

// unpacksTo tells whether the parts of an archive say they hold no more than limit bytes together.
func unpacksTo(z *zip.Reader, limit uint64) bool {
	var sum uint64
	for _, f := range z.File {
		if f.UncompressedSize64 > limit {
			return false
		}
		if sum += f.UncompressedSize64; sum > limit {
			return false
		}
	}
	return len(z.File) <= 10_000
}
