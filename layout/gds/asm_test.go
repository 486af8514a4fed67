package gds

import (
	"bytes"
	"encoding/binary"
	"math"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// asm is a small assembler of streams. It knows the format from the record table only, not from the writer.
type asm []byte

func (a asm) rec(code uint16, data ...byte) asm {
	a = binary.BigEndian.AppendUint16(a, uint16(4+len(data)))
	a = binary.BigEndian.AppendUint16(a, code)
	return slices.Clip(append(a, data...)) // so that two continuations of one beginning do not share bytes
}

func (a asm) i16(code uint16, values ...int) asm {
	var b []byte
	for _, v := range values {
		b = binary.BigEndian.AppendUint16(b, uint16(v))
	}
	return a.rec(code, b...)
}

func (a asm) i32(code uint16, values ...int) asm {
	var b []byte
	for _, v := range values {
		b = binary.BigEndian.AppendUint32(b, uint32(v))
	}
	return a.rec(code, b...)
}

func (a asm) str(code uint16, s string) asm {
	if len(s)%2 != 0 {
		s += "\x00"
	}
	return a.rec(code, []byte(s)...)
}

// 8-byte reals of the table in real8_test.go that streams need.
var (
	real1e_3  = []byte{0x3E, 0x41, 0x89, 0x37, 0x4B, 0xC6, 0xA7, 0xF0}
	real1e_9  = []byte{0x39, 0x44, 0xB8, 0x2F, 0xA0, 0x9B, 0x5A, 0x54}
	real5e_10 = []byte{0x39, 0x22, 0x5C, 0x17, 0xD0, 0x4D, 0xAD, 0x2A}
	real1e_8  = []byte{0x3A, 0x2A, 0xF3, 0x1D, 0xC4, 0x61, 0x18, 0x74}
	real0     = make([]byte, 8)
	real1     = []byte{0x41, 0x10, 0, 0, 0, 0, 0, 0}
	realNeg1  = []byte{0xC1, 0x10, 0, 0, 0, 0, 0, 0}
	real2     = []byte{0x41, 0x20, 0, 0, 0, 0, 0, 0}
	real1_5   = []byte{0x41, 0x18, 0, 0, 0, 0, 0, 0}
	real90    = []byte{0x42, 0x5A, 0, 0, 0, 0, 0, 0}
	real180   = []byte{0x42, 0xB4, 0, 0, 0, 0, 0, 0}
	real270   = []byte{0x43, 0x10, 0xE0, 0, 0, 0, 0, 0}
)

// lib begins a library with 1 nm units.
func lib() asm { return libUnits(real1e_9) }

func libUnits(metres []byte) asm {
	return asm{}.i16(0x0002, 600).i16(0x0102, make([]int, 12)...).str(0x0206, "LIB").
		rec(0x0305, append(bytes.Clone(real1e_3), metres...)...)
}

func (a asm) cell(name string) asm { return a.i16(0x0502, make([]int, 12)...).str(0x0606, name) }

func (a asm) endCell() asm { return a.rec(0x0700) }

func (a asm) endLib() asm { return a.rec(0x0400) }

func (a asm) end() asm { return a.rec(0x1100) }

func (a asm) boundary(layer, datatype int, xy ...int) asm {
	return a.rec(0x0800).i16(0x0D02, layer).i16(0x0E02, datatype).i32(0x1003, xy...).end()
}

func (a asm) path(pathType, width int, xy ...int) asm {
	return a.rec(0x0900).i16(0x0D02, 1).i16(0x0E02, 0).i16(0x2102, pathType).i32(0x0F03, width).i32(0x1003, xy...).end()
}

func (a asm) sref(name string, x, y int) asm {
	return a.rec(0x0A00).str(0x1206, name).i32(0x1003, x, y).end()
}

func (a asm) aref(name string, columns, rows int, xy ...int) asm {
	return a.rec(0x0B00).str(0x1206, name).i16(0x1302, columns, rows).i32(0x1003, xy...).end()
}

func (a asm) text(layer, texttype, x, y int, s string) asm {
	return a.rec(0x0C00).i16(0x0D02, layer).i16(0x1602, texttype).i32(0x1003, x, y).str(0x1906, s).end()
}

func mustRead(t testing.TB, stream []byte, m *Map) (*layout.Library, *Report) {
	t.Helper()
	l, rep, err := Read("test.gds", bytes.NewReader(stream), m)
	if err != nil {
		t.Fatal(err)
	}
	return l, rep
}

// readShape reads the only shape of a library with one cell that holds the given element.
func readShape(t testing.TB, element asm) geom.Polygon {
	t.Helper()
	l, _ := mustRead(t, append(lib().cell("A"), element.endCell().endLib()...), nil)
	if len(l.Cells) != 1 || len(l.Cells[0].Shapes) != 1 {
		t.Fatalf("want one cell with one shape, got %d cells", len(l.Cells))
	}
	return l.Cells[0].Shapes[0].Polygon
}

// signedArea adds up the rings.
func signedArea(pg geom.Polygon) (sum float64) {
	for _, r := range pg {
		sum += r.Area()
	}
	return sum
}

func near(a, b, tol float64) bool { return math.Abs(a-b) <= tol }
