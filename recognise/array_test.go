package recognise

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/testdata/kiln"
)

// arrayOf returns the only array of a pattern.
func arrayOf(t *testing.T, all []Array, pattern string) *Array {
	t.Helper()
	var a *Array
	for i := range all {
		if all[i].Pattern.Name == pattern {
			if a != nil {
				t.Fatalf("more than one array of %s", pattern)
			}
			a = &all[i]
		}
	}
	if a == nil {
		t.Fatalf("no array of %s among %d", pattern, len(all))
	}
	return a
}

// The demo's imager is one array of 20 rows and 12 columns, with the nets that its labels name, and a row of 12 column loads.
func TestImagerArray(t *testing.T) {
	c := imager(t, nil)
	all := Arrays(c, find(t, c, Options{Missing: 1}))
	if len(all) != 2 {
		t.Errorf("%d arrays, want 2", len(all))
	}
	a := arrayOf(t, all, "pixel_3t")
	if a.Rows != kiln.Rows || a.Columns != kiln.Columns || a.Count() != 240 || len(a.Odd) != 0 {
		t.Fatalf("%d × %d with %d members, %d odd: %+v", a.Rows, a.Columns, a.Count(), len(a.Odd), a.Odd)
	}
	for r := range a.Rows {
		for port, want := range map[string]string{"rst": fmt.Sprintf("RST<%d>", r), "row": fmt.Sprintf("SEL<%d>", r)} {
			if got := c.Nets[a.RowNets[r][port]].Name; got != want {
				t.Errorf("row %d: %s is %s, want %s", r, port, got, want)
			}
		}
	}
	for k := range a.Columns {
		if got, want := c.Nets[a.ColumnNets[k]["col"]].Name, fmt.Sprintf("COL<%d>", k); got != want || len(a.ColumnNets[k]) != 1 {
			t.Errorf("column %d is %s, want %s", k, got, want)
		}
	}
	loads := arrayOf(t, all, "column_load")
	if loads.Rows != 1 || loads.Columns != kiln.Columns || len(loads.Odd) != 0 || c.Nets[loads.Common["vb"]].Name != "VBIAS" || c.Nets[loads.ColumnNets[3]["col"]].Name != "COL<3>" {
		t.Errorf("loads: %d × %d, %v, %v", loads.Rows, loads.Columns, loads.Common, loads.ColumnNets)
	}
}

// One thing is wrong with the pixel in row 7, column 4: it is the odd member, and the difference is told with its place.
func TestImagerOddMember(t *testing.T) {
	for _, tc := range []struct {
		name  string
		size  int // of the shape that is taken away
		where geom.Point
		full  bool
		says  string
	}{
		{"contact of the follower's gate", 400, geom.Point{X: 5500, Y: 5900}, false, "lacks a connection between the source of MRST and pd, the gate of MSF"},
		{"contact of the follower's drain", 400, geom.Point{X: 8200, Y: 7500}, false, "lacks a connection between the"},
		{"via to the column", 400, geom.Point{X: 8200, Y: 2600}, true, "its col leads nowhere"},
		{"contact of the select gate", 400, geom.Point{X: 9700, Y: 4300}, true, "its row leads nowhere"},
		{"contact of the reset gate", 400, geom.Point{X: 7100, Y: 9100}, true, "its rst leads nowhere"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			gone := 0
			c := imager(t, func(p *layout.Cell) { gone = takeAway(p, tc.size, tc.where) })
			if gone != 1 {
				t.Fatalf("%d shapes were taken away", gone)
			}
			a := arrayOf(t, Arrays(c, find(t, c, Options{Missing: 1})), "pixel_3t")
			if a.Rows != kiln.Rows || a.Columns != kiln.Columns || a.Count() != 240 || len(a.Odd) != 1 {
				t.Fatalf("%d × %d with %d members, %d odd: %+v", a.Rows, a.Columns, a.Count(), len(a.Odd), a.Odd)
			}
			o := a.Odd[0]
			if o.Row != 7 || o.Column != 4 || o.Fit == nil || o.Fit.Full() != tc.full || !strings.Contains(o.Text, tc.says) {
				t.Errorf("odd: row %d, column %d, %q, want row 7, column 4, %q", o.Row, o.Column, o.Text, tc.says)
			}
			pixel := geom.Box(4*kiln.Pitch, 7*kiln.Pitch, 5*kiln.Pitch, 8*kiln.Pitch)
			if !pixel.Contains(o.At) {
				t.Errorf("the odd member is at %v, not in %v", o.At, pixel)
			}
			t.Log(o.Text)
		})
	}
}

