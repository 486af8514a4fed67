package schematic_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"undermetal/netlist"
	"undermetal/netlist/schematic"
)

// hostile returns circuits that no textbook prints.
func hostile(t *testing.T) []*netlist.Circuit {
	type lines = [][]string
	rows := func(n int, f func(i int) []string) (out lines) {
		for i := range n {
			out = append(out, f(i))
		}
		return out
	}
	long := strings.Repeat("a name that never ends, ", 20)
	fan := build(t, "fan-in of 60", []string{"VDD", "Y", "VSS"}, append(
		rows(60, func(i int) []string { return []string{"P", "p", "Y", fmt.Sprint("A", i), "VDD", "VDD"} }),
		rows(60, func(i int) []string {
			return []string{"N", "n", map[bool]string{true: "Y", false: fmt.Sprint("s", i)}[i == 0], fmt.Sprint("A", i),
				map[bool]string{true: "VSS", false: fmt.Sprint("s", i+1)}[i == 59], "VSS"}
		})...)...)
	return []*netlist.Circuit{
		build(t, "all on one net", nil, []string{"M", "n", "a", "a", "a", "a"}, []string{"R", "r", "a", "a"}, []string{"C", "c", "a", "a"}, []string{"D", "d", "a", "a"}),
		build(t, "all on ground", []string{"VSS"}, []string{"M", "n", "VSS", "VSS", "VSS", "VSS"}, []string{"D", "d", "VSS", "VSS"}),
		build(t, "one net of 1000 pins", nil, rows(1000, func(i int) []string { return []string{fmt.Sprint("R", i), "r", "a", fmt.Sprint("b", i)} })...),
		build(t, "without names", nil, rows(9, func(i int) []string { return []string{"", "n", "", fmt.Sprint(i), "", ""} })...),
		build(t, "equal names", []string{"a"}, rows(9, func(i int) []string { return []string{"M1", "n", "a", fmt.Sprint("b", i%3), "c", "VSS"} })...),
		build(t, "markup", []string{"</text>", "a\nb", "\x00\x01\ufffe", "]]>"}, []string{"<svg onload='x'>", "n", "</text>", "a\nb", "\x00\x01\ufffe", "]]>"},
			[]string{"\xff\xfe", "r", "&amp;", "\u202e\u0301\u200b"}, []string{"\t", "r", "&amp;", "]]>"}),
		build(t, "long names", []string{long + "1", long + "2"}, []string{long, "n", long + "1", long + "2", long + "3", "VSS"}, []string{long, "r", long + "3", "x"}),
		build(t, "one resistor", nil, []string{"R", "r", "a", "b"}),
		build(t, "one diode", nil, []string{"D", "d", "a", "b"}),
		build(t, "islands", nil, rows(50, func(i int) []string { return []string{fmt.Sprint("C", i), "c", fmt.Sprint("a", i), fmt.Sprint("b", i)} })...),
		build(t, "two supplies", []string{"VDD", "VDDIO", "A", "Y"}, []string{"M1", "p", "b", "A", "VDD", "VDD"}, []string{"M2", "n", "b", "A", "GND", "GND"},
			[]string{"M3", "p", "Y", "b", "VDDIO", "VDDIO"}, []string{"M4", "n", "Y", "b", "VSSIO", "VSSIO"}),
		build(t, "a negative supply", []string{"VDD", "VEE", "0", "A", "B", "Y"}, []string{"M1", "n", "x", "A", "t", "VEE"}, []string{"M2", "n", "Y", "B", "t", "VEE"},
			[]string{"I1", "i", "t", "VEE"}, []string{"R1", "r", "VDD", "x"}, []string{"R2", "r", "VDD", "Y"}, []string{"R3", "r", "Y", "0"}),
		build(t, "no supply", []string{"a", "b", "c"}, []string{"M1", "n", "a", "b", "c", "d"}, []string{"M2", "p", "b", "c", "a", "e"}),
		build(t, "a ring of resistors", nil, rows(17, func(i int) []string {
			return []string{fmt.Sprint("R", i), "r", fmt.Sprint("a", i), fmt.Sprint("a", (i+1)%17)}
		})...),
		build(t, "a ring of diodes", nil, rows(4, func(i int) []string {
			return []string{fmt.Sprint("D", i), "d", fmt.Sprint("a", i), fmt.Sprint("a", (i+1)%4)}
		})...),
		build(t, "a chain of 300", []string{"a0"}, rows(300, func(i int) []string {
			return []string{fmt.Sprint("R", i), "r", fmt.Sprint("a", i), fmt.Sprint("a", i+1)}
		})...),
		build(t, "a stack of 200", []string{"VDD", "VSS"}, rows(200, func(i int) []string {
			return []string{fmt.Sprint("M", i), "n", []string{fmt.Sprint("a", i), "VDD"}[b2i(i == 0)], "g", []string{fmt.Sprint("a", i+1), "VSS"}[b2i(i == 199)], "VSS"}
		})...),
		fan,
		build(t, "bulks of their own", []string{"VDD", "A", "Y", "VSS"}, []string{"M1", "p", "Y", "A", "VDD", "nwell"}, []string{"M2", "n", "Y", "A", "VSS", "pwell"},
			[]string{"M3", "n", "Y", "A", "VSS", "pwell2"}, []string{"M4", "n", "Y", "pwell", "VSS", "Y"}, []string{"M5", "p", "Y", "A", "VDD", "A"}),
		build(t, "resistors between the rails", []string{"VDD", "VSS"}, rows(100, func(i int) []string { return []string{fmt.Sprint("R", i), "r", "VDD", "VSS"} })...),
	}
}

