package gds

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"undermetal/layout"
)

// units is a UNITS record.
func units(metres []byte) asm { return asm{}.rec(0x0305, append(bytes.Clone(real1e_3), metres...)...) }

// inA is the place of the record at the end of the stream so far, in cell A.
func inA(so asm) string { return fmt.Sprintf("test.gds: byte %d, cell A: ", len(so)) }

func at(so asm) string { return fmt.Sprintf("test.gds: byte %d: ", len(so)) }

// errorCase is a stream that cannot be read, and the whole text that the user sees.
type errorCase struct {
	name   string
	stream asm
	want   string
}

func checkErrors(t *testing.T, cases []errorCase) {
	t.Helper()
	for _, tc := range cases {
		l, rep, err := Read("test.gds", bytes.NewReader(tc.stream), nil)
		if err == nil || l != nil || rep != nil {
			t.Errorf("%s: got a library and no error", tc.name)
			continue
		}
		if err.Error() != tc.want {
			t.Errorf("%s:\ngot  %s\nwant %s", tc.name, err, tc.want)
		}
		if e := (*Error)(nil); !errors.As(err, &e) {
			t.Errorf("%s: error is a %T", tc.name, err)
		}
	}
}

func TestErrorsOfForm(t *testing.T) {
	cell := lib().cell("A")
	whole := cell.boundary(1, 0, 0, 0, 9, 0, 0, 9).endCell().endLib()
	checkErrors(t, []errorCase{
		{"empty", nil, "test.gds: byte 0: the file is empty\n    " + getCopy},
		{"gzip", asm{0x1F, 0x8B, 8, 0}, "test.gds: byte 0: the file is compressed (gzip)\n    decompress it first"},
		{"other file", asm("<svg>"), "test.gds: byte 0: this is no GDSII stream, which begins with a HEADER record; found bytes 3C 73 76 67\n    take a GDSII stream file (mostly called .gds)"},
		{"too short", asm{0, 6}, "test.gds: byte 0: this is no GDSII stream, which begins with a HEADER record; found bytes 00 06\n    take a GDSII stream file (mostly called .gds)"},
		{"no ENDLIB", whole[:len(whole)-4], fmt.Sprintf("test.gds: byte %d: the file ends without ENDLIB\n    %s", len(whole)-4, getCopy)},
		{"no ENDSTR", cell, inA(cell) + "the file ends without ENDLIB\n    " + getCopy},
		{"cut in a head", append(bytes.Clone(cell), 0, 4, 8), inA(cell) + "the file ends after 3 of a record's first 4 bytes\n    " + getCopy},
		{"cut in a record", append(bytes.Clone(cell), 0, 12, 0x10, 3, 0, 0), inA(cell) + "the file ends after 6 of the 12 bytes of its XY record\n    " + getCopy},
		{"odd length", append(bytes.Clone(cell), 0, 5, 8, 0, 0), inA(cell) + "BOUNDARY record of 5 bytes; the number must be even\n    " + damaged},
		{"odd length of bookkeeping", append(bytes.Clone(cell), 0, 5, 0x1F, 6, 0), inA(cell) + "type-1F record of 5 bytes; the number must be even\n    " + damaged},
		{"NUL bytes", append(bytes.Clone(cell), make([]byte, 64)...), inA(cell) + "record of 0 bytes before ENDLIB; a record has at least 4\n    " + damaged},
		{"unknown record", cell.rec(0x3C00), inA(cell) + "unknown record type 3C; types go from 00 to 3B\n    " + damaged},
		{"garbage", append(bytes.Clone(cell), "garbage!"...), inA(cell) + "unknown record type 72; types go from 00 to 3B\n    " + damaged},
		{"wrong data type", cell.rec(0x0800).rec(0x0D03, 0, 1), inA(cell.rec(0x0800)) + "LAYER record with data type 3; data type 2 belongs there\n    " + damaged},
		{"wrong size", cell.rec(0x0800).rec(0x0D02), inA(cell.rec(0x0800)) + "LAYER record with 0 data bytes; 2 belong there\n    " + damaged},
		{"half a point", cell.rec(0x0800).i32(0x1003, 1, 2, 3), inA(cell.rec(0x0800)) + "XY record with 12 data bytes; a multiple of 8 belongs there\n    " + damaged},
		{"no point", cell.rec(0x0800).i32(0x1003), inA(cell.rec(0x0800)) + "XY record with 0 data bytes; a multiple of 8 belongs there\n    " + damaged},
		{"data after the end", append(bytes.Clone(whole), 0, 0, 7), fmt.Sprintf("test.gds: byte %d: byte 07 after ENDLIB; only NUL bytes may follow\n    remove what follows ENDLIB; a file holds one library", len(whole)+2)},
	})
}