// A place with nothing but its wires.
func TestImagerGap(t *testing.T) {
	metal := map[string]bool{"metal1": true, "metal2": true}
	names := kiln.Library().Layers
	c := imager(t, func(p *layout.Cell) {
		p.Shapes = slices.DeleteFunc(p.Shapes, func(s layout.Shape) bool { return !metal[names[s.Layer]] })
	})
	a := arrayOf(t, Arrays(c, find(t, c, Options{Missing: 1})), "pixel_3t")
	if a.Count() != 239 || len(a.Odd) != 1 || a.Odd[0].Fit != nil || a.Odd[0].Row != 7 || a.Odd[0].Column != 4 {
		t.Errorf("%d members, odd %+v", a.Count(), a.Odd)
	}
}

// The macro's 2,048 bit cells are two arrays of 32 words by 32 bits, says its netlist: XRAM<0> and XRAM<1> have word lines a_wl_l and a_wl_r.
func TestMacroArrays(t *testing.T) {
	d := readFile(t, filepath.Join(corpus(t), "ihp-sg13g2", "RM_IHPSG13_1P_256x8_c3_bm_bist.cdl"))
	c, err := netlist.Flatten(d, d.Circuit("RM_IHPSG13_1P_256x8_c3_bm_bist"))
	if err != nil {
		t.Fatal(err)
	}
	cells := macroArrays(t, Arrays(c, find(t, c, Options{})))
	sides := map[byte]bool{}
	for _, a := range cells {
		for r := range a.Rows {
			name := c.Nets[a.RowNets[r]["wl"]].Name
			sides[name[len("a_wl_")]] = true
			if want := fmt.Sprintf("a_wl_%c<%d>", name[len("a_wl_")], r); name != want {
				t.Errorf("row %d is %s, want %s", r, name, want)
			}
		}
		for k := range a.Columns {
			bl, bln := c.Nets[a.ColumnNets[k]["bl"]].Name, c.Nets[a.ColumnNets[k]["bln"]].Name
			if !strings.HasPrefix(bl, "a_bl") || !strings.HasPrefix(bln, "a_bl") || bl[6:] != bln[6:] || bl == bln {
				t.Errorf("column %d is %s and %s", k, bl, bln)
			}
		}
	}
	if !sides['l'] || !sides['r'] {
		t.Errorf("sides %v", sides)
	}
}

func macroArrays(t *testing.T, all []Array) []Array {
	t.Helper()
	var cells []Array
	for _, a := range all {
		t.Logf("%s %d × %d, %d members, %d odd", a.Pattern.Name, a.Rows, a.Columns, a.Count(), len(a.Odd))
		if a.Pattern.Name == "sram_6t" {
			cells = append(cells, a)
			if a.Rows != 32 || a.Columns != 32 || a.Count() != 1024 || len(a.Odd) != 0 {
				t.Errorf("an array of %d × %d with %d members, %d odd", a.Rows, a.Columns, a.Count(), len(a.Odd))
			}
		}
	}
	if len(cells) != 2 {
		t.Errorf("%d arrays of memory cells, want 2", len(cells))
	}
	return cells
}

// takeAway removes the shapes of a size that hold a place.
func takeAway(p *layout.Cell, size int, where geom.Point) (gone int) {
	var kept []layout.Shape
	for _, s := range p.Shapes {
		b := geom.EmptyRect()
		for _, q := range s.Polygon[0] {
			b = b.Extend(q)
		}
		if b.Width() == size && b.Contains(where) {
			gone++
		} else {
			kept = append(kept, s)
		}
	}
	p.Shapes = kept
	return gone
}

