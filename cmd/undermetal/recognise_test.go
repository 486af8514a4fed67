package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/recognise/library"
	"undermetal/testdata/kiln"
)

// brokenKiln writes the demo's imager without the contact of the follower's drain in the pixel of row 7, column 4.
func brokenKiln(t *testing.T) (drawing, stack string) {
	t.Helper()
	lib := kiln.Library()
	whole, top := lib.Cell("PIXEL"), lib.Cell("IMAGER")
	odd := &layout.Cell{Name: "ODD"}
	for _, s := range whole.Shapes {
		b := geom.EmptyRect()
		for _, q := range s.Polygon[0] {
			b = b.Extend(q)
		}
		if b.Width() != 400 || !b.Contains(geom.Point{X: 8200, Y: 7500}) {
			odd.Shapes = append(odd.Shapes, s)
		}
	}
	if len(odd.Shapes) != len(whole.Shapes)-1 {
		t.Fatal("no contact is there")
	}
	lib.Cells = slices.Insert(lib.Cells, 1, odd)
	top.Placements = slices.DeleteFunc(top.Placements, func(p layout.Placement) bool { return p.Cell == whole })
	for x := range kiln.Columns {
		for y := range kiln.Rows {
			c := whole
			if x == 4 && y == 7 {
				c = odd
			}
			top.Placements = append(top.Placements, layout.Placement{Cell: c, Columns: 1, Rows: 1, Transform: geom.Move(geom.Point{X: x * kiln.Pitch, Y: y * kiln.Pitch})})
		}
	}
	dir := t.TempDir()
	drawing, stack = filepath.Join(dir, "broken.gds"), filepath.Join(dir, "kiln.stack.toml")
	if err := os.WriteFile(stack, kiln.Stack, 0o666); err != nil {
		t.Fatal(err)
	}
	f, err := os.Create(drawing)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	st, err := kilnStack()
	if err != nil {
		t.Fatal(err)
	}
	if err := writeKilnGDS(f, lib, st); err != nil {
		t.Fatal(err)
	}
	return drawing, stack
}

