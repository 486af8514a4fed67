package main

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/testdata/kiln"
)

// writeUnsure writes unsure.gds, on a process that tells n transistors by a mark that nobody has drawn: three transistors, one with GND at its
// source, one with VDD, one between two nets of which nothing is known; and with pixels 5 × 4 of a large diffusion beside a gate.
func writeUnsure(t *testing.T, pixels bool) {
	t.Helper()
	text := strings.Replace(string(kiln.Stack), `where = ["!pplus", "!nwell"]`, `where = ["photo", "!nwell"]`, 1)
	st, err := stack.Parse("unsure.stack.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	layer := func(name string) layout.Layer {
		l, ok := st.LayerNamed(name)
		if !ok {
			t.Fatalf("there is no layer %s", name)
		}
		return l
	}
	box := func(c *layout.Cell, on string, b geom.Rect) {
		c.Shapes = append(c.Shapes, layout.Shape{Layer: layer(on), Polygon: geom.Polygon{b.Ring()}})
	}
	top := &layout.Cell{Name: "TOP"}
	label := func(on, text string, x, y int) {
		top.Labels = append(top.Labels, layout.Label{Layer: layer(on), At: geom.Point{X: x, Y: y}, Text: text})
	}
	for i, ends := range [][2]string{{"GND", "A"}, {"VDD", "B"}, {"C", "D"}} {
		y := -50000 - 10000*i
		box(top, "diffusion", geom.Box(0, y, 6000, y+2000))
		box(top, "poly", geom.Box(2500, y-1000, 3500, y+3000))
		box(top, "contact", geom.Box(500, y+500, 1500, y+1500))
		box(top, "contact", geom.Box(4500, y+500, 5500, y+1500))
		box(top, "metal1", geom.Box(400, y+400, 1600, y+1600))
		box(top, "metal1", geom.Box(4400, y+400, 5600, y+1600))
		label("metal1", ends[0], 1000, y+1000)
		label("metal1", ends[1], 5000, y+1000)
	}
	lib := &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{top}}
	if pixels {
		pixel := &layout.Cell{Name: "PIXEL"}
		box(pixel, "diffusion", geom.Box(0, 0, 30000, 30000))
		box(pixel, "diffusion", geom.Box(30000, 14000, 34000, 15000))
		box(pixel, "poly", geom.Box(32000, 13000, 33000, 16000))
		lib.Cells = append(lib.Cells, pixel)
		top.Placements = []layout.Placement{{Cell: pixel, Name: "P", Transform: geom.Identity, Columns: 5, Rows: 4,
			ColumnExtent: geom.Vec{X: 4 * 60000}, RowExtent: geom.Vec{Y: 3 * 50000}}}
	}
	if err := writeDrawing("unsure", lib, st); err != nil {
		t.Fatal(err)
	}
}

const unsure = "unsure.gds --stack unsure.stack.toml"

// linesOf returns the lines of a netlist that begin with a letter.
func linesOf(sp string, letter string) (lines []string) {
	for l := range strings.Lines(sp) {
		if strings.HasPrefix(l, letter) {
			lines = append(lines, l)
		}
	}
	return lines
}

