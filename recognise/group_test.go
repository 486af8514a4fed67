package recognise

import (
	"context"
	"math/rand"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/compare"
	"undermetal/recognise/library"
	"undermetal/spice"
	"undermetal/testdata/kiln"
)

// grouped groups a circuit, writes it, reads it again, makes it flat and compares that with the circuit.
func grouped(t *testing.T, c *netlist.Circuit, opt Options) (*Grouped, string) {
	t.Helper()
	g := Group(c, Suggestions(c, find(t, c, opt)))
	var text strings.Builder
	if err := spice.Write(&text, g.Design, spice.WriteOptions{}); err != nil {
		t.Fatal(err)
	}
	d, err := spice.Read("grouped.sp", strings.NewReader(text.String()), spice.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	flat, err := netlist.Flatten(d, d.Circuits[len(d.Circuits)-1])
	if err != nil {
		t.Fatal(err)
	}
	res, err := compare.Compare(context.Background(), c, flat, compare.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	if !res.Same {
		t.Errorf("%s: grouped, it is another circuit: %+v", c.Name, res.Differences[:min(3, len(res.Differences))])
	}
	return g, text.String()
}

func circuitNames(d *netlist.Design) []string {
	var names []string
	for _, c := range d.Circuits {
		names = append(names, c.Name)
	}
	return names
}

// The demo's imager becomes one array of pixels and one of loads, each of one circuit; nothing else is left in it.
func TestGroupImager(t *testing.T) {
	c := imager(t, nil)
	g, text := grouped(t, c, Options{})
	if want := []string{"pixel_3t", "pixel_3t_20x12", "column_load", "column_load_1x12", "IMAGER"}; !slices.Equal(circuitNames(g.Design), want) {
		t.Errorf("circuits %v, want %v", circuitNames(g.Design), want)
	}
	if len(g.Left) != 0 || g.Groups != 252 {
		t.Errorf("%d devices are left, %d groups", len(g.Left), g.Groups)
	}
	if !strings.Contains(text, ".subckt pixel_3t vdd vss rst row col\n") {
		t.Errorf("the pixel's ports have other names:\n%.600s", text)
	}
}

// A pixel that lacks a contact stays as it is beside the array of the others; one with another size is a circuit of its own.
func TestGroupOddPixels(t *testing.T) {
	c := imager(t, func(p *layout.Cell) { takeAway(p, 400, geom.Point{X: 8200, Y: 7500}) })
	g, _ := grouped(t, c, Options{Missing: 1})
	if len(g.Left) != 4 {
		t.Errorf("%d devices are left, want the 4 of the pixel", len(g.Left))
	}
	c = imager(t, func(p *layout.Cell) {
		for i := range p.Shapes {
			if r := p.Shapes[i].Polygon[0]; r[0].X == 7600 && r[0].Y == 1000 {
				p.Shapes[i].Polygon = geom.Polygon{geom.Box(7600, 1000, 7600+kiln.PixelW*3/2, 8000).Ring()}
			}
		}
	})
	g, _ = grouped(t, c, Options{})
	if names := circuitNames(g.Design); !slices.Contains(names, "pixel_3t_2") || len(names) != 6 {
		t.Errorf("circuits %v", names)
	}
}

// The macro's netlist, grouped, is the same circuit, and its bit cells are two arrays of one circuit.
func TestGroupMacro(t *testing.T) {
	d := readFile(t, filepath.Join(corpus(t), "ihp-sg13g2", "RM_IHPSG13_1P_256x8_c3_bm_bist.cdl"))
	c, err := netlist.Flatten(d, d.Circuit("RM_IHPSG13_1P_256x8_c3_bm_bist"))
	if err != nil {
		t.Fatal(err)
	}
	g, _ := grouped(t, c, Options{})
	arrays, cells := 0, 0
	for _, n := range circuitNames(g.Design) {
		switch {
		case strings.HasPrefix(n, "sram_6t_32x32"):
			arrays++
		case strings.HasPrefix(n, "sram_6t"):
			cells++
		}
	}
	t.Logf("%d circuits, %d groups, %d of %d devices left", len(g.Design.Circuits), g.Groups, len(g.Left), len(c.Devices))
	if arrays != 2 || cells != 1 {
		t.Errorf("%d arrays, %d circuits of memory cells: %v", arrays, cells, circuitNames(g.Design))
	}
}

// Published cells, grouped, are the same circuits.
func TestGroupCells(t *testing.T) {
	for _, lib := range []string{"gf180mcu", "ihp-sg13g2"} {
		n := 0
		for _, c := range publishedCells(t, lib) {
			g, _ := grouped(t, c, Options{})
			n += g.Groups
		}
		if n == 0 {
			t.Errorf("%s: no group at all", lib)
		}
	}
}

// Every pattern amid random transistors, in fingers and mirrored, is the same circuit when it is grouped, with the names of its ports.
func TestGroupPatterns(t *testing.T) {
	rnd := rand.New(rand.NewSource(1))
	for _, p := range library.Embedded() {
		c := instance(p)
		if p.Mirror && rnd.Intn(2) == 0 {
			c = mirrored(c)
		}
		if rnd.Intn(2) == 0 {
			c = split(c, rnd)
		}
		grouped(t, shuffled(within(p, c, 30, rnd), rnd), Options{})
		if rnd.Intn(2) == 0 {
			grouped(t, splitStacks(instance(p)), Options{})
		}
	}
}