func TestErrorsOfOrder(t *testing.T) {
	cell := lib().cell("A")
	tri := []int{0, 0, 9, 0, 0, 9}
	head := asm{}.i16(0x0002, 600)
	strange := cell.rec(0x0800).i16(0x0D02, 1).i16(0x0E02, 0)
	checkErrors(t, []errorCase{
		{"no BGNLIB", head.str(0x0206, "L"), at(head) + "LIBNAME record where BGNLIB belongs\n    " + wrongWriter},
		{"no UNITS", head.i16(0x0102).str(0x0206, "L").i16(0x0502), at(head.i16(0x0102).str(0x0206, "L")) + "BGNSTR record where UNITS belongs\n    " + wrongWriter},
		{"element outside a cell", lib().rec(0x0800), at(lib()) + "BOUNDARY record where BGNSTR or ENDLIB belongs\n    " + wrongWriter},
		{"cell without STRNAME", lib().i16(0x0502).rec(0x0700), at(lib().i16(0x0502)) + "ENDSTR record where STRNAME belongs\n    " + wrongWriter},
		{"cell in a cell", cell.i16(0x0502), inA(cell) + "BGNSTR record where an element or ENDSTR belongs\n    " + wrongWriter},
		{"LAYER outside an element", cell.i16(0x0D02, 1), inA(cell) + "LAYER record where an element or ENDSTR belongs\n    " + wrongWriter},
		{"record of another element", strange.i32(0x0F03, 1), inA(strange) + "WIDTH record in a BOUNDARY element\n    " + wrongWriter},
		{"element in an element", strange.rec(0x0900), inA(strange) + "PATH record in a BOUNDARY element\n    " + wrongWriter},
		{"twice", strange.i16(0x0D02, 2), inA(strange) + "a second LAYER record in a BOUNDARY element\n    " + wrongWriter},
		{"no XY", strange.end(), inA(cell) + "BOUNDARY element without XY\n    " + wrongWriter},
		{"no layer", cell.rec(0x0800).i32(0x1003, tri...).end(), inA(cell) + "BOUNDARY element without LAYER\n    " + wrongWriter},
		{"no BOXTYPE", cell.rec(0x2D00).i16(0x0D02, 1).i32(0x1003, tri...).end(), inA(cell) + "BOX element without BOXTYPE\n    " + wrongWriter},
		{"no SNAME", cell.rec(0x0A00).i32(0x1003, 0, 0).end(), inA(cell) + "SREF element without SNAME\n    " + wrongWriter},
		{"no COLROW", cell.rec(0x0B00).str(0x1206, "B").i32(0x1003, tri...).end(), inA(cell) + "AREF element without COLROW\n    " + wrongWriter},
		{"no STRING", cell.rec(0x0C00).i16(0x0D02, 1).i16(0x1602, 1).i32(0x1003, 0, 0).end(), inA(cell) + "TEXT element without STRING\n    " + wrongWriter},
		{"text with two points", cell.rec(0x0C00).i16(0x0D02, 1).i16(0x1602, 1).i32(0x1003, 0, 0, 1, 1).str(0x1906, "x").end(), inA(cell) + "TEXT element with 2 points; it needs 1 (its place)\n    " + wrongWriter},
		{"reference with two points", cell.rec(0x0A00).str(0x1206, "B").i32(0x1003, 0, 0, 1, 1).end(), inA(cell) + "SREF element with 2 points; it needs 1 (its origin)\n    " + wrongWriter},
		{"array with two points", cell.aref("B", 2, 2, 0, 0, 9, 0), inA(cell) + "AREF element with 2 points; it needs 3 (its origin and the ends of its columns and rows)\n    " + wrongWriter},
	})
}