// TestFollowReadings: a transistor of unknown polarity is extracted as what its source says, 45 : 2 by the table of weights, if anything
// does, and the netlist and the JSON name the question. With --as-drawn it stays open.
func TestFollowReadings(t *testing.T) {
	t.Chdir(t.TempDir())
	writeUnsure(t, false)
	sp := said(t, "extract "+unsure+" --spice -")
	type device struct {
		ID, Kind, Model, Question string
		Followed                  *struct {
			Question, Reading string
			OddsDb            float64 `json:"odds_db"`
		}
	}
	var circuit struct {
		Devices  []device
		Warnings []struct{ Code, Text string }
	}
	read := func(call string) {
		circuit.Devices, circuit.Warnings = nil, nil
		if err := json.Unmarshal([]byte(said(t, call)), &circuit); err != nil {
			t.Fatal(err)
		}
	}
	count := func(code string) (n int) {
		for _, w := range circuit.Warnings {
			if w.Code == code {
				n++
			}
		}
		return n
	}
	read("extract " + unsure + " --json -")
	want := []string{"mos  C D", "pmos pfet B VDD", "nmos nfet A GND"} // from below
	if len(circuit.Devices) != 3 {
		t.Fatalf("%d devices", len(circuit.Devices))
	}
	for i, d := range circuit.Devices {
		if kind, _, _ := strings.Cut(want[i], " "); d.Kind != kind || !strings.HasPrefix(want[i], d.Kind+" "+d.Model+" ") {
			t.Errorf("device %d: %+v, want %s", i, d, want[i])
		}
		reading := map[string]string{"nmos": "n", "pmos": "p"}[d.Kind]
		switch f := d.Followed; {
		case reading == "":
			if f != nil {
				t.Errorf("an even question is followed: %+v", f)
			}
		case f == nil || f.Reading != reading || f.Question == "" || math.Abs(f.OddsDb-10*math.Log10(0.45/0.02)) > 1e-6:
			t.Errorf("%s: followed %+v", d.ID, f)
		}
	}
	if count("reading-followed") != 2 || count("polarity-unknown") != 1 {
		t.Errorf("warnings %+v", circuit.Warnings)
	}
	if n := strings.Count(sp, ", followed"); n != 2 || !strings.Contains(sp, ", polarity: n 2") || !strings.Contains(sp, ", polarity: p 2") {
		t.Errorf("%s", sp)
	}
	followed := circuit.Devices

	// questions calls devices as extract does, and what it lists are the questions that extract names.
	var qs []struct {
		ID, Kind string
		Devices  []string
	}
	if err := json.Unmarshal([]byte(said(t, "questions "+unsure+" --json - --kind polarity --all")), &qs); err != nil {
		t.Fatal(err)
	}
	for _, d := range followed {
		named := false
		for _, q := range qs {
			named = named || slices.Contains(q.Devices, d.ID) && (d.Followed == nil || d.Followed.Question == q.ID)
		}
		if !named {
			t.Errorf("no question of %+v names %s", qs, d.ID)
		}
	}

	read("extract " + unsure + " --as-drawn --json -")
	for _, d := range circuit.Devices {
		if d.Kind != "mos" || d.Followed != nil {
			t.Errorf("as drawn: %+v", d)
		}
	}
	if count("reading-followed") != 0 || count("polarity-unknown") != 3 {
		t.Errorf("as drawn: %+v", circuit.Warnings)
	}

	// What extract writes is what compare finds in the drawing.
	said(t, "extract "+unsure+" --spice unsure.sp")
	said(t, "compare unsure.gds unsure.sp --stack unsure.stack.toml")
}

// TestFollowPhotodiodes: twenty diffusions of 30 × 30 µm with a stub of 2 × 1 µm up to a gate are diodes; those of the 1 × 1 µm beyond it
// are not. 0.1·0.8·0.85·0.88 against 0.1·0.6·0.05·0.12 + 0.8·0.02·0.2·0.75 by the table of weights: 13.4 dB.
func TestFollowPhotodiodes(t *testing.T) {
	t.Chdir(t.TempDir())
	writeUnsure(t, true)
	var circuit struct {
		Devices []struct {
			Kind, Model, Path string
			Area              float64 `json:"area_um2"`
			Perimeter         float64 `json:"perimeter_um"`
			AS                float64 `json:"as_um2"`
			AD                float64 `json:"ad_um2"`
			Followed          *struct{ Reading string }
		}
	}
	if err := json.Unmarshal([]byte(said(t, "extract "+unsure+" --json -")), &circuit); err != nil {
		t.Fatal(err)
	}
	diodes, transistors := 0, 0
	for _, d := range circuit.Devices {
		switch {
		case d.Kind == "diode":
			diodes++
			if d.Model != "photodiode" || d.Area != 902 || d.Perimeter != 120-1+4 || d.Followed == nil || d.Followed.Reading != "photodiode" {
				t.Errorf("%+v", d)
			}
		case d.Path != "":
			transistors++
			if d.AS+d.AD != 1 {
				t.Errorf("junctions of %g µm² beside a diode", d.AS+d.AD)
			}
		}
	}
	if diodes != 20 || transistors != 20 {
		t.Errorf("%d diodes, %d transistors", diodes, transistors)
	}
	if sp := said(t, "extract "+unsure+" --spice -"); len(linesOf(sp, "D")) != 20 || strings.Count(sp, ", photodiode: photodiode 22:1, followed") != 20 {
		t.Errorf("%s", sp)
	}
	if sp := said(t, "extract "+unsure+" --as-drawn --spice -"); len(linesOf(sp, "D")) != 0 || strings.Contains(sp, "followed") {
		t.Errorf("%s", sp)
	}
}
