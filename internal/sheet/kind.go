package sheet

import (
	"archive/zip"
	"bytes"
	"io"
	"slices"
	"strings"

	"tussock/internal/words"
)

// A Kind is what a file is, whatever its name says.
type Kind int

// The kinds that Open reads come first, then those that something else may read, then the rest.
const (
	Text    Kind = iota // CSV and other tables of text, prose
	XLSX                // workbook, ECMA-376
	ODS                 // workbook, OpenDocument
	FODS                // the same, as one flat XML file
	XLS                 // workbook of 1995 to 2003
	XMLSS               // workbook as XML, of 2003
	HTML                // web page; many programs write one and call it .xls
	Archive             // ZIP of files: see Unpack
	Picture
	PDF
	Empty
	Locked   // with a password
	XLSB     // workbook in a binary form
	OwnForm  // workbook in a form that one program alone reads
	OldXLS   // workbook from before 1995
	Document // text with or without tables
	Packed   // by something else than ZIP
	Database
	WebArchive
	OtherXML
	OtherOffice
)

// refusals say of each kind that Open does not read what to do with it, as a sentence about the file's name.
var refusals = map[Kind]string{
	Archive:     words.Mark("%s is a packed folder, not a workbook. Please unpack it and send the spreadsheet inside."),
	Picture:     words.Mark("%s is a picture. We cannot read numbers from a picture: please type the sheet into the blank workbook, or send the spreadsheet it was taken from."),
	PDF:         words.Mark("%s is a PDF. Please send the spreadsheet it was made from, saved as .xlsx or CSV."),
	Empty:       words.Mark("%s is empty. Was it saved before it was sent?"),
	Locked:      words.Mark("%s has a password. Please save a copy without a password and send that."),
	XLSB:        words.Mark("%s is in the .xlsb form. Please choose “Save as”, take .xlsx or CSV, and send that."),
	OwnForm:     words.Mark("%s is in a form of its own. Please export it as .xlsx or CSV and send that."),
	OldXLS:      words.Mark("%s is a workbook from before 1995. Please open it, choose “Save as”, take .xlsx or CSV, and send that."),
	Document:    words.Mark("%s is a text document. Please send the table as .xlsx or CSV."),
	Packed:      words.Mark("%s is packed. Please unpack it and send the spreadsheet inside."),
	Database:    words.Mark("%s is a database. Please send the table as .xlsx or CSV."),
	WebArchive:  words.Mark("%s is a web page packed with its pictures. Please open it in the spreadsheet program, choose “Save as”, take .xlsx or CSV, and send that."),
	OtherXML:    words.Mark("%s is XML inside, and no workbook that we know. Please open it in the spreadsheet program, choose “Save as”, take .xlsx or CSV, and send that."),
	OtherOffice: words.Mark("%s is an old office file without a spreadsheet in it. Please open it, choose “Save as”, take .xlsx or CSV, and send that."),
}

// starts are the first bytes of files that are told by them alone.
var starts = []struct {
	magic string
	kind  Kind
}{
	{"%PDF", PDF}, {"\xff\xd8\xff", Picture}, {"\x89PNG", Picture}, {"GIF8", Picture}, {"II*\x00", Picture}, {"MM\x00*", Picture},
	{"{\\rtf", Document}, {"\x1f\x8b", Packed}, {"7z\xbc\xaf", Packed}, {"Rar!", Packed}, {"\xfd7zXZ", Packed},
	{"SQLite format 3", Database}, {"\x00\x01\x00\x00Standard ", Database},
	{"\x09\x08\x10\x00\x00\x06", XLS}, {"\x09\x08\x08\x00\x00\x05", XLS}, // a workbook's stream without the container around it
	{"\x09\x00\x04\x00", OldXLS}, {"\x09\x02\x06\x00", OldXLS}, {"\x09\x04\x06\x00", OldXLS},
	{"MIME-Version: ", WebArchive},
	{"PK\x07\x08", Packed}, // a part of a split archive
}

