package extract_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist/extract"
)

// factRegion is a region as the raster sees it.
type factRegion struct {
	area, perimeter, tap, diode, contactArea float64
	contacts, channels                       int
	squares                                  []spot
	layer                                    int
}

// regionsSeen measures the regions of the raster square by square; shapes are those that were drawn.
func (o *oracle) regionsSeen(shapes []layout.Shape) map[netKey]*factRegion {
	out := map[netKey]*factRegion{}
	p := float64(o.pitch)
	for _, l := range []int{diffusion, poly, nwell} {
		for i, squares := range o.conductors[l].squares {
			r := &factRegion{squares: squares, layer: l}
			if l == diffusion {
				r.area, r.perimeter = o.measure(i)
			}
			for _, s := range squares {
				if l != diffusion {
					r.area += p * p
					for _, d := range directions {
						if !o.on(spot{s.x + d.x, s.y + d.y}, l) {
							r.perimeter += p
						}
					}
					continue
				}
				if o.wellTap(s) || o.substrateTap(s) {
					r.tap += p * p
				}
				if o.diode(s) {
					r.diode += p * p
				}
			}
			out[netKey{l, i}] = r
		}
	}
	shapesOf := make([]int, len(o.conductors[contact].squares))
	for _, s := range shapes {
		if s.Layer != contact {
			continue
		}
		on := map[int]bool{}
		for spot := range rasterOf([]layout.Shape{s}, o.pitch).mask {
			on[o.conductors[contact].of[spot]] = true
		}
		for plug := range on {
			shapesOf[plug]++
		}
	}
	for i, squares := range o.conductors[contact].squares {
		area := map[netKey]float64{}
		byLayer := map[int]float64{}
		for _, s := range squares {
			for _, l := range []int{poly, diffusion} {
				if k, ok := o.at(l, s); ok {
					area[k] += p * p
					byLayer[l] += p * p
					break
				}
			}
		}
		whole := p * p * float64(len(squares))
		for k, a := range area {
			other := byLayer[poly] + byLayer[diffusion] - byLayer[k.layer]
			if byLayer[k.layer] >= other || 4*byLayer[k.layer] >= whole {
				out[k].contacts += shapesOf[i]
				out[k].contactArea += a
			}
		}
	}
	return out
}

// factsAgainst compares Facts with what the raster sees.
func (o *oracle) factsAgainst(f *extract.Facts, shapes []layout.Shape) error {
	want := o.regionsSeen(shapes)
	byPlace := map[string]extract.RegionID{}
	key := func(l int, at geom.Point) string { return fmt.Sprint(l, at) }
	for i, r := range f.Regions {
		byPlace[key(int(r.Layer), r.At)] = extract.RegionID(i)
	}
	if len(want) != len(f.Regions) || len(byPlace) != len(f.Regions) {
		return fmt.Errorf("%d regions, the raster says %d", len(f.Regions), len(want))
	}
	ids, nets := map[netKey]extract.RegionID{}, map[int]netKey{}
	number := map[netKey]int{}
	for k, w := range want {
		id, ok := byPlace[key(w.layer, o.corner(w.squares))]
		if !ok {
			return fmt.Errorf("no region of layer %d at %v", w.layer, o.corner(w.squares))
		}
		ids[k] = id
		r := f.Regions[id]
		root := o.find(k)
		if was, ok := nets[r.NetID]; ok && was != root {
			return fmt.Errorf("two nets with number %d", r.NetID)
		}
		if was, ok := number[root]; ok && was != r.NetID {
			return fmt.Errorf("one net with two numbers, %d and %d", was, r.NetID)
		}
		nets[r.NetID], number[root] = root, r.NetID
	}
	channels := o.fill(o.crossing)
	if len(channels.squares) != len(f.Channels) {
		return fmt.Errorf("%d channels, the raster says %d", len(f.Channels), len(channels.squares))
	}
	for _, squares := range channels.squares {
		gate, _ := o.at(poly, squares[0])
		want[gate].channels++
		for _, j := range o.bordering(squares) {
			want[netKey{diffusion, j}].channels++
		}
		if err := o.channelAgainst(f, squares, ids); err != nil {
			return err
		}
	}
	for k, w := range want {
		r := f.Regions[ids[k]]
		if !near(r.Area, w.area) || !near(r.Perimeter, w.perimeter) || !near(r.TapArea, w.tap) || !near(r.DiodeArea, w.diode) || !near(r.ContactArea, w.contactArea) ||
			r.Contacts != w.contacts || r.Channels != w.channels {
			return fmt.Errorf("region %+v, the raster says %+v", r, *w)
		}
		if b := o.box(w.squares); b != r.Box {
			return fmt.Errorf("region %+v: the raster's box is %v", r, b)
		}
		if !slices.Contains(w.squares, spot{r.Within.X / o.pitch, r.Within.Y / o.pitch}) {
			return fmt.Errorf("region %+v: %v is not within", r, r.Within)
		}
		if k.layer == diffusion && r.Well != o.mostlyIn(w.squares, ids) {
			return fmt.Errorf("region %+v: the raster's well is %d", r, o.mostlyIn(w.squares, ids))
		}
	}
	return nil
}

func (o *oracle) bordering(squares []spot) []int {
	var out []int
	for _, e := range o.channelEdges(squares) {
		if !slices.Contains(out, e.junction) {
			out = append(out, e.junction)
		}
	}
	return out
}