func TestErrorsOfValues(t *testing.T) {
	cell, half := lib().cell("A"), libUnits(real5e_10).cell("A")
	head := asm{}.i16(0x0002, 600).i16(0x0102).str(0x0206, "L")
	remedy := "\n    write the file with a database unit of 1 nm (UNITS 0.001 and 1e-9)"
	wrongUnit := func(m string) string {
		return at(head) + "the database unit is " + m + " m; it must be a whole multiple or a simple fraction of 1 nm, from 1e-13 to 1e-4 m" + remedy
	}
	snap := "\n    snap the drawing to whole nanometres, or write it with a database unit of 1 nm"
	move := "\n    move the drawing nearer to the origin, or check the database unit"
	bound := asm{}.rec(0x0800).i16(0x0D02, 1).i16(0x0E02, 0)
	path := asm{}.rec(0x0900).i16(0x0D02, 1).i16(0x0E02, 0)
	ref := asm{}.rec(0x0A00).str(0x1206, "B")
	counts := "; allowed are 1 to 32767\n    give the array at least one column and one row"
	array := cell.rec(0x0B00).str(0x1206, "B")
	odd := []byte{0x40, 0x19, 0x99, 0x99, 0x99, 0x99, 0x99, 0x9A} // 0.1 m
	checkErrors(t, []errorCase{
		{"unit 0", append(head, units(real0)...), wrongUnit("0")},
		{"unit -1", append(head, units(realNeg1)...), wrongUnit("-1")},
		{"unit 0.1 m", append(head, units(odd)...), wrongUnit("0.1")},
		{"x off the grid", append(half, bound.i32(0x1003, 0, 0, 3, 0, 0, 4)...), fmt.Sprintf("test.gds: byte %d, cell A: x = 1.5 nm is off the nanometre grid (3 database units of 0.5 nm)", len(half)+len(bound)+4+8) + snap},
		{"y off the grid", append(half, bound.i32(0x1003, 0, -7)...), fmt.Sprintf("test.gds: byte %d, cell A: y = -3.5 nm is off the nanometre grid (-7 database units of 0.5 nm)", len(half)+len(bound)+4+4) + snap},
		{"width off the grid", append(half, path.i32(0x0F03, 3)...), fmt.Sprintf("test.gds: byte %d, cell A: WIDTH of 1.5 nm is off the nanometre grid", len(half)+len(path)) + snap},
		{"outside the frame", append(cell, bound.i32(0x1003, 0, 0, 0, 1073741825)...), fmt.Sprintf("test.gds: byte %d, cell A: y = 1073741.825 µm is outside the frame of ±1073741.824 µm", len(cell)+len(bound)+4+12) + move},
		{"outside below", append(cell, bound.i32(0x1003, -1073741825, 0)...), fmt.Sprintf("test.gds: byte %d, cell A: x = -1073741.825 µm is outside the frame of ±1073741.824 µm", len(cell)+len(bound)+4) + move},
		{"too wide", append(libUnits(real1e_8).cell("A"), path.i32(0x0F03, 300_000_000)...), fmt.Sprintf("test.gds: byte %d, cell A: WIDTH of 3000000.000 µm is more than the frame is wide (2147483.648 µm)\n    check the database unit", len(cell)+len(path))},
		{"reaches outside", cell.path(0, 20, 0, 0, 0, 1073741824, 100, 1073741824), inA(cell) + "a path of width 0.020 µm reaches outside the frame of ±1073741.824 µm\n    move the drawing nearer to the origin"},
		{"ends outside", cell.path(2, 20, 0, 0, 0, 1073741824), inA(cell) + "a path of width 0.020 µm reaches outside the frame of ±1073741.824 µm\n    move the drawing nearer to the origin"},
		{"path type", append(cell, path.i16(0x2102, 3)...), fmt.Sprintf("test.gds: byte %d, cell A: path type 3; allowed are 0 (flush), 1 (round), 2 (half a width beyond) and 4 (given extension)\n    write the path with one of these, or as a BOUNDARY", len(cell)+len(path))},
		{"magnification 0", append(cell, ref.rec(0x1B05, real0...)...), fmt.Sprintf("test.gds: byte %d, cell A: magnification 0; allowed are 1e-06 to 1e+06\n    correct the magnification of this element", len(cell)+len(ref))},
		{"magnification -1", append(cell, ref.rec(0x1B05, realNeg1...)...), fmt.Sprintf("test.gds: byte %d, cell A: magnification -1; allowed are 1e-06 to 1e+06\n    correct the magnification of this element", len(cell)+len(ref))},
		{"no columns", array.i16(0x1302, 0, 3), inA(array) + "an array of 0 columns and 3 rows" + counts},
		{"rows below 0", array.i16(0x1302, 2, -1), inA(array) + "an array of 2 columns and -1 rows" + counts},
		{"cell of no name", lib().i16(0x0502).rec(0x0606), at(lib().i16(0x0502)) + "a cell without a name\n    give every cell a name"},
		{"reference of no name", cell.rec(0x0A00).rec(0x1206, 0, 0), inA(cell.rec(0x0A00)) + "a reference to a cell without a name\n    name the cell that is placed"},
	})
}

