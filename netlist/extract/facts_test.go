package extract_test

import (
	"fmt"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
)

// factsDifference compares Facts: measures to 1e-6, since sums round, all else exactly; but the points within and the
// instances found with them, which between slanted edges depend on strips, and how often a contact is drawn.
func factsDifference(a, b *extract.Facts) string {
	if len(a.Regions) != len(b.Regions) || len(a.Channels) != len(b.Channels) || a.Nets != b.Nets {
		return fmt.Sprintf("facts of %d regions, %d channels, %d nets, not of %d, %d, %d", len(b.Regions), len(b.Channels), b.Nets, len(a.Regions), len(a.Channels), a.Nets)
	}
	for i := range a.Regions {
		r, s := a.Regions[i], b.Regions[i]
		for _, v := range [][2]*float64{{&r.Area, &s.Area}, {&r.Perimeter, &s.Perimeter}, {&r.ContactArea, &s.ContactArea}, {&r.TapArea, &s.TapArea}, {&r.DiodeArea, &s.DiodeArea}} {
			if near(*v[0], *v[1]) {
				*v[0], *v[1] = 0, 0
			}
		}
		r.Within, s.Within = geom.Point{}, geom.Point{}
		if r != s {
			return fmt.Sprintf("region %d: %+v, not %+v", i, b.Regions[i], a.Regions[i])
		}
	}
	for i := range a.Channels {
		c, d := a.Channels[i], b.Channels[i]
		same := near(c.Area, d.Area) && near(c.Perimeter, d.Perimeter) && slices.EqualFunc(c.Edges, d.Edges, func(e, f extract.Edge) bool {
			return e.Region == f.Region && e.Stretches == f.Stretches && near(e.Length, f.Length)
		})
		if !same || c.Device != d.Device || c.Layer != d.Layer || c.Diffusion != d.Diffusion || c.Gate != d.Gate || c.Well != d.Well || c.Straight != d.Straight ||
			c.Box != d.Box || c.Path != d.Path {
			return fmt.Sprintf("channel %d: %+v, not %+v", i, d, c)
		}
	}
	return ""
}

// boxOn draws a rectangle.
func boxOn(l, x0, y0, x1, y1 int) layout.Shape {
	return layout.Shape{Layer: layout.Layer(l), Polygon: geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()}}
}

func oneCell(st *stack.Stack, shapes ...layout.Shape) drawn {
	c := &layout.Cell{Name: "TOP", Shapes: shapes}
	return drawn{"one cell", &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{c}}, c, st}
}

// TestContactsOfParts: a shape of two parts lands on each region once, whether both parts do on one or each on its own.
func TestContactsOfParts(t *testing.T) {
	st := kilnStack(t)
	two := func(x int) layout.Shape { // far apart, in one shape
		return layout.Shape{Layer: contact, Polygon: geom.Polygon{geom.Box(x, 100, x+100, 200).Ring(), geom.Box(x+400, 100, x+500, 200).Ring()}}
	}
	d := oneCell(st, boxOn(diffusion, 0, 0, 1000, 300), two(100), boxOn(diffusion, 2000, 0, 2300, 300), boxOn(diffusion, 2400, 0, 2700, 300), two(2100),
		boxOn(contact, 700, 100, 800, 200), boxOn(metal1, 0, 0, 3000, 300))
	for _, strips := range []int{1, 4, 16} {
		f := run(t, d, extract.Options{Facts: true, Strips: strips}).Facts
		var got []string
		for _, r := range f.Regions {
			got = append(got, fmt.Sprintf("%v: %d, %.0f", r.At, r.Contacts, r.ContactArea))
		}
		if want := []string{"{0 0}: 2, 30000", "{2000 0}: 1, 10000", "{2400 0}: 1, 10000"}; !slices.Equal(got, want) {
			t.Errorf("%d strips: %q, want %q", strips, got, want)
		}
	}
}

// TestContactsWithoutChoice: contacts that can reach one layer only are dropped early where nobody asks for Facts.
func TestContactsWithoutChoice(t *testing.T) {
	st, err := stack.Parse("one.toml", []byte(`name = "contacts of their own"
[[layer]]
name = "diffusion"
role = "diffusion"
[[layer]]
name = "poly"
role = "gate"
[[layer]]
name = "metal1"
role = "metal"
[[layer]]
name = "contact"
role = "contact"
joins = ["metal1", "diffusion"]
[[layer]]
name = "pcontact"
role = "contact"
joins = ["metal1", "poly"]
`))
	if err != nil {
		t.Fatal(err)
	}
	d := oneCell(st, boxOn(0, 0, 0, 1000, 1000), boxOn(1, 2000, 0, 3000, 1000), boxOn(2, 0, 0, 3000, 1000), boxOn(3, 100, 100, 200, 200), boxOn(3, 500, 100, 600, 200),
		boxOn(3, 950, 500, 1050, 600), boxOn(4, 2100, 100, 2200, 200), boxOn(4, 2150, 100, 2300, 200))
	for _, strips := range []int{1, 7} {
		f := run(t, d, extract.Options{Facts: true, Strips: strips}).Facts
		if len(f.Regions) != 2 || f.Regions[0].Contacts != 3 || f.Regions[0].ContactArea != 25000 || f.Regions[1].Contacts != 2 || f.Regions[1].ContactArea != 20000 ||
			f.Nets != 1 || f.Regions[0].NetID != f.Regions[1].NetID {
			t.Errorf("%d strips: %+v", strips, f.Regions)
		}
	}
}

