package sheet

import (
	"bytes"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

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

// A Book is one file: a CSV file with one table, or a workbook with a table a worksheet.
type Book struct {
	File     string
	Tables   []*Table
	Encoding string // "" is UTF-8, else what it was read as

	close func() error
}

// Open tells what kind of file data is and opens it. The name is used in messages only. The failure is of kind
// TooLarge where the file is over a limit and Invalid where it cannot be read; both carry a sentence for the sender,
// said by say.
func Open(name string, data []byte, say words.Speaker) (*Book, error) {
	switch {
	case len(data) > MaxBytes:
		return nil, errs.New(errs.TooLarge, say.Say("%s is %d MB; a file may be 20 MB. Send one season or one ranch at a time, or leave pictures out of the workbook.", name, len(data)>>20))
	case len(bytes.TrimSpace(data)) == 0:
		return nil, errs.New(errs.Invalid, say.Say("%s is empty. Was it saved before it was sent?", name))
	}
	if what := foreign(data); what != "" {
		return nil, errs.New(errs.Invalid, say.Say(what, name))
	}
	if isZip(data) {
		return openWorkbook(name, data, say)
	}
	return openText(name, data, say)
}

// Close removes what a large workbook left in the temporary folder.
func (b *Book) Close() error {
	if b.close == nil {
		return nil
	}
	return b.close()
}

func isZip(data []byte) bool {
	return bytes.HasPrefix(data, []byte("PK\x03\x04")) || bytes.HasPrefix(data, []byte("PK\x05\x06"))
}

// foreign recognises files of other kinds by their first bytes and says what to do with them, as a sentence about the
// file's name.
func foreign(data []byte) string {
	picture := words.Mark("%s is a picture. We cannot read numbers from a picture: please type the sheet into the blank workbook, or send the spreadsheet it was taken from.")
	starts := []struct {
		magic, what string
	}{
		{"%PDF", words.Mark("%s is a PDF. Please send the spreadsheet it was made from, saved as .xlsx or CSV.")},
		{"\xff\xd8\xff", picture},
		{"\x89PNG", picture},
		{"GIF8", picture},
		{"II*\x00", picture},
		{"MM\x00*", picture},
		{"BM\x36", picture},
		{"{\\rtf", words.Mark("%s is a text document. Please send the table as .xlsx or CSV.")},
		{"\x1f\x8b", words.Mark("%s is packed. Please unpack it and send the spreadsheet inside.")},
		{"7z\xbc\xaf", words.Mark("%s is packed. Please unpack it and send the spreadsheet inside.")},
		{"Rar!", words.Mark("%s is packed. Please unpack it and send the spreadsheet inside.")},
		{"SQLite format 3", words.Mark("%s is a database. Please send the table as .xlsx or CSV.")},
	}
	for _, s := range starts {
		if bytes.HasPrefix(data, []byte(s.magic)) {
			return s.what
		}
	}
	if len(data) > 12 && (string(data[4:8]) == "ftyp" || string(data[:4]) == "RIFF") {
		return picture
	}
	if bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")) {
		if bytes.Contains(data, utf16le("EncryptedPackage")) {
			return words.Mark("%s has a password. Please save a copy without a password and send that.")
		}
		return words.Mark("%s is in the old .xls form (or another old office form). Please open it, choose “Save as”, take .xlsx or CSV, and send that.")
	}
	head := bytes.ToLower(bytes.TrimSpace(bytes.TrimPrefix(data[:min(len(data), 512)], []byte("\xef\xbb\xbf"))))
	for _, tag := range []string{"<!doctype", "<html", "<?xml", "<table", "<svg"} {
		if bytes.HasPrefix(head, []byte(tag)) {
			return words.Mark("%s is a web page or XML inside, whatever its name says. Please open it in the spreadsheet program, choose “Save as”, take .xlsx or CSV, and send that.")
		}
	}
	return ""
}

func utf16le(s string) []byte {
	var b []byte
	for _, u := range utf16.Encode([]rune(s)) {
		b = append(b, byte(u), byte(u>>8))
	}
	return b
}

// toUTF8 returns data as UTF-8 without a byte order mark, and the name of the encoding where it was another.
// Bytes that are not UTF-8 are read as Windows-1252, in which spreadsheet programs in the Americas save CSV.
func toUTF8(data []byte) (text []byte, encoding string) {
	switch {
	case bytes.HasPrefix(data, []byte("\xef\xbb\xbf")):
		data = data[3:]
	case bytes.HasPrefix(data, []byte("\xff\xfe")):
		return fromUTF16(data[2:], 0, 1), "UTF-16"
	case bytes.HasPrefix(data, []byte("\xfe\xff")):
		return fromUTF16(data[2:], 1, 0), "UTF-16"
	}
	if utf8.Valid(data) {
		return data, ""
	}
	// A decoder of single bytes has no way to fail.
	out, _ := charmap.Windows1252.NewDecoder().Bytes(data)
	return out, "Windows-1252"
}

func fromUTF16(data []byte, low, high int) []byte {
	units := make([]uint16, len(data)/2)
	for i := range units {
		units[i] = uint16(data[2*i+low]) | uint16(data[2*i+high])<<8
	}
	return []byte(string(utf16.Decode(units)))
}
