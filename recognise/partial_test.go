package recognise

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"undermetal/layout/geom"
	"undermetal/netlist"
)

// pixelArray is three-transistor pixels on a pitch of 10 µm: reset at 2, 8, follower at 6, 5, select at 6, 2 µm of each.
func pixelArray(columns, rows int) *netlist.Circuit {
	c := &netlist.Circuit{Name: "array"}
	net := func(name string) netlist.Net {
		c.Nets = append(c.Nets, netlist.NetInfo{Name: name})
		return netlist.Net(len(c.Nets) - 1)
	}
	vdd, vss := net("VDD"), net("VSS")
	cols := make([]netlist.Net, columns)
	for x := range cols {
		cols[x] = net(fmt.Sprintf("COL%d", x))
	}
	for y := range rows {
		rst, row := net(fmt.Sprintf("RST%d", y)), net(fmt.Sprintf("ROW%d", y))
		for x := range columns {
			pd, mid := net(""), net("")
			at := func(px, py int) geom.Point { return geom.Point{X: x*10000 + px, Y: y*10000 + py} }
			mos := func(name string, d, g, s netlist.Net, p geom.Point) {
				c.Devices = append(c.Devices, netlist.Device{Name: fmt.Sprintf("%s_%d_%d", name, x, y), Kind: netlist.NMOS, Model: "nmos",
					Terminals: [4]netlist.Net{d, g, s, vss}, W: 2000, L: 1000, At: p})
			}
			mos("RST", vdd, rst, pd, at(2000, 8000))
			mos("SF", vdd, pd, mid, at(6000, 5000))
			mos("SEL", mid, row, cols[x], at(6000, 2000))
		}
	}
	return c
}

func deviceNamed(c *netlist.Circuit, name string) *netlist.Device {
	return &c.Devices[slices.IndexFunc(c.Devices, func(d netlist.Device) bool { return d.Name == name })]
}

func remove(c *netlist.Circuit, name string) {
	c.Devices = slices.DeleteFunc(c.Devices, func(d netlist.Device) bool { return d.Name == name })
}

// cut puts one terminal of a device on a net of its own, as a contact that is missing does.
func cut(c *netlist.Circuit, name string, terminal int) {
	c.Nets = append(c.Nets, netlist.NetInfo{})
	deviceNamed(c, name).Terminals[terminal] = netlist.Net(len(c.Nets) - 1)
}

// One piece is taken from the pixel in column 1, row 2. The other eleven are whole, and of it the best partial fit is the pixel
// with that piece missing, at its place: known from how the array was drawn.
func TestMissingPiece(t *testing.T) {
	for _, tc := range []struct {
		name           string
		change         func(c *netlist.Circuit)
		kind, role, in string
		at             geom.Point // within 0.1 µm
	}{
		{"select", func(c *netlist.Circuit) { remove(c, "SEL_1_2") }, "device", "MSEL", "an n transistor between ", geom.Point{X: 16000, Y: 22000}},
		{"reset", func(c *netlist.Circuit) { remove(c, "RST_1_2") }, "device", "MRST", "an n transistor between ", geom.Point{X: 12000, Y: 28000}},
		{"reset to photodiode", func(c *netlist.Circuit) { cut(c, "RST_1_2", netlist.Source) }, "connection", "MRST", "of MRST and pd", geom.Point{X: 12000, Y: 28000}},
		{"select to follower", func(c *netlist.Circuit) { cut(c, "SEL_1_2", netlist.Drain) }, "connection", "MSEL", "of MSEL and x", geom.Point{X: 16000, Y: 22000}},
		{"follower to supply", func(c *netlist.Circuit) { cut(c, "SF_1_2", netlist.Drain) }, "connection", "MSF", "of MSF and supply vdd:", geom.Point{X: 16000, Y: 25000}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := pixelArray(4, 3)
			tc.change(c)
			r := find(t, c, Options{Missing: 1})
			whole := 0
			for _, f := range r.Fits {
				if f.Pattern.Name == "pixel_3t" {
					whole++
				}
				if len(f.Missing)+len(f.Extra) > 0 {
					t.Error("a full fit lacks something")
				}
			}
			if whole != 11 || len(r.Partial) == 0 {
				t.Fatalf("%d whole pixels, %d partial fits, want 11 and some", whole, len(r.Partial))
			}
			f := r.Partial[0]
			if f.Pattern.Name != "pixel_3t" || len(f.Missing) != 1 || len(f.Extra) != 0 {
				t.Fatalf("the best partial fit is %s, missing %v, extra %v", f.Pattern.Name, f.Missing, f.Extra)
			}
			p := f.Missing[0]
			if p.Kind != tc.kind || p.Role != tc.role || !strings.Contains(p.Text, tc.in) || !p.Looked {
				t.Errorf("missing: %s %s %q", p.Kind, p.Role, p.Text)
			}
			if math.Hypot(float64(p.At.X-tc.at.X), float64(p.At.Y-tc.at.Y)) > 100 {
				t.Errorf("look near %v, want %v", p.At, tc.at)
			}
			place := fmt.Sprintf("look near %.1f, %.1f µm", float64(tc.at.X)/1000, float64(tc.at.Y)/1000)
			if !strings.Contains(p.Text, place) {
				t.Errorf("%q does not say %q", p.Text, place)
			}
		})
	}
}

