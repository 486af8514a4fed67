package extract_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// structuresByPairs puts channels together by looking at all pairs again and again.
func structuresByPairs(f *extract.Facts, c *netlist.Circuit) [][]int {
	name := func(ch extract.Channel) string {
		var ends []int
		for _, e := range ch.Edges {
			ends = append(ends, f.Regions[e.Region].NetID)
		}
		slices.Sort(ends)
		s := fmt.Sprint(f.Regions[ch.Gate].NetID, slices.Compact(ends))
		if ch.Device >= 0 {
			s += c.Devices[ch.Device].Kind.String() + c.Devices[ch.Device].Model
		}
		return s
	}
	linked := func(a, b extract.Channel) bool {
		if a.Gate == b.Gate {
			return true
		}
		for _, e := range a.Edges {
			if slices.ContainsFunc(b.Edges, func(g extract.Edge) bool { return e.Region == g.Region }) {
				return true
			}
		}
		side := func(c extract.Channel) float64 { return math.Sqrt(float64(c.Box.Width() * c.Box.Height())) }
		x := max(0, a.Box.Min.X-b.Box.Max.X, b.Box.Min.X-a.Box.Max.X)
		y := max(0, a.Box.Min.Y-b.Box.Max.Y, b.Box.Min.Y-a.Box.Max.Y)
		return a.Cell == b.Cell && math.Hypot(float64(x), float64(y)) < 3*max(side(a), side(b))
	}
	of := make([]int, len(f.Channels))
	for i := range of {
		of[i] = i
	}
	for changed := true; changed; {
		changed = false
		for i, a := range f.Channels {
			for k, b := range f.Channels[:i] {
				if of[i] != of[k] && name(a) == name(b) && linked(a, b) {
					of[i], of[k], changed = min(of[i], of[k]), min(of[i], of[k]), true
				}
			}
		}
	}
	var out [][]int
	for i := range of {
		if of[i] == i {
			out = append(out, nil)
			for k := range of {
				if of[k] == i {
					out[len(out)-1] = append(out[len(out)-1], k)
				}
			}
		}
	}
	return out
}

// TestStructuresByPairs: many small gates over diffusions that two metals join at random.
func TestStructuresByPairs(t *testing.T) {
	st := kilnStack(t)
	several, all := 0, 0
	for seed := range sceneRounds(60, 1000) {
		rnd := rand.New(rand.NewPCG(uint64(seed), 93))
		cell := func(name string) *layout.Cell {
			c := &layout.Cell{Name: name}
			long := boxOn(metal1, 0, 5900, 12000, 6000) // what crosses it is one net
			c.Shapes = append(c.Shapes, long, boxOn(metal1, 6000, 2000, 6200, 12000))
			for range 4 + rnd.IntN(12) {
				x, y, w, l := 200*rnd.IntN(60), 200*rnd.IntN(60), 200*(1+rnd.IntN(6)), 100*(1+rnd.IntN(8))
				c.Shapes = append(c.Shapes, boxOn(diffusion, x-400, y, x+l+400, y+w), boxOn(poly, x, y-200, x+l, y+w+200))
				for _, s := range []layout.Shape{boxOn(contact, x+10, y-150, x+60, y-100), boxOn(contact, x-300, y+50, x-250, y+100), boxOn(contact, x+l+250, y+50, x+l+300, y+100)} {
					b := s.Polygon.Bounds()
					c.Shapes = append(c.Shapes, s, boxOn(metal1, b.Min.X-100*rnd.IntN(60), b.Min.Y, b.Max.X+100*rnd.IntN(60), b.Max.Y))
				}
			}
			return c
		}
		a, b := cell("A"), cell("B")
		top := cell("TOP")
		for _, c := range []*layout.Cell{a, a, b} {
			top.Placements = append(top.Placements, layout.Placement{Cell: c, Transform: geom.Move(geom.Point{X: 100 * rnd.IntN(100), Y: 100 * rnd.IntN(100)})})
		}
		d := drawn{"structures", &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{top, a, b}}, top, st}
		res := run(t, d, extract.Options{Facts: true, Strips: 1 + rnd.IntN(5)})
		want := structuresByPairs(res.Facts, res.Circuit)
		got := res.Facts.Structures(res.Circuit)
		if len(got) != len(want) {
			t.Fatalf("seed %d: %d structures, want %d", seed, len(got), len(want))
		}
		first := res.Facts.Together(res.Circuit)
		for i, s := range got {
			for _, k := range s.Channels {
				if int(first[k]) != s.Channels[0] {
					t.Fatalf("seed %d: channel %d is together with %d, not %d", seed, k, first[k], s.Channels[0])
				}
			}
			if !slices.Equal(s.Channels, want[i]) {
				t.Fatalf("seed %d: structure %d of channels %v, want %v", seed, i, s.Channels, want[i])
			}
			all++
			if len(s.Channels) > 1 {
				several++
			}
		}
	}
	t.Logf("%d structures, %d of several channels", all, several)
	if several < 50 {
		t.Error("too few of several channels")
	}
}

