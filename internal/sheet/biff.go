package sheet

import (
	"encoding/binary"
	"errors"
	"unicode/utf16"

	"golang.org/x/text/encoding/charmap"
)

// Records of a workbook's stream that we read ([MS-XLS] 2.3; numbers cited from memory and tried on files of three other
// programs).
const (
	recFormula     = 0x0006
	recEOF         = 0x000A
	recNote        = 0x001C
	recDate1904    = 0x0022
	recFilePass    = 0x002F
	recFont        = 0x0031
	recContinue    = 0x003C
	recCodePage    = 0x0042
	recObj         = 0x005D
	recColInfo     = 0x007D
	recBoundSheet  = 0x0085
	recPalette     = 0x0092
	recMulRK       = 0x00BD
	recMulBlank    = 0x00BE
	recRString     = 0x00D6
	recXF          = 0x00E0
	recMergedCells = 0x00E5
	recSST         = 0x00FC
	recLabelSST    = 0x00FD
	recText        = 0x01B6
	recBlank       = 0x0201
	recNumber      = 0x0203
	recLabel       = 0x0204
	recBoolErr     = 0x0205
	recString      = 0x0207
	recRow         = 0x0208
	recRK          = 0x027E
	recFormat      = 0x041E
	recBOF         = 0x0809
)

var errBIFF = errors.New("xls: a record is shorter than what it says it holds")

// A record is one of a stream, with those that go on with it. Its fields can be read once.
type record struct {
	kind  uint16
	parts [][]byte // its own bytes, then those of each continuation
}

// A stream goes through records.
type stream struct {
	data []byte
	at   int
}

// next returns the next record with its continuations; false at the end of the stream.
func (s *stream) next() (record, bool) {
	kind, body, ok := s.one()
	if !ok {
		return record{}, false
	}
	r := record{kind, [][]byte{body}}
	for s.at+4 <= len(s.data) && binary.LittleEndian.Uint16(s.data[s.at:]) == recContinue {
		if _, body, ok = s.one(); !ok {
			break
		}
		r.parts = append(r.parts, body)
	}
	return r, true
}

func (s *stream) one() (kind uint16, body []byte, ok bool) {
	if s.at+4 > len(s.data) {
		return 0, nil, false
	}
	kind, size := binary.LittleEndian.Uint16(s.data[s.at:]), int(binary.LittleEndian.Uint16(s.data[s.at+2:]))
	if s.at+4+size > len(s.data) {
		return 0, nil, false
	}
	body = s.data[s.at+4 : s.at+4+size]
	s.at += 4 + size
	return kind, body, true
}

// A fields reads the fields of a record one after another. Reading past its end gives zeros and sets short.
type fields struct {
	parts [][]byte
	short bool
}

func (r record) fields() *fields { return &fields{parts: r.parts} }

// skip passes over n bytes.
func (f *fields) skip(n int) { f.bytes(n) }

// bytes returns the next n bytes.
func (f *fields) bytes(n int) []byte {
	if n >= 0 && len(f.parts) > 0 && len(f.parts[0]) >= n {
		b := f.parts[0][:n]
		f.parts[0] = f.parts[0][n:]
		return b
	}
	var out []byte
	for len(f.parts) > 0 && len(out) < n {
		k := min(n-len(out), len(f.parts[0]))
		out = append(out, f.parts[0][:k]...)
		if f.parts[0] = f.parts[0][k:]; len(f.parts[0]) == 0 && len(out) < n {
			f.parts = f.parts[1:]
		}
	}
	if len(out) < n {
		f.short = true
		return make([]byte, min(max(n, 0), 16))
	}
	return out
}

func (f *fields) u8() int { return int(f.bytes(1)[0]) }

func (f *fields) u16() int { return int(binary.LittleEndian.Uint16(f.bytes(2))) }

func (f *fields) u32() uint32 { return binary.LittleEndian.Uint32(f.bytes(4)) }

// letters reads n letters of one byte or of two, as flags say; at the start of each continuation, flags stand again.
func (f *fields) letters(n int, wide bool) []byte {
	var units []uint16
	for n > 0 {
		for len(f.parts) > 0 && len(f.parts[0]) == 0 {
			if f.parts = f.parts[1:]; len(f.parts) > 0 && len(f.parts[0]) > 0 {
				wide = f.parts[0][0]&1 != 0
				f.parts[0] = f.parts[0][1:]
			}
		}
		if len(f.parts) == 0 {
			f.short = true
			break
		}
		size := 1
		if wide {
			size = 2
		}
		part := f.parts[0]
		k := min(n, len(part)/size)
		if k == 0 { // half a letter
			f.short = true
			break
		}
		for i := range k {
			if wide {
				units = append(units, binary.LittleEndian.Uint16(part[2*i:]))
			} else {
				units = append(units, uint16(part[i]))
			}
		}
		f.parts[0] = part[k*size:]
		n -= k
	}
	return []byte(string(utf16.Decode(units)))
}

// text reads a string with n letters as BIFF8 writes it, formatting and all.
func (f *fields) text(n int) []byte {
	flags := f.u8()
	runs, extra := 0, 0
	if flags&8 != 0 {
		runs = f.u16()
	}
	if flags&4 != 0 {
		extra = int(f.u32())
	}
	out := f.letters(n, flags&1 != 0)
	f.skipFar(4*runs + extra)
	return out
}

// skipFar passes over n bytes without gathering them.
func (f *fields) skipFar(n int) {
	for n > 0 {
		if len(f.parts) == 0 {
			f.short = true
			return
		}
		k := min(n, len(f.parts[0]))
		n -= k
		if f.parts[0] = f.parts[0][k:]; n > 0 {
			f.parts = f.parts[1:]
		}
	}
}

// rk reads a number packed into four bytes: a whole number or the first half of a fraction, perhaps times a hundred.
func rk(v uint32) float64 {
	var n float64
	if v&2 != 0 {
		n = float64(int32(v) >> 2)
	} else {
		n = float64from(uint64(v&^3) << 32)
	}
	if v&1 != 0 {
		n /= 100
	}
	return n
}

// codePages are those in which older workbooks of the Americas and Western Europe write their letters.
var codePages = map[int]*charmap.Charmap{
	437: charmap.CodePage437, 850: charmap.CodePage850, 1250: charmap.Windows1250, 1252: charmap.Windows1252,
	10000: charmap.Macintosh, 32768: charmap.Macintosh, 32769: charmap.Windows1252,
}
