package sheet

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"strconv"
	"unicode/utf8"
)

// A markup goes through the tags of an XML stream one after another and builds no tree: a worksheet may be a hundred
// megabytes, of which little is kept. It expands no entity but XML's own five and characters given by number, and keeps
// no stack, so it can neither be blown up nor nested too deep.
type markup struct {
	r *bufio.Reader

	text []byte // what stood between the tag before and this one, entities and all
	tag  []byte

	// Parts of tag, good until the next one.
	full   []byte // name with its prefix, as in table:table-cell
	name   []byte // without it
	attrs  []byte
	closes bool // </x>
	empty  bool // <x/>
}

const maxMarkup = 4 << 20 // the longest tag or text; a cell of a workbook holds 32 767 characters

// maxRowNumber is past the last row of any spreadsheet program.
const maxRowNumber = 1 << 24

var (
	errMarkup   = errors.New("markup: a tag or text has no end")
	errCutShort = errors.New("markup: ends before its data does")
)

func newMarkup(r io.Reader) *markup { return &markup{r: bufio.NewReaderSize(r, 64<<10)} }

// next goes to the next tag; io.EOF where there is none.
func (m *markup) next() error {
	m.text = m.text[:0]
	for {
		var err error
		if m.text, err = m.upTo(m.text, '<'); err != nil {
			return err
		}
		if m.tag, err = m.upTo(m.tag[:0], '>'); err != nil {
			return cutShort(err)
		}
		whole := balanced
		switch {
		case bytes.HasPrefix(m.tag, []byte("![CDATA[")):
			whole = endsIn("]]")
		case bytes.HasPrefix(m.tag, []byte("!--")):
			whole = endsIn("--")
		case bytes.HasPrefix(m.tag, []byte("?")):
			whole = endsIn("?")
		case bytes.HasPrefix(m.tag, []byte("!")):
			whole = declared
		}
		for !whole(m.tag) {
			if m.tag, err = m.upTo(append(m.tag, '>'), '>'); err != nil {
				return cutShort(err)
			}
		}
		switch {
		case bytes.HasPrefix(m.tag, []byte("![CDATA[")):
			m.text = append(m.text, escape(m.tag[8:len(m.tag)-2])...)
		case len(m.tag) > 0 && (m.tag[0] == '!' || m.tag[0] == '?'):
		default:
			m.split()
			return nil
		}
	}
}

// upTo adds to into what comes before delim, and passes over delim.
func (m *markup) upTo(into []byte, delim byte) ([]byte, error) {
	for {
		part, err := m.r.ReadSlice(delim)
		if err == nil {
			return append(into, part[:len(part)-1]...), nil
		}
		if !errors.Is(err, bufio.ErrBufferFull) {
			return into, err
		}
		into = append(into, part...)
		if len(into) > maxMarkup {
			if len(bytes.TrimSpace(into)) > 0 {
				return into, errMarkup
			}
			into = into[:0]
		}
	}
}

func cutShort(err error) error {
	if errors.Is(err, io.EOF) {
		return errCutShort
	}
	return err
}

func endsIn(end string) func([]byte) bool {
	return func(tag []byte) bool { return len(tag) >= len(end)+2 && bytes.HasSuffix(tag, []byte(end)) }
}

// declared tells whether a declaration is whole: a document type may hold others in brackets. What it declares is not
// looked at.
func declared(tag []byte) bool {
	return bytes.IndexByte(tag, '[') < 0 || bytes.HasSuffix(bytes.TrimSpace(tag), []byte("]"))
}

// balanced tells whether every quotation mark in a tag is closed, so that the > behind it ends the tag.
func balanced(tag []byte) bool {
	for {
		i := bytes.IndexByte(tag, '=')
		if i < 0 || i+1 == len(tag) {
			return true
		}
		tag = tag[i+1:]
		for len(tag) > 1 && tag[0] == ' ' {
			tag = tag[1:]
		}
		if tag[0] != '"' && tag[0] != '\'' {
			continue
		}
		j := bytes.IndexByte(tag[1:], tag[0])
		if j < 0 {
			return false
		}
		tag = tag[j+2:]
	}
}

