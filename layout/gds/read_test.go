package gds

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
)

func TestBoundary(t *testing.T) {
	square := geom.Ring{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 10, Y: 20}, {X: 0, Y: 20}}
	for _, tc := range []struct {
		name    string
		element asm
		want    geom.Ring
	}{
		{"closed", asm{}.boundary(1, 0, 0, 0, 10, 0, 10, 20, 0, 20, 0, 0), square},
		{"not closed", asm{}.boundary(1, 0, 0, 0, 10, 0, 10, 20, 0, 20), square},
		{"repeated points", asm{}.boundary(1, 0, 0, 0, 0, 0, 10, 0, 10, 20, 10, 20, 0, 20, 0, 0, 0, 0), square},
		{"clockwise stays so", asm{}.boundary(1, 0, 0, 0, 0, 20, 10, 0, 0, 0), geom.Ring{{X: 0, Y: 0}, {X: 0, Y: 20}, {X: 10, Y: 0}}},
		{"box", asm{}.rec(0x2D00).i16(0x0D02, 1).i16(0x2E02, 0).i32(0x1003, 0, 0, 10, 0, 10, 20, 0, 20, 0, 0).end(), square},
		{"two XY records", asm{}.rec(0x0800).i16(0x0D02, 1).i16(0x0E02, 0).i32(0x1003, 0, 0, 10, 0).i32(0x1003, 10, 20, 0, 20, 0, 0).end(), square},
		{"other order, flags, properties", asm{}.rec(0x0800).i16(0x2601, 0).i32(0x2F03, 3).i32(0x1003, 0, 0, 10, 0, 10, 20, 0, 20, 0, 0).
			i16(0x0E02, 0).i16(0x0D02, 1).i16(0x2B02, 1).str(0x2C06, "one").i16(0x2B02, 2).str(0x2C06, "two").end(), square},
		{"frame's corners", asm{}.boundary(1, 0, -geom.Limit, -geom.Limit, geom.Limit, -geom.Limit, geom.Limit, geom.Limit),
			geom.Ring{{X: -geom.Limit, Y: -geom.Limit}, {X: geom.Limit, Y: -geom.Limit}, {X: geom.Limit, Y: geom.Limit}}},
	} {
		if pg := readShape(t, tc.element); len(pg) != 1 || !slices.Equal(pg[0], tc.want) {
			t.Errorf("%s: got %v, want %v", tc.name, pg, tc.want)
		}
	}
}

// Sources: the worked transforms for magnification 2 and origin (100, 200), by the rule reflect, magnify, rotate, move.
func TestWorkedTransforms(t *testing.T) {
	points := []geom.Point{{X: 10, Y: 0}, {X: 0, Y: 5}, {X: 7, Y: 3}}
	angles := [][]byte{nil, real90, real180, real270}
	for _, tc := range []struct {
		flags int
		want  [4][3]geom.Point // for each angle, the images of the three points
	}{
		{0, [4][3]geom.Point{
			{{X: 120, Y: 200}, {X: 100, Y: 210}, {X: 114, Y: 206}}, {{X: 100, Y: 220}, {X: 90, Y: 200}, {X: 94, Y: 214}},
			{{X: 80, Y: 200}, {X: 100, Y: 190}, {X: 86, Y: 194}}, {{X: 100, Y: 180}, {X: 110, Y: 200}, {X: 106, Y: 186}},
		}},
		{0x8000, [4][3]geom.Point{
			{{X: 120, Y: 200}, {X: 100, Y: 190}, {X: 114, Y: 194}}, {{X: 100, Y: 220}, {X: 110, Y: 200}, {X: 106, Y: 214}},
			{{X: 80, Y: 200}, {X: 100, Y: 210}, {X: 86, Y: 206}}, {{X: 100, Y: 180}, {X: 90, Y: 200}, {X: 94, Y: 186}},
		}},
	} {
		for i, angle := range angles {
			s := lib().cell("TOP").rec(0x0A00).str(0x1206, "CELL").i16(0x1A01, tc.flags).rec(0x1B05, real2...)
			if angle != nil {
				s = s.rec(0x1C05, angle...)
			}
			s = s.i32(0x1003, 100, 200).end().endCell().cell("CELL").endCell().endLib()
			l, _ := mustRead(t, s, nil)
			for k, p := range points {
				if got := l.Cell("TOP").Placements[0].Transform.Apply(p); got != tc.want[i][k] {
					t.Errorf("flags %04X, %d·90°: %v goes to %v, want %v", tc.flags, i, p, got, tc.want[i][k])
				}
			}
		}
	}
}