// TestFactsChangeNothing: the circuit and its warnings are the same without them.
func TestFactsChangeNothing(t *testing.T) {
	for _, d := range samples(t) {
		with, without := run(t, d, extract.Options{Facts: true}), run(t, d, extract.Options{})
		if diff := difference(without, with); diff != "" || without.Facts != nil {
			t.Errorf("%s: %s", d.name, diff)
		}
	}
}

// TestFactsOfPlaced: what is drawn in a placed cell says in which instance; a channel leads to its device.
func TestFactsOfPlaced(t *testing.T) {
	st := kilnStack(t)
	cell := &layout.Cell{Name: "T", Shapes: []layout.Shape{boxOn(diffusion, 0, 0, 900, 300), boxOn(poly, 400, -100, 500, 400)}}
	top := &layout.Cell{Name: "TOP", Shapes: []layout.Shape{boxOn(diffusion, 9000, 0, 9100, 100)}, Placements: []layout.Placement{
		{Name: "A", Cell: cell, Columns: 2, ColumnExtent: geom.Vec{X: 2000}}, {Name: "B", Cell: cell, Transform: geom.Move(geom.Point{Y: 5000})}}}
	top.Placements[0].Transform = geom.Identity
	d := drawn{"placed", &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{top, cell}}, top, st}
	res := run(t, d, extract.Options{Facts: true})
	var got []string
	for _, c := range res.Facts.Channels {
		got = append(got, fmt.Sprintf("%s %v %v %v", c.Path, c.At, c.Straight, res.Circuit.Devices[c.Device].At))
	}
	want := []string{"A[0,0] {450 150} true {400 0}", "A[0,1] {2450 150} true {2400 0}", "B {450 5150} true {400 5000}"}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	for i, c := range res.Facts.Channels {
		if got, want := res.Facts.DrawnAs(i), res.Drawn([]layout.Place{{Layer: c.Layer, At: c.At}})[0]; got != want || want.Path != c.Path || want.Shape == nil {
			t.Errorf("channel %d is drawn as %v, want %v", i, got, want)
		}
	}
	var paths []string
	for i, r := range res.Facts.Regions {
		paths = append(paths, fmt.Sprint(r.Kind, res.Facts.Path(extract.RegionID(i)), r.Within))
	}
	want = []string{"2A[0,0]{450 150}", "2A[0,1]{2450 150}", "1A[0,0]{200 150}", "1A[0,0]{700 150}", "1A[0,1]{2200 150}", "1A[0,1]{2700 150}", "1{9050 50}",
		"2B{450 5150}", "1B{200 5150}", "1B{700 5150}"}
	if !slices.Equal(paths, want) {
		t.Errorf("%q,\nwant %q", paths, want)
	}
}

// TestPadFacts: Facts tell of pads as Result.Pads does, each on the net of the metal under it, or on one of its own.
func TestPadFacts(t *testing.T) {
	kiln := kilnStack(t)
	st := *kiln
	pad := len(st.Layers)
	st.Layers = append(slices.Clone(kiln.Layers), stack.Layer{Name: "pad", Role: stack.Pad})
	d := oneCell(&st, boxOn(diffusion, 0, 0, 1000, 400), boxOn(poly, 400, -100, 500, 500), boxOn(contact, 100, 100, 200, 200), boxOn(metal1, 0, 0, 300, 9000),
		boxOn(pad, 50, 5000, 250, 6000), boxOn(pad, 5000, 5000, 5300, 5100))
	res := run(t, d, extract.Options{Facts: true})
	var got []string
	var source extract.Region
	pads := map[int]extract.Region{}
	for _, r := range res.Facts.Regions {
		switch {
		case r.Kind == extract.PadRegion:
			got = append(got, fmt.Sprintf("%v %v %.0f %.0f", r.Box, r.At, r.Area, r.Perimeter))
			pads[r.At.X] = r
		case r.Kind == extract.JunctionRegion && r.Box.Min.X == 0:
			source = r
		}
	}
	if want := []string{fmt.Sprintf("%v {50 5000} 200000 2400", geom.Box(50, 5000, 250, 6000)), fmt.Sprintf("%v {5000 5000} 30000 800", geom.Box(5000, 5000, 5300, 5100))}; !slices.Equal(got, want) {
		t.Fatalf("%q, want %q", got, want)
	}
	if p := pads[50]; p.NetID != source.NetID || p.Net != source.Net || p.Net != res.Pads[0].Net || int(p.Layer) != pad {
		t.Errorf("%+v beside a source %+v", p, source)
	}
	for _, r := range res.Facts.Regions {
		if r.Kind != extract.PadRegion && r.NetID == pads[5000].NetID {
			t.Errorf("a pad on nothing has the net of %+v", r)
		}
	}
	if n := pads[5000].NetID; n < 0 || n >= res.Facts.Nets {
		t.Errorf("net %d of %d", n, res.Facts.Nets)
	}
}