func TestErrorsOfHierarchy(t *testing.T) {
	cell := lib().cell("A")
	first := int64(len(lib().i16(0x0502, make([]int, 12)...)))
	twice := lib().cell("A").endCell().i16(0x0502, make([]int, 12)...)
	control := lib().cell("A\x01").endCell().i16(0x0502, make([]int, 12)...)
	ring := cell.sref("B", 0, 0).endCell().cell("B").sref("D", 0, 0).sref("C", 0, 0).endCell().cell("C")
	long := lib()
	for i := range 20 {
		long = long.cell(fmt.Sprintf("C%d", i)).sref(fmt.Sprintf("C%d", (i+1)%20), 0, 0).endCell()
	}
	last := len(long) - len(asm{}.sref("C0", 0, 0).endCell())
	remedy := "\n    remove one of these placements"
	missing := ", which the file does not contain\n    add that cell to the file, or write the file with its whole hierarchy"
	checkErrors(t, []errorCase{
		{"missing", cell.sref("PDIODE", 0, 0).endCell().cell("B").sref("OTHER", 0, 0).endCell().endLib(), inA(cell) + `reference to cell "PDIODE"` + missing},
		{"itself", cell.sref("A", 0, 0).endCell().endLib(), inA(cell) + `cell "A" contains itself: A → A` + remedy},
		{"ring", ring.aref("A", 2, 2, 0, 0, 9, 0, 0, 9).endCell().cell("D").endCell().endLib(), fmt.Sprintf(`test.gds: byte %d, cell C: cell "A" contains itself: A → B → C → A`, len(ring)) + remedy},
		{"long ring", long.endLib(), fmt.Sprintf(`test.gds: byte %d, cell C19: cell "C0" contains itself: C0 → C1 → C2 → C3 → C4 → C5 → C6 → C7 → … → C19 → C0`, last) + remedy},
		{"two of one name", twice.str(0x0606, "A"), at(twice) + fmt.Sprintf("a second cell \"A\"; the first is at byte %d\n    rename one of them", first)},
		{"two of one name after replacing", control.str(0x0606, "A\x02"), at(control) + fmt.Sprintf("a second cell \"A?\"; the first is at byte %d\n    rename one of them", first)},
	})
}

func TestErrorTooManyLayers(t *testing.T) {
	s := lib().cell("A")
	for i := range layout.MaxLayers {
		s = s.boundary(i, 0, 0, 0, 9, 0, 0, 9)
	}
	ok := s.boundary(7, 0, 0, 0, 9, 0, 0, 9)
	if l, _ := mustRead(t, ok.endCell().endLib(), nil); len(l.Layers) != 64 {
		t.Errorf("%d layers, want 64", len(l.Layers))
	}
	want := inA(s) + "layer 64/3 is one more than the 64 layers that a library can have\n    name a stack, which says which of them are needed"
	checkErrors(t, []errorCase{
		{"65 layers", s.text(64, 3, 0, 0, "x").endCell().endLib(), want},
		{"65 layers, told last", s.rec(0x0800).i32(0x1003, 0, 0, 9, 0, 0, 9).i16(0x0E02, 3).i16(0x0D02, 64).end(), want},
	})
}

func TestErrorsOfMap(t *testing.T) {
	for _, tc := range []struct {
		m    Map
		want string
	}{
		{Map{Layers: make([]string, 65)}, "a map with 65 layers; a library has at most 64"},
		{Map{Layers: []string{"m"}, Labels: map[Pair]layout.Layer{{Layer: 22, Datatype: 1}: 1}}, "a map that sends 22/1 to layer 1 of 1"},
	} {
		if _, _, err := Read("test.gds", bytes.NewReader(nil), &tc.m); err == nil || err.Error() != tc.want {
			t.Errorf("got %v, want %s", err, tc.want)
		}
	}
}

// An error of the reader below is passed on, wherever it comes.
func TestReadingFails(t *testing.T) {
	whole := lib().cell("A").boundary(1, 0, 0, 0, 9, 0, 0, 9).endCell().endLib()
	for n := range whole {
		in := io.MultiReader(bytes.NewReader(whole[:n]), failing{})
		_, _, err := Read("test.gds", in, nil)
		if !errors.Is(err, context.Canceled) {
			t.Fatalf("after %d bytes: %v, want context.Canceled", n, err)
		}
		want := fmt.Sprintf("test.gds: byte %d", n)
		if !strings.HasPrefix(err.Error(), want) || !strings.HasSuffix(err.Error(), "reading failed: context canceled\n    read the file again") {
			t.Errorf("after %d bytes: %v", n, err)
		}
	}
	_, _, err := Read("test.gds", io.MultiReader(bytes.NewReader(whole), failing{}), nil)
	if !errors.Is(err, context.Canceled) {
		t.Errorf("after ENDLIB: %v, want context.Canceled", err)
	}
}

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, context.Canceled }

// Every beginning of a stream is an error with the byte where it ends or the record that is cut.
func TestEveryTruncation(t *testing.T) {
	whole := lib().cell("A").boundary(1, 0, 0, 0, 9, 0, 0, 9).text(1, 0, 0, 0, "x").sref("B", 0, 0).endCell().cell("B").endCell().endLib()
	mustRead(t, whole, nil)
	for n := range whole {
		if _, _, err := Read("test.gds", bytes.NewReader(whole[:n]), nil); err == nil {
			t.Errorf("%d of %d bytes were read without an error", n, len(whole))
		}
	}
}