// Source: the worked array: 4 columns × 3 rows, XY (0,0) (4000,0) (0,6000): steps (1000,0) and (0,2000), last cell at
// (3000,4000). The others follow from the same rule.
func TestWorkedArray(t *testing.T) {
	for _, tc := range []struct {
		columns, rows int
		xy            []int
		at            [3]int // column, row, and where
		want          geom.Point
	}{
		{4, 3, []int{0, 0, 4000, 0, 0, 6000}, [3]int{3, 2}, geom.Point{X: 3000, Y: 4000}},
		{4, 3, []int{0, 0, 4000, 0, 0, 6000}, [3]int{1, 1}, geom.Point{X: 1000, Y: 2000}},
		{3, 1, []int{0, 0, 10, 0, 0, 7}, [3]int{1, 0}, geom.Point{X: 3, Y: 0}},          // pitch 3⅓
		{3, 1, []int{0, 0, 10, 0, 0, 7}, [3]int{2, 0}, geom.Point{X: 7, Y: 0}},          // 6⅔
		{2, 2, []int{5, 5, 25, 15, -5, 25}, [3]int{1, 1}, geom.Point{X: 10, Y: 20}},     // slanted: (10,5) and (-5,10)
		{1, 1, []int{5, 5, 25, 15, -5, 25}, [3]int{0, 0}, geom.Point{X: 5, Y: 5}},       // steps without meaning
		{32767, 1, []int{0, 0, 32767, 0, 0, 0}, [3]int{32766, 0}, geom.Point{X: 32766}}, // as many as there can be
	} {
		l, _ := mustRead(t, lib().cell("TOP").aref("CELL", tc.columns, tc.rows, tc.xy...).endCell().
			cell("CELL").endCell().endLib(), nil)
		p := l.Cell("TOP").Placements[0]
		if c, r := p.Members(); c != tc.columns || r != tc.rows {
			t.Errorf("%v: %d × %d members", tc, c, r)
		}
		if got := p.Member(tc.at[0], tc.at[1]).Apply(geom.Point{}); got != tc.want {
			t.Errorf("%d × %d %v: member (%d, %d) at %v, want %v", tc.columns, tc.rows, tc.xy, tc.at[0], tc.at[1], got, tc.want)
		}
	}
}

// The steps of an array are in the parent's coordinates: turning the cell does not turn them.
func TestArrayStepsAreNotTurned(t *testing.T) {
	l, _ := mustRead(t, lib().cell("TOP").rec(0x0B00).str(0x1206, "CELL").i16(0x1A01, 0x8000).rec(0x1C05, real90...).
		i16(0x1302, 4, 3).i32(0x1003, 0, 0, 4000, 0, 0, 6000).end().endCell().cell("CELL").endCell().endLib(), nil)
	p := l.Cells[0].Placements[0]
	if want := (geom.Vec{X: 3000}); p.ColumnExtent != want {
		t.Errorf("columns extend by %v, want %v", p.ColumnExtent, want)
	}
	if got, want := p.Member(3, 2).Apply(geom.Point{X: 10}), (geom.Point{X: 3000, Y: 4010}); got != want {
		t.Errorf("(10, 0) of the last member at %v, want %v", got, want)
	}
}

