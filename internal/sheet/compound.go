package sheet

import (
	"bytes"
	"encoding/binary"
	"errors"
	"unicode/utf16"
)

// A compound is a container of the old office programs: sectors chained like those of a disk ([MS-CFB]). Only what lies
// at the top of its tree is read. The library at hand copies the whole path of every entry, so that a file of a few
// megabytes whose folders lie one in another would take all memory.
type compound struct {
	data   []byte
	sector int
	next   []uint32 // by sector, the one after it
	small  []uint32 // by small sector
	pieces []byte   // where the small sectors lie
	dir    []byte
}

const (
	smallSector = 64
	smallStream = 4096 // shorter streams lie in small sectors
	entrySize   = 128
	noSector    = 0xFFFFFFFA // and above: ends, gaps, the table itself
	noEntry     = 0xFFFFFFFF
)

var errCompound = errors.New("compound file: a chain leads nowhere")

func openCompound(data []byte) (*compound, error) {
	if len(data) < 512 {
		return nil, errCompound
	}
	at := func(i int) uint32 { return binary.LittleEndian.Uint32(data[i:]) }
	c := &compound{data: data}
	switch binary.LittleEndian.Uint16(data[30:]) {
	case 9:
		c.sector = 512
	case 12:
		c.sector = 4096
	default:
		return nil, errCompound
	}
	c.readNext(at(68))
	c.dir = c.chain(at(48))
	if len(c.dir) < entrySize {
		return nil, errCompound
	}
	for b := c.chain(at(60)); len(b) >= 4; b = b[4:] {
		c.small = append(c.small, binary.LittleEndian.Uint32(b))
	}
	c.pieces = c.chain(binary.LittleEndian.Uint32(c.dir[116:]))
	return c, nil
}

// readNext reads the table of what sector follows which. The header lists its first 109 sectors, others the rest.
func (c *compound) readNext(more uint32) {
	list := c.data[76:512]
	for left := len(c.data)/c.sector + 1; ; left-- {
		for ; len(list) >= 4; list = list[4:] {
			for b := c.at(binary.LittleEndian.Uint32(list)); len(b) >= 4; b = b[4:] {
				c.next = append(c.next, binary.LittleEndian.Uint32(b))
			}
			if len(c.next) > len(c.data)/c.sector+c.sector { // as many as there are sectors
				return
			}
		}
		sector := c.at(more)
		if len(sector) < c.sector || left == 0 {
			return
		}
		list, more = sector[:c.sector-4], binary.LittleEndian.Uint32(sector[c.sector-4:])
	}
}

// at returns a sector, as much of it as there is.
func (c *compound) at(n uint32) []byte {
	from := (int(n) + 1) * c.sector
	if n >= noSector || from >= len(c.data) {
		return nil
	}
	return c.data[from:min(from+c.sector, len(c.data))]
}

// chain returns what lies in the sectors from n on.
func (c *compound) chain(n uint32) []byte {
	var out []byte
	for left := len(c.data)/c.sector + 1; left > 0; left-- {
		out = append(out, c.at(n)...)
		if n >= noSector || int(n) >= len(c.next) {
			break
		}
		n = c.next[n]
	}
	return out
}

// streams calls visit with the name of each stream at the top, until it returns false.
func (c *compound) streams(visit func(name string, entry []byte) bool) {
	todo := []uint32{binary.LittleEndian.Uint32(c.dir[76:])} // the root's child
	for left := len(c.dir) / entrySize; len(todo) > 0 && left > 0; left-- {
		n := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		if int(n) >= len(c.dir)/entrySize || n == noEntry {
			continue
		}
		e := c.dir[int(n)*entrySize:][:entrySize]
		todo = append(todo, binary.LittleEndian.Uint32(e[68:]), binary.LittleEndian.Uint32(e[72:]))
		if e[66] == 2 && !visit(entryName(e), e) {
			return
		}
	}
}

func entryName(e []byte) string {
	var units []uint16
	for i := 0; i+2 < min(int(binary.LittleEndian.Uint16(e[64:])), 64); i += 2 {
		units = append(units, binary.LittleEndian.Uint16(e[i:]))
	}
	return string(utf16.Decode(units))
}

// read returns what lies in the stream of an entry.
func (c *compound) read(entry []byte) []byte {
	n, size := binary.LittleEndian.Uint32(entry[116:]), int(binary.LittleEndian.Uint32(entry[120:]))
	if size >= smallStream {
		b := c.chain(n)
		return b[:min(len(b), size)]
	}
	var out []byte
	for left := len(c.small) + 1; left > 0 && len(out) < size; left-- {
		from := int(n) * smallSector
		if n >= noSector || from >= len(c.pieces) {
			break
		}
		out = append(out, c.pieces[from:min(from+smallSector, len(c.pieces))]...)
		if int(n) >= len(c.small) {
			break
		}
		n = c.small[n]
	}
	return out[:min(len(out), size)]
}

// kindOfCompound tells by the streams at the top of a container which program's file it is: a text document may hold a
// workbook further down.
func kindOfCompound(data []byte) Kind {
	kind := OtherOffice
	c, err := openCompound(data)
	if err != nil {
		if bytes.Contains(data, utf16le("EncryptedPackage")) {
			return Locked
		}
		return XLS // so that it is called damaged
	}
	c.streams(func(name string, _ []byte) bool {
		switch name {
		case "EncryptedPackage":
			kind = Locked
		case "Workbook", "Book":
			kind = XLS
		case "WordDocument":
			kind = Document
		default:
			return true
		}
		return false
	})
	return kind
}

func utf16le(s string) []byte {
	var b []byte
	for _, u := range utf16.Encode([]rune(s)) {
		b = append(b, byte(u), byte(u>>8))
	}
	return b
}

// workbookStream returns the stream of a workbook; data itself where no container is around it.
func workbookStream(data []byte) ([]byte, error) {
	if bytes.HasPrefix(data, []byte("\x09\x08")) {
		return data, nil
	}
	c, err := openCompound(data)
	if err != nil {
		return nil, err
	}
	var book []byte
	c.streams(func(name string, entry []byte) bool {
		if name == "Workbook" || name == "Book" && book == nil { // some workbooks hold both forms
			book = c.read(entry)
		}
		return name != "Workbook"
	})
	return book, nil
}
