package sheet

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"strings"

	"github.com/xuri/excelize/v2"

	"tussock/internal/errs"
	"tussock/internal/words"
)

// What a workbook may unpack to: all its parts together, and a part held in memory rather than in a temporary file.
const (
	maxUnpacked = 128 << 20
	maxInMemory = 8 << 20
)

func openWorkbook(name string, data []byte, say words.Speaker) (_ *Book, err error) {
	damaged := say.Say("%s is damaged, or was cut short on the way. Please open it, save it again and send it once more.", name)
	defer func() {
		if p := recover(); p != nil {
			err = errs.Hide(errs.Invalid, damaged, fmt.Errorf("open workbook: %v", p))
		}
	}()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, errs.Hide(errs.Invalid, damaged, err)
	}
	if what := foreignZip(z); what != "" {
		return nil, errs.New(errs.Invalid, say.Say(what, name))
	}
	bomb := say.Say("%s unpacks to far more than a season's sheet holds, so we left it shut. Please copy the table alone into a new workbook and send that.", name)
	if !unpacksTo(z, maxUnpacked) {
		return nil, errs.New(errs.TooLarge, bomb)
	}
	f, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{
		RawCellValue: true, UnzipSizeLimit: maxUnpacked, UnzipXMLSizeLimit: maxInMemory,
	})
	if err != nil {
		return nil, errs.Hide(errs.Invalid, damaged, err)
	}
	props, err := f.GetWorkbookProps()
	if err != nil {
		return nil, errors.Join(errs.Hide(errs.Invalid, damaged, err), f.Close())
	}
	parts, err := readParts(z)
	if err != nil {
		return nil, errors.Join(errs.Hide(errs.Invalid, damaged, err), f.Close())
	}

	b := &Book{File: name, close: f.Close}
	rows := 0
	for _, sheet := range f.GetSheetList() {
		visible, err := f.GetSheetVisible(sheet)
		if err != nil {
			return nil, errors.Join(errs.Hide(errs.Invalid, damaged, err), f.Close())
		}
		layout, err := parts.scan(sheet)
		if err != nil {
			return nil, errors.Join(errs.Hide(errs.Invalid, damaged, err), f.Close())
		}
		t := &Table{
			File: name, Name: sheet, Hidden: !visible, Date1904: props.Date1904 != nil && *props.Date1904,
			RowsHint: layout.rows, Coloured: layout.coloured, merges: layout.byColumn(), unworked: layout.unworked,
		}
		t.rows = func(yield func(*Row, error) bool) { workbookRows(f, name, sheet, damaged, &rows, say, yield) }
		b.Tables = append(b.Tables, t)
	}
	return b, nil
}

// foreignZip recognises packed files that are no workbook, as a sentence about the name.
func foreignZip(z *zip.Reader) string {
	names := map[string]bool{}
	for _, f := range z.File {
		names[strings.ToLower(strings.ReplaceAll(f.Name, `\`, "/"))] = true
	}
	switch {
	case names["xl/workbook.xml"]:
		return ""
	case names["xl/workbook.bin"]:
		return words.Mark("%s is in the .xlsb form. Please choose “Save as”, take .xlsx or CSV, and send that.")
	case names["content.xml"] && names["mimetype"]:
		return words.Mark("%s is in the .ods form (or another open-document form). Please choose “Save as”, take .xlsx or CSV, and send that.")
	case names["word/document.xml"]:
		return words.Mark("%s is a text document. Please send the table as .xlsx or CSV.")
	case names["index/document.iwa"]:
		return words.Mark("%s is in a form of its own. Please export it as .xlsx or CSV and send that.")
	}
	if names["_rels/.rels"] { // the main part may have another name
		return ""
	}
	return words.Mark("%s is a packed folder, not a workbook. Please unpack it and send the spreadsheet inside.")
}

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

// workbookRows yields the rows of one worksheet; total counts over the whole workbook.
func workbookRows(f *excelize.File, name, sheet, damaged string, total *int, say words.Speaker, yield func(*Row, error) bool) {
	rows, err := openRows(f, sheet)
	if err != nil {
		yield(nil, errs.Hide(errs.Invalid, damaged, err))
		return
	}
	defer rows.Close() // the temporary file was only read
	var row Row
	for {
		more, err := nextRow(rows, &row)
		if err != nil {
			yield(nil, errs.Hide(errs.Invalid, damaged, err))
			return
		}
		if !more {
			return
		}
		if blank(row.Cells) {
			continue
		}
		*total++
		if err := fits(name, &row, *total, say); err != nil {
			yield(nil, err)
			return
		}
		mendRow(&row)
		if !yield(&row, nil) {
			return
		}
	}
}

func openRows(f *excelize.File, sheet string) (_ *excelize.Rows, err error) {
	defer recoverTo(&err)
	return f.Rows(sheet)
}

// nextRow fills row with the next one. A panic of the decoder on a broken part becomes an error; one of the
// consumer's does not pass here.
func nextRow(rows *excelize.Rows, row *Row) (more bool, err error) {
	defer recoverTo(&err)
	if !rows.Next() {
		return false, rows.Error()
	}
	number, hidden := row.Number+1, rows.GetRowOpts().Hidden
	cells, err := rows.Columns()
	if err != nil {
		return false, err
	}
	*row = Row{Number: number, Cells: cells, Hidden: hidden}
	return true, nil
}

func recoverTo(err *error) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("read workbook: %v", p)
	}
}