func TestUnits(t *testing.T) {
	for _, tc := range []struct {
		name   string
		metres []byte
		units  []int
		want   geom.Ring
	}{
		{"half a nanometre", real5e_10, []int{0, 0, 20, 0, 0, -42}, geom.Ring{{}, {X: 10}, {Y: -21}}},
		{"10 nm", real1e_8, []int{0, 0, 20, 0, 0, -42}, geom.Ring{{}, {X: 200}, {Y: -420}}},
		{"half a nanometre, as far as 32 bits go", real5e_10, []int{0, 0, 2147483646, 0, 0, -2147483648},
			geom.Ring{{}, {X: 1073741823}, {Y: -1073741824}}},
	} {
		l, _ := mustRead(t, libUnits(tc.metres).cell("A").boundary(1, 0, tc.units...).endCell().endLib(), nil)
		if got := l.Cells[0].Shapes[0].Polygon[0]; !slices.Equal(got, tc.want) {
			t.Errorf("%s: %v, want %v", tc.name, got, tc.want)
		}
	}
	l, _ := mustRead(t, libUnits(real5e_10).cell("A").path(0, 20, 0, 0, 100, 0).endCell().endLib(), nil)
	if got := l.Cells[0].Shapes[0].Polygon.Bounds(); got != geom.Box(0, -5, 50, 5) {
		t.Errorf("a path of 20 half nanometres covers %v", got)
	}
}

func TestLayersWithoutMap(t *testing.T) {
	l, rep := mustRead(t, lib().cell("A").boundary(22, 0, 0, 0, 9, 0, 0, 9).boundary(34, 1, 0, 0, 9, 0, 0, 9).
		text(34, 10, 3, 4, "VDD").boundary(22, 0, 0, 0, 8, 0, 0, 8).boundary(-1, 0, 0, 0, 8, 0, 0, 8).endCell().endLib(), nil)
	if want := []string{"22/0", "34/1", "34/10", "-1/0"}; !slices.Equal(l.Layers, want) {
		t.Errorf("layers %q, want %q", l.Layers, want)
	}
	if len(rep.Skipped)+len(rep.Notes) != 0 {
		t.Errorf("report %+v, want nothing", rep)
	}
	if got, want := l.Cells[0].Labels[0], (layout.Label{Layer: 2, At: geom.Point{X: 3, Y: 4}, Text: "VDD"}); got != want {
		t.Errorf("label %v, want %v", got, want)
	}
	if l.Name != "LIB" {
		t.Errorf("name %q", l.Name)
	}
}

func TestMap(t *testing.T) {
	m := &Map{
		Layers: []string{"metal1", "poly"},
		Shapes: map[Pair]layout.Layer{{Layer: 34, Datatype: 0}: 0, {Layer: 35, Datatype: 0}: 0, {Layer: 30, Datatype: 0}: 1},
		Labels: map[Pair]layout.Layer{{Layer: 34, Datatype: 10}: 0},
	}
	tri := []int{0, 0, 9, 0, 0, 9}
	l, rep := mustRead(t, lib().cell("A").
		boundary(34, 0, tri...).boundary(35, 0, tri...).boundary(30, 0, tri...).
		boundary(99, 5, tri...).boundary(99, 5, tri...).boundary(99, 4, tri...).boundary(3, 0, tri...).
		text(34, 10, 0, 0, "A").text(34, 0, 0, 0, "B").text(99, 5, 0, 0, "C").
		boundary(34, 10, tri...). // a pair of labels, so not of shapes
		endCell().endLib(), m)
	var got []layout.Layer
	for _, s := range l.Cells[0].Shapes {
		got = append(got, s.Layer)
	}
	if want := []layout.Layer{0, 0, 1}; !slices.Equal(got, want) {
		t.Errorf("shapes on layers %v, want %v", got, want)
	}
	if n := len(l.Cells[0].Labels); n != 1 || l.Cells[0].Labels[0].Text != "A" {
		t.Errorf("labels %v, want A", l.Cells[0].Labels)
	}
	want := []Skipped{{Pair{Layer: 3, Datatype: 0}, 1, 0}, {Pair{Layer: 34, Datatype: 0}, 0, 1}, {Pair{Layer: 34, Datatype: 10}, 1, 0}, {Pair{Layer: 99, Datatype: 4}, 1, 0}, {Pair{Layer: 99, Datatype: 5}, 2, 1}}
	if !slices.Equal(rep.Skipped, want) {
		t.Errorf("skipped %v, want %v", rep.Skipped, want)
	}
	if !slices.Equal(l.Layers, m.Layers) {
		t.Errorf("layers %q, want %q", l.Layers, m.Layers)
	}
}

