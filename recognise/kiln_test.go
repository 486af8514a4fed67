package recognise

import (
	"context"
	"math"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/testdata/kiln"
)

// imager extracts the demo's imager. The pixel in column 4, row 7 is the one that broken makes of a pixel; nil: whole.
func imager(t *testing.T, broken func(pixel *layout.Cell)) *netlist.Circuit {
	t.Helper()
	return imagerOf(t, func(lib *layout.Library) {
		if broken == nil {
			return
		}
		top := lib.Cell("IMAGER")
		whole := lib.Cell("PIXEL")
		odd := &layout.Cell{Name: "ODD", Shapes: slices.Clone(whole.Shapes)}
		broken(odd)
		lib.Cells = slices.Insert(lib.Cells, 1, odd)
		top.Placements = slices.DeleteFunc(top.Placements, func(p layout.Placement) bool { return p.Cell == whole })
		for x := range kiln.Columns {
			for y := range kiln.Rows {
				c := whole
				if x == 4 && y == 7 {
					c = odd
				}
				top.Placements = append(top.Placements, layout.Placement{Cell: c, Columns: 1, Rows: 1,
					Transform: geom.Move(geom.Point{X: x * kiln.Pitch, Y: y * kiln.Pitch})})
			}
		}
	})
}

// imagerOf extracts the demo's imager after a change of its drawing.
func imagerOf(t *testing.T, change func(lib *layout.Library)) *netlist.Circuit {
	t.Helper()
	st, err := stack.Parse("kiln.stack.toml", kiln.Stack)
	if err != nil {
		t.Fatal(err)
	}
	lib := kiln.Library()
	change(lib)
	res, err := extract.Run(context.Background(), lib, lib.Cell("IMAGER"), st, extract.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return res.Circuit
}

// The demo's imager is 240 three-transistor pixels and 12 column loads, and nothing is left.
func TestImager(t *testing.T) {
	c := imager(t, nil)
	r := find(t, c, Options{Missing: 1})
	count, explained := map[string]int{}, 0
	for _, f := range r.Fits {
		count[f.Pattern.Name]++
		explained += len(f.Members)
	}
	if len(count) != 2 || count["pixel_3t"] != kiln.Columns*kiln.Rows || count["column_load"] != kiln.Columns || len(r.Partial) != 0 {
		t.Errorf("found %v and %d partial fits", count, len(r.Partial))
	}
	if explained != len(c.Devices) {
		t.Errorf("%d of %d devices are explained", explained, len(c.Devices))
	}
	for _, f := range r.Fits {
		for i, p := range f.Pattern.Ports {
			if n := f.Ports[i]; f.Pattern.Name == "pixel_3t" && p.Name == "row" && c.Nets[n].Name[:3] != "SEL" {
				t.Errorf("the row of a pixel is %s", c.Nets[n].Name)
			}
		}
	}
}

// One contact is missing from one pixel: it is a partial fit whose missing piece is a connection at that pixel.
func TestImagerWithoutAContact(t *testing.T) {
	for _, tc := range []struct {
		name    string
		contact geom.Point // in the pixel
		role    string     // whose terminal is loose
	}{
		{"photodiode to the follower's gate", geom.Point{X: 5500, Y: 5900}, "MSF"},
		{"follower to the supply", geom.Point{X: 8200, Y: 7500}, "MSF"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			gone := 0
			c := imager(t, func(p *layout.Cell) {
				p.Shapes = slices.DeleteFunc(p.Shapes, func(s layout.Shape) bool {
					b := geom.EmptyRect()
					for _, q := range s.Polygon[0] {
						b = b.Extend(q)
					}
					if b.Width() == 400 && b.Contains(tc.contact) {
						gone++
						return true
					}
					return false
				})
			})
			if gone != 1 {
				t.Fatalf("%d shapes were taken away", gone)
			}
			r := find(t, c, Options{Missing: 1})
			whole := 0
			for _, f := range r.Fits {
				if f.Pattern.Name == "pixel_3t" {
					whole++
				}
			}
			if whole != kiln.Columns*kiln.Rows-1 || len(r.Partial) == 0 {
				t.Fatalf("%d whole pixels, %d partial fits", whole, len(r.Partial))
			}
			f := r.Partial[0]
			if f.Pattern.Name != "pixel_3t" || len(f.Missing) != 1 || f.Missing[0].Kind != "connection" {
				t.Fatalf("the best partial fit: %s, missing %+v", f.Pattern.Name, f.Missing)
			}
			at, want := f.Missing[0].At, tc.contact.Add(geom.Point{X: 4 * kiln.Pitch, Y: 7 * kiln.Pitch})
			if d := math.Hypot(float64(at.X-want.X), float64(at.Y-want.Y)); d > kiln.Pitch/2 {
				t.Errorf("look near %v, the contact is missing at %v", at, want)
			}
			t.Log(f.Missing[0].Text)
		})
	}
}