// texts returns what stands on a sheet.
func texts(s *schematic.Sheet) (out []string) {
	for _, y := range s.Symbols {
		for _, t := range y.Text {
			out = append(out, t.S)
		}
	}
	for _, f := range s.Flags {
		out = append(out, f.Text)
	}
	return out
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// TestHostile: what no textbook prints is drawn without faults all the same, and is well-formed XML.
func TestHostile(t *testing.T) {
	t.Parallel()
	for _, c := range hostile(t) {
		d := check(t, c, schematic.Options{Title: c.Name, InnerNames: true})
		for i := range d.Sheets {
			for _, text := range texts(d.Sheets[i]) {
				if strings.ContainsFunc(text, unicode.IsControl) || strings.ContainsRune(text, '\u202e') || utf8.RuneCountInString(text) > 60 {
					t.Errorf("%s: the text %q", c.Name, text)
				}
			}
			var b bytes.Buffer
			if err := errors.Join(d.WriteText(io.Discard, i), d.WriteSVG(&b, i)); err != nil {
				t.Errorf("%s: %v", c.Name, err)
			}
			for dec := xml.NewDecoder(&b); ; {
				if _, err := dec.Token(); errors.Is(err, io.EOF) {
					break
				} else if err != nil {
					t.Errorf("%s: %v", c.Name, err)
					break
				}
			}
		}
	}
}

// TestManyMissing: a fit that lacks several pieces, some of which nothing is known of; each is drawn, with its question below.
func TestManyMissing(t *testing.T) {
	t.Parallel()
	c := pixel(t)
	c.Devices = c.Devices[1:3]
	n := c.Devices[0].Terminals
	g := schematic.Group{Name: "pixel, 2 of 9", Devices: []int32{0, 1}, Missing: []schematic.Missing{
		{Kind: netlist.NMOS, Nets: []netlist.Net{n[0], netlist.NoNet, n[1], netlist.NoNet}, Name: "reset", Question: "one?"},
		{Kind: netlist.Diode, Nets: []netlist.Net{netlist.NoNet, n[1]}, Name: "photodiode", Question: "two?"},
		{Kind: netlist.PMOS, Name: "load", Question: "three?"},
		{Kind: netlist.Capacitor, Nets: []netlist.Net{n[1], n[1]}, Name: "memory", Question: "four?"},
		{Kind: netlist.Resistor, Nets: []netlist.Net{n[1]}, Name: strings.Repeat("a long name ", 3), Question: "five?"},
		{Kind: netlist.NMOS, Nets: n[:], Name: "twin"},
		{Kind: netlist.Bipolar, Nets: []netlist.Net{n[0], n[0], n[0], n[0]}, Name: "bipolar", Question: "seven?"},
	}}
	d := check(t, c, schematic.Options{Title: "pieces", Groups: []schematic.Group{g}})
	missing := 0
	for _, y := range d.Sheets[0].Symbols {
		if y.Missing {
			missing++
		}
	}
	if missing != 7 {
		t.Errorf("%d of 7 missing pieces are drawn", missing)
	}
	for _, m := range g.Missing {
		if m.Question != "" && !slices.Contains(d.Sheets[0].Notes, "? "+m.Name+": "+m.Question) {
			t.Errorf("no note asks %q", m.Question)
		}
	}
}

// TestThinArrays: arrays of one row, of one column and of one cell.
func TestThinArrays(t *testing.T) {
	t.Parallel()
	for _, size := range [][2]int{{1, 12}, {12, 1}, {1, 1}, {60, 60}} {
		c, a := array(t, size[0], size[1])
		c.Name = fmt.Sprint("array of ", size)
		d := noFaults(t, c, schematic.Options{Title: c.Name, Arrays: []schematic.Array{a}})
		kept := *c
		kept.Devices = append(slices.Clone(c.Devices[:4]), c.Devices[len(a.Devices):]...)
		if text := differsFrom(t, &kept, d.Read(c)); text != "" {
			t.Errorf("%v: %s", size, text)
		}
	}
}