// Nothing but the form of its records is asked of an element that is left out.
func TestSkippedIsNotLookedAt(t *testing.T) {
	m := &Map{Layers: []string{"m"}, Shapes: map[Pair]layout.Layer{{Layer: 7, Datatype: 0}: 0}}
	_, rep := mustRead(t, libUnits(real5e_10).cell("A").boundary(8, 0, 1, 1, 3, 1, 1, 5).path(9, 3, 1, 1, 5, 5).
		endCell().endLib(), m)
	if want := []Skipped{{Pair{Layer: 1, Datatype: 0}, 1, 0}, {Pair{Layer: 8, Datatype: 0}, 1, 0}}; !slices.Equal(rep.Skipped, want) {
		t.Errorf("skipped %v, want %v", rep.Skipped, want)
	}
}

// TestForStack: shapes and texts come to the layers that the stack names; texts that name the substrate to one of their own.
func TestForStack(t *testing.T) {
	st := &stack.Stack{Layers: []stack.Layer{{Name: "m", GDS: []Pair{{Layer: 34, Datatype: 0}, {Layer: 35, Datatype: 0}}, Labels: []Pair{{Layer: 34, Datatype: 10}}}, {Name: "p", GDS: []Pair{{Layer: 30, Datatype: 0}}}}}
	want := &Map{Layers: []string{"m", "p"}, Shapes: map[Pair]layout.Layer{{Layer: 34, Datatype: 0}: 0, {Layer: 35, Datatype: 0}: 0, {Layer: 30, Datatype: 0}: 1},
		Labels: map[Pair]layout.Layer{{Layer: 34, Datatype: 10}: 0}}
	if got := ForStack(st); !reflect.DeepEqual(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	st.Substrate.Labels = []Pair{{Layer: 64, Datatype: 59}}
	want.Layers = append(want.Layers, "substrate")
	want.Labels[Pair{Layer: 64, Datatype: 59}] = 2
	if got := ForStack(st); !reflect.DeepEqual(got, want) {
		t.Errorf("with a substrate: got %v, want %v", got, want)
	}
}

func TestNotes(t *testing.T) {
	at := func(a asm) int64 { return int64(len(a)) }
	s := lib().cell("A")
	empty := at(s)
	s = s.boundary(1, 0, 0, 0, 9, 9, 0, 0).boundary(1, 0, 0, 0, 5, 5, 9, 9).boundary(1, 0, 4, 4)
	noText := at(s)
	s = s.text(1, 0, 0, 0, "")
	replaced := at(s) + int64(len(asm{}.rec(0x0C00).i16(0x0D02, 1).i16(0x1602, 0).i32(0x1003, 0, 0)))
	s = s.text(1, 0, 0, 0, "a\x01b\xFFµ\n")
	absolute := at(s)
	s = s.rec(0x0A00).str(0x1206, "B").i16(0x1A01, 0x0006).i32(0x1003, 0, 0).end()
	s = s.rec(0x1500).i16(0x0D02, 1).i16(0x2A02, 2).i32(0x1003, 1, 1).end() // NODE: without a trace
	l, rep := mustRead(t, s.endCell().cell("B").endCell().endLib(), nil)
	want := []Note{
		{"shapes that cover nothing, left out", 3, empty, "A"},
		{"placements with absolute magnification or angle, taken as relative", 1, absolute, "A"},
		{"names or texts with unprintable bytes, which became '?'", 1, replaced, "A"},
		{"texts without a character, left out", 1, noText, "A"},
	}
	if !slices.Equal(rep.Notes, want) {
		t.Errorf("notes %v, want %v", rep.Notes, want)
	}
	a := l.Cells[0]
	if len(a.Shapes) != 0 || len(a.Labels) != 1 || a.Labels[0].Text != "a?b?µ?" || len(a.Placements) != 1 {
		t.Errorf("cell %+v", a)
	}
	if got, want := rep.Notes[0].String(), fmt.Sprintf("shapes that cover nothing, left out: 3 (first at byte %d, cell A)", empty); got != want {
		t.Errorf("note %q, want %q", got, want)
	}
	if got, want := (Note{"x", 1, 2, ""}).String(), "x: 1 (first at byte 2)"; got != want {
		t.Errorf("note %q, want %q", got, want)
	}
}

// What other writers do, and what is harmless.
func TestAccepted(t *testing.T) {
	for name, s := range map[string]asm{
		"no cells":           lib().endLib(),
		"padding":            append(lib().endLib(), make([]byte, 3000)...),
		"bookkeeping":        asm{}.i16(0x0002, 7).i16(0x0102, make([]int, 12)...).i16(0x3902, 1).str(0x0206, "L").str(0x1F06, "refs").str(0x2006, "fonts").i16(0x2202, 3).rec(0x0305, append(bytes.Clone(real1e_3), real1e_9...)...).cell("A").i16(0x3401, 0).endCell().endLib(),
		"forward and back":   lib().cell("A").sref("B", 0, 0).endCell().cell("B").endCell().cell("C").sref("A", 1, 1).sref("B", 2, 2).endCell().endLib(),
		"library of no name": asm{}.i16(0x0002, 7).i16(0x0102).rec(0x0206).rec(0x0305, append(bytes.Clone(real1), real1e_9...)...).endLib(),
		"text with all":      lib().cell("A").rec(0x0C00).i16(0x2601, 0).i16(0x0D02, 1).i16(0x1602, 0).i16(0x1701, 5).i16(0x2102, 3).i32(0x0F03, -7).i16(0x1A01, 0).rec(0x1B05, real0...).rec(0x1C05, real90...).i32(0x1003, 1, 1).str(0x1906, "t").end().endCell().endLib(),
	} {
		if _, _, err := Read("test.gds", bytes.NewReader(s), nil); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestNamesArePadded(t *testing.T) {
	l, _ := mustRead(t, lib().cell("ABC").endCell().rec(0x0502, make([]byte, 24)...).rec(0x0606, 'D', 0, 0, 0).endCell().endLib(), nil)
	if l.Cells[0].Name != "ABC" || l.Cells[1].Name != "D" {
		t.Errorf("names %q and %q", l.Cells[0].Name, l.Cells[1].Name)
	}
}

// A stream read in small pieces gives the same as one read at once.
func TestSmallReads(t *testing.T) {
	s := lib().cell("A").boundary(1, 0, 0, 0, 9, 0, 0, 9).endCell().endLib()
	l, _, err := Read("test.gds", iotest1{bytes.NewReader(s)}, nil)
	if err != nil || len(l.Cells[0].Shapes) != 1 {
		t.Errorf("got %v, %v", l, err)
	}
}

type iotest1 struct{ r io.Reader }

func (r iotest1) Read(p []byte) (int, error) { return r.r.Read(p[:min(len(p), 1)]) }

// Nothing is allocated by a number in the stream: the largest arrays, and lengths that the stream does not have.
func TestLyingStreamTakesLittle(t *testing.T) {
	s := lib().cell("A")
	for range 100 {
		s = s.aref("B", 32767, 32767, 0, 0, 32767, 0, 0, 32767)
	}
	honest := s.endCell().cell("B").endCell().endLib()
	short := append(lib().cell("A"), 0xFF, 0xFE, 0x10, 0x03) // claims 65534 bytes
	for name, stream := range map[string][]byte{"arrays": honest, "length": short} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		Read("test.gds", bytes.NewReader(stream), nil)
		runtime.ReadMemStats(&after)
		// The read buffer is two records, 128 KiB; 100 placements of 150 bytes grow by doubling.
		if n := after.TotalAlloc - before.TotalAlloc; n > 400<<10 {
			t.Errorf("%s: %d bytes allocated", name, n)
		}
	}
}

// Rings are cut out of larger pieces; adding a point to one must not write into the next.
func TestRingsDoNotOverlap(t *testing.T) {
	l, _ := mustRead(t, lib().cell("A").boundary(1, 0, 0, 0, 9, 0, 0, 9).boundary(1, 0, 1, 1, 8, 1, 1, 8).endCell().endLib(), nil)
	s := l.Cells[0].Shapes
	_ = append(s[0].Polygon[0], geom.Point{X: 77, Y: 77})
	_ = append(s[0].Polygon, geom.Ring{})
	if want := (geom.Ring{{X: 1, Y: 1}, {X: 8, Y: 1}, {X: 1, Y: 8}}); !slices.Equal(s[1].Polygon[0], want) {
		t.Errorf("second ring is %v, want %v", s[1].Polygon[0], want)
	}
}

// corpus returns the GDSII files of the published layouts.
func corpus(t testing.TB) []string {
	dir := os.Getenv("UNDERMETAL_CORPUS")
	if dir == "" {
		t.Skip("SKIPPED: UNDERMETAL_CORPUS is not set; it names the folder of published layouts, see DEVELOPERS.md")
	}
	files, err := filepath.Glob(filepath.Join(dir, "*", "*.gds"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no *.gds in the folders of %s: %v", dir, err)
	}
	return files
}

// Every published layout is read, and has as many shapes, labels and placements as a plain count of record codes finds.
func TestCorpus(t *testing.T) {
	for _, file := range corpus(t) {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		l, rep, err := Read(filepath.Base(file), bytes.NewReader(data), nil)
		if err != nil {
			t.Error(err)
			continue
		}
		counts := countRecords(data)
		var shapes, labels, single, arrays int
		for _, c := range l.Cells {
			shapes += len(c.Shapes)
			labels += len(c.Labels)
			for i := range c.Placements {
				if cols, rows := c.Placements[i].Members(); cols*rows == 1 {
					single++
				} else {
					arrays++
				}
			}
		}
		for _, n := range rep.Notes {
			if n.Text == noteTexts[noteEmpty] || n.Text == noteTexts[noteNoWidth] {
				shapes += n.Count
			}
			t.Logf("%s: %v", filepath.Base(file), n)
		}
		for _, c := range []struct {
			kind      string
			got, want int
		}{
			{"cells", len(l.Cells), counts[0x0606]},
			{"shapes", shapes, counts[0x0800] + counts[0x0900] + counts[0x2D00]},
			{"labels", labels, counts[0x0C00]},
			{"placements", single + arrays, counts[0x0A00] + counts[0x0B00]},
		} {
			if c.got != c.want {
				t.Errorf("%s: %d %s, want %d", filepath.Base(file), c.got, c.kind, c.want)
			}
		}
		if arrays > counts[0x0B00] {
			t.Errorf("%s: %d arrays, want at most %d", filepath.Base(file), arrays, counts[0x0B00])
		}
	}
}

// countRecords counts the records by their code, knowing nothing but how long they are.
func countRecords(data []byte) map[uint16]int {
	counts := map[uint16]int{}
	for len(data) >= 4 {
		n := int(binary.BigEndian.Uint16(data))
		if n == 0 {
			break
		}
		counts[binary.BigEndian.Uint16(data[2:])]++
		data = data[n:]
	}
	return counts
}

// A polygon of the published layouts, looked up by hand in the file's bytes: the first shape of the first cell.
func TestCorpusFirstShape(t *testing.T) {
	for _, file := range corpus(t) {
		if !strings.HasSuffix(file, "sg13g2_stdcell.gds") {
			continue
		}
		f, err := os.Open(file)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		l, _, err := Read("sg13g2_stdcell.gds", f, nil)
		if err != nil {
			t.Fatal(err)
		}
		c := l.Cells[0]
		// Bytes 0x7A to 0x101 of the file, read from a hex dump.
		want := geom.Ring{{X: 1395, Y: 1765}, {X: 925, Y: 1765}, {X: 925, Y: 1870}, {X: 750, Y: 1870}, {X: 750, Y: 3360},
			{X: 620, Y: 3360}, {X: 620, Y: 1870}, {X: 575, Y: 1870}, {X: 575, Y: 1540}, {X: 925, Y: 1540}, {X: 925, Y: 1615},
			{X: 1265, Y: 1615}, {X: 1265, Y: 520}, {X: 1395, Y: 520}}
		if c.Name != "sg13g2_a21o_1" || l.Layers[c.Shapes[0].Layer] != "5/0" || !slices.Equal(c.Shapes[0].Polygon[0], want) {
			t.Errorf("cell %s, layer %s, %v", c.Name, l.Layers[c.Shapes[0].Layer], c.Shapes[0].Polygon)
		}
		return
	}
	t.Fatal("no sg13g2_stdcell.gds in the corpus")
}