func (o *oracle) box(squares []spot) geom.Rect {
	b := geom.EmptyRect()
	for _, s := range squares {
		b = b.Union(geom.Box(s.x*o.pitch, s.y*o.pitch, (s.x+1)*o.pitch, (s.y+1)*o.pitch))
	}
	return b
}

func (o *oracle) mostlyIn(squares []spot, ids map[netKey]extract.RegionID) extract.RegionID {
	in := map[netKey]int{}
	for _, s := range squares {
		if k, ok := o.at(nwell, s); ok {
			in[k]++
		}
	}
	for k, n := range in {
		if 2*n > len(squares) {
			return ids[k]
		}
	}
	return extract.NoRegion
}

func (o *oracle) channelAgainst(f *extract.Facts, squares []spot, ids map[netKey]extract.RegionID) error {
	p := float64(o.pitch)
	k := slices.IndexFunc(f.Channels, func(c extract.Channel) bool {
		return slices.Contains(squares, spot{c.At.X / o.pitch, c.At.Y / o.pitch})
	})
	if k < 0 {
		return fmt.Errorf("no channel at %v", o.corner(squares))
	}
	c := f.Channels[k]
	perimeter := 0.0
	for _, s := range squares {
		for _, d := range directions {
			if !o.crossing(spot{s.x + d.x, s.y + d.y}) {
				perimeter += p
			}
		}
	}
	gate, _ := o.at(poly, squares[0])
	if !near(c.Area, p*p*float64(len(squares))) || !near(c.Perimeter, perimeter) || c.Gate != ids[gate] || c.Box != o.box(squares) || c.Well != o.mostlyIn(squares, ids) ||
		c.Layer != poly || c.Diffusion != diffusion {
		return fmt.Errorf("channel %+v at %v of %d squares, perimeter %g, gate %d, well %d", c, o.corner(squares), len(squares), perimeter, ids[gate], o.mostlyIn(squares, ids))
	}
	edges := o.channelEdges(squares)
	own := o.bordering(squares)
	if len(own) != len(c.Edges) || (c.Device < 0) != (len(own) == 0) {
		return fmt.Errorf("channel %+v borders on %d junctions", c, len(own))
	}
	for _, j := range own {
		var of []unitEdge
		for _, e := range edges {
			if e.junction == j {
				of = append(of, e)
			}
		}
		if !slices.ContainsFunc(c.Edges, func(e extract.Edge) bool {
			return e.Region == ids[netKey{diffusion, j}] && near(e.Length, p*float64(len(of))) && e.Stretches == stretches(of)
		}) {
			return fmt.Errorf("channel %+v: border of %d squares in %d stretches with junction %d", c, len(of), stretches(of), ids[netKey{diffusion, j}])
		}
	}
	if want := o.facing(squares, edges); c.Straight != want {
		return fmt.Errorf("channel %+v: straight is %v", c, want)
	}
	return nil
}

// facing reports whether the squares fill a rectangle and the edges are two whole sides of it that face each other.
func (o *oracle) facing(squares []spot, edges []unitEdge) bool {
	b := o.box(squares)
	w, h := b.Width()/o.pitch, b.Height()/o.pitch
	if w*h != len(squares) {
		return false
	}
	at := map[string]int{}
	for _, e := range edges {
		if e.a.x == e.b.x {
			at[fmt.Sprint("x", e.a.x)]++
		} else {
			at[fmt.Sprint("y", e.a.y)]++
		}
	}
	x0, x1, y0, y1 := b.Min.X/o.pitch, b.Max.X/o.pitch, b.Min.Y/o.pitch, b.Max.Y/o.pitch
	upright := at[fmt.Sprint("x", x0)] == h && at[fmt.Sprint("x", x1)] == h
	flat := at[fmt.Sprint("y", y0)] == w && at[fmt.Sprint("y", y1)] == w
	return len(at) == 2 && (upright || flat)
}

// TestFactsAgainstRaster holds Facts of random drawings along grid lines against the raster.
func TestFactsAgainstRaster(t *testing.T) {
	st := kilnStack(t)
	regions, channels, straight, contacts := 0, 0, 0, 0
	for seed := range sceneRounds(250, 6000) {
		rnd := rand.New(rand.NewPCG(uint64(seed), 92))
		pitch := []int{20, 100, 350}[rnd.IntN(3)]
		shapes := rasterScene(rnd, pitch)
		o := newOracle(rasterOf(shapes, pitch), nil)
		if o.unclear {
			continue
		}
		c := &layout.Cell{Name: "RASTER", Shapes: shapes}
		d := drawn{"raster", &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{c}}, c, st}
		f := run(t, d, extract.Options{Strips: 1 + rnd.IntN(9), Facts: true}).Facts
		if err := o.factsAgainst(f, shapes); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		regions += len(f.Regions)
		for _, r := range f.Regions {
			contacts += r.Contacts
		}
		for _, c := range f.Channels {
			channels++
			if c.Straight {
				straight++
			}
		}
	}
	t.Logf("%d regions, %d channels, %d of them straight, %d contacts", regions, channels, straight, contacts)
	if regions < 1000 || channels < 500 || straight < 50 || straight > channels-50 || contacts < 100 {
		t.Error("too little was compared")
	}
}