// A contact to the column that is missing leaves a pixel whose port leads nowhere.
func TestLoosePort(t *testing.T) {
	c := pixelArray(4, 3)
	cut(c, "SEL_1_2", netlist.Source)
	r := find(t, c, Options{})
	loose := 0
	for _, f := range r.Fits {
		for _, i := range f.Loose {
			if f.Pattern.Ports[i].Name != "col" {
				t.Errorf("port %s leads nowhere", f.Pattern.Ports[i].Name)
			}
			loose++
		}
	}
	if len(r.Fits) != 12 || loose != 1 {
		t.Errorf("%d fits with %d loose ports, want 12 with 1", len(r.Fits), loose)
	}
}

// A piece too many is named, and what was not looked at costs less.
func TestExtraPieceAndUntracedArea(t *testing.T) {
	c := pixelArray(4, 3)
	sf := deviceNamed(c, "SF_1_2")
	c.Devices = append(c.Devices, netlist.Device{Name: "CX", Kind: netlist.Capacitor, Model: "cap", At: geom.Point{X: 17000, Y: 27000},
		Terminals: [4]netlist.Net{sf.Terminals[netlist.Gate], 1, netlist.NoNet, netlist.NoNet}})
	r := find(t, c, Options{Missing: 1})
	if len(r.Partial) == 0 || r.Partial[0].Pattern.Name != "pixel_3t" || len(r.Partial[0].Extra) != 1 || len(r.Partial[0].Missing) != 0 {
		t.Fatalf("partial fits: %+v", r.Partial)
	}
	if p := r.Partial[0].Extra[0]; p.Text != "a capacitor too many on pd, at 17.0, 27.0 µm" || c.Devices[p.Device].Name != "CX" {
		t.Errorf("%q, device %d", p.Text, p.Device)
	}

	c = pixelArray(4, 3)
	remove(c, "SEL_1_2")
	seen := find(t, c, Options{Missing: 1}).Partial[0]
	blind := find(t, c, Options{Missing: 1, Looked: func(p geom.Point) bool { return p.X < 15000 }}).Partial[0]
	if blind.Missing[0].Looked || blind.Weight <= seen.Weight || !strings.Contains(blind.Missing[0].Text, "nobody has looked") {
		t.Errorf("not looked at: %.1f db, %q; looked at: %.1f db", blind.Weight, blind.Missing[0].Text, seen.Weight)
	}
}

// Whole circuits have no partial fits.
func TestNothingMissing(t *testing.T) {
	if r := find(t, pixelArray(4, 3), Options{Missing: 2}); len(r.Partial) > 0 {
		t.Errorf("%s lacks %v", r.Partial[0].Pattern.Name, r.Partial[0].Missing)
	}
}

// A cell that is drawn with a piece missing lacks it wherever it is placed, and no whole one is there to tell by.
func TestMissingEverywhere(t *testing.T) {
	c := pixelArray(8, 6)
	for x := range 8 {
		for y := range 6 {
			cut(c, fmt.Sprintf("SF_%d_%d", x, y), netlist.Drain)
		}
	}
	r := find(t, c, Options{Missing: 1})
	n := 0
	for _, f := range r.Partial {
		if f.Pattern.Name == "pixel_3t" && len(f.Missing) == 1 && f.Missing[0].Role == "MSF" && f.Missing[0].Kind == "connection" {
			n++
		}
	}
	if n != 48 {
		t.Errorf("%d of 48 pixels lack their connection to the supply; %d partial fits", n, len(r.Partial))
	}
}