// escape writes & and < as markup does, so that text from a CDATA section reads like any other.
func escape(s []byte) []byte {
	return bytes.ReplaceAll(bytes.ReplaceAll(s, []byte("&"), []byte("&amp;")), []byte("<"), []byte("&lt;"))
}

func (m *markup) split() {
	tag := m.tag
	m.closes, m.empty = false, false
	if len(tag) > 0 && tag[0] == '/' {
		m.closes, tag = true, tag[1:]
	}
	if len(tag) > 0 && tag[len(tag)-1] == '/' {
		m.empty, tag = true, tag[:len(tag)-1]
	}
	end := 0
	for end < len(tag) && tag[end] > ' ' {
		end++
	}
	m.full, m.attrs = tag[:end], tag[end:]
	m.name = m.full
	if i := bytes.IndexByte(m.full, ':'); i >= 0 {
		m.name = m.full[i+1:]
	}
}

// attr returns the value of an attribute, entities and all: of the very name where name has a prefix, else of that name
// with any prefix.
func (m *markup) attr(name string) []byte {
	attrs := m.attrs
	for {
		i := bytes.IndexByte(attrs, '=')
		if i < 0 {
			return nil
		}
		key := bytes.TrimSpace(attrs[:i])
		if string(key) != name {
			if c := bytes.IndexByte(key, ':'); c >= 0 && string(key[c+1:]) == name {
				key = key[c+1:]
			}
		}
		for i++; i < len(attrs) && attrs[i] <= ' '; i++ {
		}
		if attrs = attrs[i:]; len(attrs) == 0 {
			return nil
		}
		end := bytes.IndexByte(attrs[1:], attrs[0])
		if end < 0 {
			return nil
		}
		if string(key) == name {
			return attrs[1 : 1+end]
		}
		attrs = attrs[end+2:]
	}
}

// number returns an attribute as a whole number from 0; fallback where it is none.
func (m *markup) number(name string, fallback int) int {
	n, err := strconv.Atoi(string(m.attr(name)))
	if err != nil || n < 0 {
		return fallback
	}
	return n
}

// yes tells whether an attribute says so.
func (m *markup) yes(name string) bool {
	switch string(m.attr(name)) {
	case "1", "true", "on":
		return true
	}
	return false
}

// skip passes over what stands inside the tag just come to, and its end.
func (m *markup) skip() error {
	if m.empty || m.closes {
		return nil
	}
	name := string(m.full)
	for depth := 1; depth > 0; {
		if err := m.next(); err != nil {
			return cutShort(err)
		}
		if string(m.full) != name || m.empty {
			continue
		}
		if m.closes {
			depth--
		} else {
			depth++
		}
	}
	return nil
}

// plain adds to into what s says once its entities are read; an entity nobody knows stays as it is written.
func plain(into, s []byte) []byte {
	for {
		i := bytes.IndexByte(s, '&')
		if i < 0 {
			return append(into, s...)
		}
		into = append(into, s[:i]...)
		s = s[i:]
		end := bytes.IndexByte(s[:min(len(s), 12)], ';')
		if end < 0 {
			into = append(into, '&')
			s = s[1:]
			continue
		}
		if c, ok := entity(string(s[1:end])); ok {
			into = utf8.AppendRune(into, c)
		} else {
			into = append(into, s[:end+1]...)
		}
		s = s[end+1:]
	}
}

func entity(name string) (rune, bool) {
	switch name {
	case "amp":
		return '&', true
	case "lt":
		return '<', true
	case "gt":
		return '>', true
	case "quot":
		return '"', true
	case "apos":
		return '\'', true
	}
	if len(name) < 2 || name[0] != '#' {
		return 0, false
	}
	digits, base := name[1:], 10
	if digits[0] == 'x' || digits[0] == 'X' {
		digits, base = digits[1:], 16
	}
	n, err := strconv.ParseUint(digits, base, 32)
	if err != nil || n == 0 || n > utf8.MaxRune {
		return 0, false
	}
	return rune(n), true
}