// wired draws a contact over a place and metal1 from it to a height.
func wired(x, y, to int) []layout.Shape {
	return []layout.Shape{boxOn(contact, x, y, x+100, y+100), boxOn(metal1, x-50, min(y-50, to), x+150, max(y+150, to))}
}

// fingersScene is three gates over one diffusion, joined by poly; source and drain by turns.
func fingersScene(x int) []layout.Shape {
	out := []layout.Shape{boxOn(diffusion, x, 0, x+3000, 2000), boxOn(poly, x+600, -600, x+2600, -300)}
	for i := range 3 {
		out = append(out, boxOn(poly, x+600+800*i, -300, x+800+800*i, 2200))
	}
	for i, cx := range []int{250, 1000, 1800, 2750} {
		out = append(out, wired(x+cx, 500, 2500-3500*(i%2))...)
	}
	return append(out, boxOn(metal1, x, 2400, x+3000, 2500), boxOn(metal1, x, -1000, x+3000, -900))
}

// bankScene is four squares of poly, each over one diffusion around it, joined by metal1.
func bankScene(x int) []layout.Shape {
	out := []layout.Shape{boxOn(diffusion, x, 0, x+5000, 5000)}
	for i := range 4 {
		px, py := x+1000+2000*(i%2), 1000+2000*(i/2)
		out = append(out, boxOn(poly, px, py, px+1000, py+1000), boxOn(contact, px+450, py+450, px+550, py+550))
	}
	return append(out, boxOn(metal1, x+1400, 1400, x+3600, 1600), boxOn(metal1, x+1400, 1400, x+1600, 3600), boxOn(metal1, x+3400, 1400, x+3600, 3600),
		boxOn(contact, x+200, 200, x+300, 300), boxOn(metal1, x+100, 100, x+400, 400))
}

func TestStructures(t *testing.T) {
	st := kilnStack(t)
	inverter := func(x int) []layout.Shape {
		return []layout.Shape{boxOn(diffusion, x, 0, x+900, 500), boxOn(poly, x+400, -200, x+500, 700)}
	}
	mesh := []layout.Shape{boxOn(diffusion, 0, 0, 4000, 4000)}
	for i := range 3 {
		mesh = append(mesh, boxOn(poly, 600+1200*i, -200, 800+1200*i, 4200), boxOn(poly, -200, 600+1200*i, 4200, 800+1200*i))
	}
	dummies := []layout.Shape{boxOn(poly, 0, -400, 5000, -200)}
	for i := range 4 {
		dummies = append(dummies, boxOn(diffusion, 1200*i, 0, 1200*i+900, 500), boxOn(poly, 400+1200*i, -200, 500+1200*i, 700))
		dummies = append(dummies, boxOn(contact, 1200*i+100, 100, 1200*i+200, 200), boxOn(contact, 1200*i+700, 100, 1200*i+800, 200))
	}
	dummies = append(dummies, boxOn(metal1, 0, 50, 5000, 250))
	for _, tc := range []struct {
		name   string
		shapes []layout.Shape
		want   []string // fingers, W, gate contacts, drain contacts, source contacts, from the drawing
	}{
		{"switch of three fingers", fingersScene(0), []string{"3 6000 0 2 2"}},
		{"bank of squares", bankScene(0), []string{"4 16000 4 1 0"}},
		{"a row of dummies", dummies, []string{"4 2000 0 8 0"}},
		{"two inverters' transistors side by side", append(inverter(0), inverter(1000)...), []string{"1 500 0 0 0", "1 500 0 0 0"}},
		{"two switches", append(fingersScene(0), fingersScene(3500)...), []string{"3 6000 0 2 2", "3 6000 0 2 2"}},
	} {
		res := run(t, oneCell(st, tc.shapes...), extract.Options{Facts: true})
		var got []string
		for _, s := range res.Facts.Structures(res.Circuit) {
			got = append(got, fmt.Sprint(s.Fingers, s.W, s.GateContacts, s.DrainContacts, s.SourceContacts))
			if len(s.Devices) != s.Fingers || (s.Drain == s.Source) != (s.SourceContacts == 0 && s.DrainContacts > 0) {
				t.Errorf("%s: %+v", tc.name, s)
			}
		}
		if !slices.Equal(got, tc.want) {
			t.Errorf("%s: %q, want %q", tc.name, got, tc.want)
		}
	}
	res := run(t, oneCell(st, mesh...), extract.Options{Facts: true})
	if s := res.Facts.Structures(res.Circuit); len(s) != 1 || s[0].Fingers != 1 || len(s[0].Devices) != 16*15/2 { // each pair of its 16 openings
		t.Errorf("mesh: %d structures %+v", len(s), s)
	}
}