// KindOf tells what kind of file data is, by its bytes alone.
func KindOf(data []byte) Kind {
	if len(bytes.TrimSpace(data)) == 0 {
		return Empty
	}
	for _, s := range starts {
		if bytes.HasPrefix(data, []byte(s.magic)) {
			return s.kind
		}
	}
	switch {
	case len(data) > 12 && (string(data[4:8]) == "ftyp" || string(data[:4]) == "RIFF" || string(data[:2]) == "BM" && string(data[6:10]) == "\x00\x00\x00\x00"):
		return Picture
	case bytes.HasPrefix(data, []byte("PK\x03\x04")) || bytes.HasPrefix(data, []byte("PK\x05\x06")):
		return kindOfZip(data)
	case bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")):
		return kindOfCompound(data)
	}
	return kindOfMarkup(data)
}

// kindOfZip tells by its parts what an archive is. One that does not open is taken for a workbook, so that it is called
// damaged and not unknown.
func kindOfZip(data []byte) Kind {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return XLSX
	}
	p := newPack(z)
	has := func(name string) bool { return p.part(name) != nil }
	switch {
	case has("xl/workbook.bin"):
		return XLSB
	case has("xl/workbook.xml"):
		return XLSX
	case has("word/document.xml"):
		return Document
	case has("index/document.iwa") || has("index.zip") && has("metadata/properties.plist"):
		return OwnForm
	case has("content.xml") && (has("mimetype") || has("meta-inf/manifest.xml")):
		return kindOfODF(p)
	case has("_rels/.rels") && has("[content_types].xml"): // the main part may have another name
		return XLSX
	}
	return Archive
}

func kindOfODF(p pack) Kind {
	mime := string(p.start("mimetype", 200))
	switch {
	case bytes.Contains(p.start("meta-inf/manifest.xml", 64<<10), []byte("encryption-data")):
		return Locked
	case strings.Contains(mime, "spreadsheet") || mime == "":
		return ODS
	}
	return Document
}

// start returns the first bytes of a part.
func (p pack) start(name string, most int) []byte {
	f := p.part(name)
	if f == nil {
		return nil
	}
	r, err := f.Open()
	if err != nil {
		return nil
	}
	defer r.Close() // only read
	var b bytes.Buffer
	b.ReadFrom(io.LimitReader(r, int64(most))) // a part that breaks off has said enough
	return b.Bytes()
}

// kindOfMarkup tells web pages and XML from text.
func kindOfMarkup(data []byte) Kind {
	text := startOfText(data)
	if !bytes.HasPrefix(text, []byte("<")) {
		return Text
	}
	switch {
	case bytes.Contains(text, []byte("office:document")) && bytes.Contains(text, []byte("opendocument.spreadsheet")):
		return FODS
	case bytes.Contains(text, []byte("urn:schemas-microsoft-com:office:spreadsheet")) && !bytes.Contains(text, []byte("<html")):
		return XMLSS
	}
	if slices.ContainsFunc([]string{"<!doctype html", "<html", "<table", "<head", "<body", "<meta", "<div", "<style", "<center", "<p>", "<p "}, func(tag string) bool {
		return bytes.Contains(text, []byte(tag))
	}) {
		return HTML
	}
	if bytes.HasPrefix(text, []byte("<?xml")) || bytes.HasPrefix(text, []byte("<!doctype")) || bytes.HasPrefix(text, []byte("<svg")) {
		return OtherXML
	}
	return Text
}

// startOfText returns the first few thousand characters in small letters, without what stands before the first.
func startOfText(data []byte) []byte {
	head := data[:min(len(data), 8<<10)]
	if len(head) > 1 && (head[0] == 0xff && head[1] == 0xfe || head[0] == 0xfe && head[1] == 0xff) {
		head = bytes.ReplaceAll(head[2:], []byte{0}, nil)
	}
	return bytes.ToLower(bytes.TrimSpace(bytes.TrimPrefix(head, []byte("\xef\xbb\xbf"))))
}
