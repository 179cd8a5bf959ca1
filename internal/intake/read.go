package intake

import (
	"io"

	"tussock/internal/errs"
)

// Read reads the files as one batch: nests may stand in one and their checks in another.
// The error has a kind of package errs and comes only where nothing at all could be read.
func Read(files []File, opt Options) (*Result, error) {
	return nil, errs.New(errs.Invalid, "Nothing could be read.")
}

// WriteTemplate writes the blank season workbook.
func WriteTemplate(w io.Writer) error { return nil }