// A dummy pixel: without the mark that makes its junction a photodiode. And one whose follower is twice as wide.
func TestImagerUnlikeMember(t *testing.T) {
	names := kiln.Library().Layers
	for _, tc := range []struct {
		name  string
		spoil func(p *layout.Cell)
		says  string
	}{
		{"no photodiode", func(p *layout.Cell) {
			p.Shapes = slices.DeleteFunc(p.Shapes, func(s layout.Shape) bool { return names[s.Layer] == "photo" })
		}, "has no DPD"},
		{"a wide gate", func(p *layout.Cell) {
			for i := range p.Shapes {
				if r := p.Shapes[i].Polygon[0]; names[p.Shapes[i].Layer] == "diffusion" && r[0].X == 7600 {
					p.Shapes[i].Polygon = geom.Polygon{geom.Box(7600, 1000, 7600+kiln.PixelW*3/2, 8000).Ring()}
				}
			}
		}, "the W of MSF is 1.8 µm, in most others 1.2 µm"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := imager(t, tc.spoil)
			a := arrayOf(t, Arrays(c, find(t, c, Options{Missing: 1})), "pixel_3t")
			if a.Count() != 240 || len(a.Odd) != 1 || a.Odd[0].Row != 7 || a.Odd[0].Column != 4 || !strings.Contains(a.Odd[0].Text, tc.says) {
				t.Errorf("%d members, odd %+v", a.Count(), a.Odd)
			}
		})
	}
}

// Before the wires along the rows are traced, the array shows by its places; columns are named, rows are not.
func TestImagerWithoutRows(t *testing.T) {
	names := kiln.Library().Layers
	c := imagerOf(t, func(lib *layout.Library) {
		p := lib.Cell("PIXEL")
		p.Shapes = slices.DeleteFunc(p.Shapes, func(s layout.Shape) bool {
			b := geom.EmptyRect()
			for _, q := range s.Polygon[0] {
				b = b.Extend(q)
			}
			return names[s.Layer] == "metal1" && b.Width() == kiln.Pitch
		})
	})
	a := arrayOf(t, Arrays(c, find(t, c, Options{})), "pixel_3t")
	if a.Rows != kiln.Rows || a.Columns != kiln.Columns || a.Count() != 240 {
		t.Fatalf("%d × %d, %d members", a.Rows, a.Columns, a.Count())
	}
	if n := a.RowNets[7]; len(n) != 0 {
		t.Errorf("row 7 has %v", n)
	}
	if got := c.Nets[a.ColumnNets[4]["col"]].Name; got != "COL<4>" {
		t.Errorf("column 4 is %s", got)
	}
}

// A wire of a row that is broken in one pixel leaves the row one row: the members on its shorter part are told, and the pixel whose gate is
// on neither.
func TestImagerBrokenRow(t *testing.T) {
	names := kiln.Library().Layers
	c := imager(t, func(p *layout.Cell) {
		p.Shapes = slices.DeleteFunc(p.Shapes, func(s layout.Shape) bool {
			r := s.Polygon[0]
			return names[s.Layer] == "metal1" && r[0].X == 0 && r[0].Y == 8600
		})
	})
	a := arrayOf(t, Arrays(c, find(t, c, Options{Missing: 1})), "pixel_3t")
	if a.Rows != kiln.Rows || a.Columns != kiln.Columns || a.Count() != 240 || len(a.Odd) != 5 {
		t.Fatalf("%d × %d, %d members, odd %+v", a.Rows, a.Columns, a.Count(), a.Odd)
	}
	for k, o := range a.Odd {
		if o.Row != 7 || o.Column != k || !strings.Contains(o.Text, "its rst ") {
			t.Errorf("odd: row %d, column %d: %s", o.Row, o.Column, o.Text)
		}
	}
}

// Two rows with one select net are two rows, by where they lie.
func TestImagerShortedRows(t *testing.T) {
	c := imager(t, nil)
	called := func(name string) netlist.Net {
		return netlist.Net(slices.IndexFunc(c.Nets, func(n netlist.NetInfo) bool { return n.Name == name }))
	}
	from, to := called("SEL<8>"), called("SEL<7>")
	for i := range c.Devices {
		for k, n := range c.Devices[i].Terminals {
			if n == from {
				c.Devices[i].Terminals[k] = to
			}
		}
	}
	a := arrayOf(t, Arrays(c, find(t, c, Options{Missing: 1})), "pixel_3t")
	if a.Rows != kiln.Rows || a.Columns != kiln.Columns || a.Count() != 240 || a.RowNets[7]["row"] != to || a.RowNets[8]["row"] != to || a.RowNets[9]["row"] == to {
		t.Errorf("%d × %d, %d members, rows 7 to 9 %v, odd %v", a.Rows, a.Columns, a.Count(), a.RowNets[7:10], a.Odd)
	}
}