// One pixel of the imager lacks a contact: the array has 240 members, that one is odd, and the piece is named with its place, which is
// within half a pixel of the contact that was taken away.
func TestRecogniseBrokenPixel(t *testing.T) {
	drawing, stack := brokenKiln(t)
	out := call(t, "recognise", drawing, "--stack", stack, "--json")
	var all []jsonSuggestion
	if err := json.Unmarshal([]byte(out), &all); err != nil {
		t.Fatal(err)
	}
	a := all[0]
	if a.Pattern != "pixel_3t" || a.Fit != "full" || a.Array == nil || a.Array.Rows != 20 || a.Array.Columns != 12 || len(a.Members) != 960 || len(a.Array.Odd) != 1 {
		t.Fatalf("the first suggestion: %s, %s, array %+v, %d members", a.Pattern, a.Fit, a.Array, len(a.Members))
	}
	o := a.Array.Odd[0]
	if o.Row != 7 || o.Column != 4 || !strings.Contains(o.Difference, "the drain of MSF") && !strings.Contains(o.Difference, "the source of MSF") {
		t.Errorf("odd: %+v", o)
	}
	k := slices.IndexFunc(all, func(s jsonSuggestion) bool { return s.ID == o.Suggestion })
	if k < 0 || all[k].Fit != "partial" || len(all[k].Missing) != 1 {
		t.Fatalf("the odd member's suggestion is %q", o.Suggestion)
	}
	m := all[k].Missing[0]
	if dx, dy := m.At[0]-(4*12+8.2), m.At[1]-(7*12+7.5); m.Kind != "connection" || dx*dx+dy*dy > 36 || !m.Looked {
		t.Errorf("missing %+v", m)
	}
	shown := call(t, "recognise", drawing, "--stack", stack, "--show", a.Short)
	for r := range kiln.Rows {
		if want := fmt.Sprintf("row %d", r); !strings.Contains(shown, want) || !strings.Contains(shown, fmt.Sprintf("row SEL<%d>, rst RST<%d>", r, r)) {
			t.Errorf("--show does not name the nets of row %d", r)
		}
	}
	text := call(t, "recognise", drawing, "--stack", stack)
	for _, want := range []string{"array of 20 rows × 12 columns: three-transistor active pixel", "240 members, 1 odd", "row 7, column 4: lacks a connection", "with pieces missing"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
}

// A user's folder: a good pattern is used, one in the place of the library's too, a malformed one is named with line and reason.
func TestRecogniseOwnPatterns(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	write("ladder.sp", `* name: my_divider
* title: divider of two resistors
* what: halves a voltage
* ports: a=any b=any m=output
* source: of this test
.subckt my_divider a b m
R1 a m 1k
R2 m b 1k
.ends
`)
	write("bad.sp", "* name: bad\n* title: bad\n* what: bad\n* ports: a=nonsense\n* source: of this test\n.subckt bad a\n.ends\n")
	circuit := filepath.Join(t.TempDir(), "divider.sp")
	if err := os.WriteFile(circuit, []byte("* divider\n.subckt div x y z\nRa x z 5k\nRb z y 5k\n.ends\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	var stdout, stderr strings.Builder
	if code := run([]string{"recognise", circuit, "--patterns", dir}, &stdout, &stderr); code != exitDone {
		t.Fatalf("exit %d: %s", code, stderr.String())
	}
	if !strings.Contains(stdout.String(), "divider of two resistors") {
		t.Errorf("the user's pattern is not found:\n%s", stdout.String())
	}
	if !strings.Contains(stderr.String(), "bad.sp:4: port a has the role \"nonsense\"") {
		t.Errorf("the malformed pattern is told as\n%s", stderr.String())
	}
	if len(library.Embedded()) == 0 {
		t.Error("no library")
	}
}

// Calls that make no sense are refused with status 2.
func TestRecogniseCalls(t *testing.T) {
	circuit := filepath.Join(t.TempDir(), "a.sp")
	if err := os.WriteFile(circuit, []byte("* a\n.subckt a x y\nM1 y x VSS VSS nmos W=1u L=1u\nM2 y x VDD VDD pmos W=1u L=1u\n.ends\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"--missing", "3"}, exitUsage, "from 0 to 2"},
		{[]string{"--show", "x", "--json"}, exitUsage, "leave --show out"},
		{[]string{"--json=" + circuit}, exitUsage, "overwritten"},
		{[]string{"--show", "zzzzzzzz"}, exitFailed, "there is no such suggestion"},
		{[]string{"--patterns", circuit}, exitUsage, "give the folder"},
		{[]string{"--patterns", circuit + ".none"}, exitFailed, ""},
		{[]string{"--show", "inverter@M1"}, exitDone, ""},
	} {
		var stdout, stderr strings.Builder
		code := run(append([]string{"recognise", circuit}, tc.args...), &stdout, &stderr)
		if code != tc.code || !strings.Contains(stderr.String(), tc.says) {
			t.Errorf("%v: exit %d, %s", tc.args, code, stderr.String())
		}
		if tc.code == exitDone && !strings.Contains(stdout.String(), "bench      inverter in=x out=y vdd=VDD vss=VSS") {
			t.Errorf("%v:\n%s", tc.args, stdout.String())
		}
	}
}

// The imager's netlist in subcircuits is the flat one, by undermetal compare, whole and with a contact missing.
func TestExtractGroups(t *testing.T) {
	drawing, stack := brokenKiln(t)
	dir := t.TempDir()
	flat, groups := filepath.Join(dir, "flat.sp"), filepath.Join(dir, "groups.sp")
	call(t, "extract", drawing, "--stack", stack, "--spice", flat)
	call(t, "extract", drawing, "--stack", stack, "--spice", groups, "--groups")
	call(t, "compare", flat, groups, "--bulk")
	call(t, "compare", drawing, groups, "--stack", stack)
	text, err := os.ReadFile(groups)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{".subckt pixel_3t vdd vss rst row col\n", "pixel_3t_20x12", "column_load_1x12", " ; at 50.400, 92.800 um"} {
		if !strings.Contains(string(text), want) {
			t.Errorf("no %q in the netlist", want)
		}
	}
	if n := strings.Count(string(text), "\nX_r"); n != 239+12 {
		t.Errorf("%d instances in arrays, want 239 pixels and 12 loads", n)
	}
}

// Of 240 pixels nothing says which is meant; recognition knows the ports of one of the array. Its nets are of one pixel: reset and select
// of the same row.
func TestSimulateRecognised(t *testing.T) {
	dir := t.TempDir()
	drawing, stack := filepath.Join(dir, "kiln.gds"), filepath.Join(dir, "kiln.stack.toml")
	st, err := kilnStack()
	if err != nil {
		t.Fatal(err)
	}
	f, err := os.Create(drawing)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := errors.Join(writeKilnGDS(f, kiln.Library(), st), os.WriteFile(stack, kiln.Stack, 0o666)); err != nil {
		t.Fatal(err)
	}
	out := call(t, "simulate", drawing, "--stack", stack, "--list")
	if !strings.Contains(out, "as recognised: array of 20 rows × 12 columns: three-transistor active pixel") {
		t.Errorf("no bench by recognition:\n%s", out)
	}
	deck := call(t, "simulate", drawing, "--stack", stack, "--bench", "pixel", "--deck", "-")
	if !strings.Contains(deck, "RST_0_") || !strings.Contains(deck, "SEL_0_") || strings.Contains(deck, "SEL_1_") {
		t.Errorf("the deck is not of one pixel of row 0:\n%.1500s", deck)
	}
}
