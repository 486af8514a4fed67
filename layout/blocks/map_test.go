package blocks

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/region"
)

func box(x0, y0, x1, y1 int) geom.Polygon { return geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()} }

// TestMap: a die of 100 × 100 with blocks whose areas are counted by hand.
func TestMap(t *testing.T) {
	two := append(box(0, 0, 20, 10), box(30, 0, 40, 10)...) // 200 + 100
	hole := geom.Polygon{geom.Box(50, 50, 90, 90).Ring(), slices.Clone(geom.Box(60, 60, 70, 70).Ring())}
	slices.Reverse(hole[1])
	m := New([]dossier.Block{
		{Name: "pump", Polygon: two, Document: "D", Figure: "fig. 10", Sign: "2"},
		{Name: "pads", Polygon: box(95, 0, 105, 10)}, // half outside
		{Name: "pixels", Polygon: hole, Document: "D", Figure: "fig. 2", Sign: "10"},
		{Name: "decoder", Document: "D", Figure: "fig. 2", Sign: "9"},
		{Name: "over", Polygon: box(10, 5, 35, 20), Document: "C"}, // 375; over pump 10 × 5 + 5 × 5
	}, Die{Region: []geom.Polygon{box(0, 0, 100, 100)}, From: Stated}, nil)
	var names []string
	for _, b := range m.Blocks {
		names = append(names, b.Name)
	}
	if want := []string{"over", "decoder", "pixels", "pump", "pads"}; !slices.Equal(names, want) {
		t.Errorf("in the order %v, want %v", names, want)
	}
	for _, want := range []struct {
		name                 string
		area, outside, share float64
		pieces               int
	}{{"pump", 300, 0, 0.03, 2}, {"pads", 100, 50, 0.005, 1}, {"pixels", 1500, 0, 0.15, 1}, {"decoder", 0, 0, 0, 0}, {"over", 375, 0, 0.0375, 1}} {
		b := m.Blocks[slices.Index(names, want.name)]
		if b.AreaNm2 != want.area || b.OutsideNm2 != want.outside || math.Abs(b.Share-want.share) > 1e-12 || len(b.Pieces) != want.pieces {
			t.Errorf("%s: %+v, want %+v", want.name, b, want)
		}
	}
	if !slices.Equal(m.NoRegion, []string{"decoder"}) || !slices.Equal(m.NoDiagram, []string{"pads"}) {
		t.Error(m.NoRegion, m.NoDiagram)
	}
	if !reflect.DeepEqual(m.Overlaps, []Overlap{{"over", "pump", 75}}) {
		t.Error(m.Overlaps)
	}
	if want := 10000.0 - 300 - 50 - 1500 - 375 + 75; m.UncoveredNm2 != want || m.DieNm2 != 10000 {
		t.Errorf("uncovered %g of %g, want %g", m.UncoveredNm2, m.DieNm2, want)
	}
	if m := New([]dossier.Block{{Name: "a", Polygon: box(0, 0, 5, 5)}}, Die{}, nil); m.Blocks[0].Share != 0 || m.Blocks[0].OutsideNm2 != 0 || m.UncoveredNm2 != 0 || m.Blocks[0].AreaNm2 != 25 {
		t.Errorf("without a die: %+v", m)
	}
}

// TestSupport: what lies in a block by more than half of its box supports it, whatever is around it; the rest is told apart.
func TestSupport(t *testing.T) {
	ring := geom.Polygon{geom.Box(0, 0, 100, 100).Ring(), geom.Box(40, 40, 60, 60).Ring()}
	slices.Reverse(ring[1])
	m := New([]dossier.Block{{Name: "ring", Polygon: ring}, {Name: "core", Polygon: box(40, 40, 60, 60)}, {Name: "all", Polygon: box(0, 0, 100, 100)}}, Die{}, []Suggestion{
		{"pixel", geom.Box(0, 0, 10, 10)}, {"pixel", geom.Box(20, 0, 30, 10)}, {"pixel", geom.Box(95, 0, 105, 10)}, // half in is not in
		{"pump", geom.Box(41, 41, 59, 59)}, {"pump", geom.Box(30, 40, 51, 60)}, {"dot", geom.Box(50, 50, 50, 50)}, {"dot", geom.Box(500, 500, 500, 500)}, {"line", geom.Box(10, 0, 10, 5)},
	})
	got := map[string][]Support{"": m.Elsewhere}
	for _, b := range m.Blocks {
		got[b.Name] = b.Support
	}
	want := map[string][]Support{
		"":     {{"dot", 1, geom.Box(500, 500, 500, 500)}, {"pixel", 1, geom.Box(95, 0, 105, 10)}},
		"all":  {{"pixel", 2, geom.Box(0, 0, 30, 10)}, {"pump", 2, geom.Box(30, 40, 59, 60)}, {"dot", 1, geom.Box(50, 50, 50, 50)}, {"line", 1, geom.Box(10, 0, 10, 5)}},
		"core": {{"pump", 2, geom.Box(30, 40, 59, 60)}, {"dot", 1, geom.Box(50, 50, 50, 50)}},
		"ring": {{"pixel", 2, geom.Box(0, 0, 30, 10)}, {"line", 1, geom.Box(10, 0, 10, 5)}},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%+v\nwant %+v", got, want)
	}
}

// TestMapByCounting: areas, shares, overlaps and what is left are those that counting squares of a grid gives.
func TestMapByCounting(t *testing.T) {
	for seed := range uint64(200) {
		r := rand.New(rand.NewPCG(seed, 12))
		const n = 16
		some := func() (pg geom.Polygon) {
			for range 1 + r.IntN(3) {
				x, y := r.IntN(n-1), r.IntN(n-1)
				pg = append(pg, geom.Box(x, y, x+1+r.IntN(n-x-1), y+1+r.IntN(n-y-1)).Ring())
			}
			return pg
		}
		all := []dossier.Block{{Name: "a", Polygon: some()}, {Name: "b", Polygon: some()}, {Name: "c", Polygon: some()}}
		drawn := some()
		die, err := Region(drawn)
		if err != nil {
			t.Fatal(err)
		}
		m := New(all, Die{Region: region.Clean(die), From: Stated}, nil)
		in := func(pg geom.Polygon, x, y int) bool { // by the winding of boxes that all turn the same way
			return slices.ContainsFunc(pg, func(r geom.Ring) bool {
				b := r.Bounds()
				return x >= b.Min.X && x < b.Max.X && y >= b.Min.Y && y < b.Max.Y
			})
		}
		var area, outside [3]float64
		size, left := 0.0, 0.0
		overlaps := map[[2]string]float64{}
		for x := range n {
			for y := range n {
				onDie, named := in(drawn, x, y), false
				for i := range all {
					if !in(all[i].Polygon, x, y) {
						continue
					}
					area[i]++
					named = true
					if !onDie {
						outside[i]++
					}
					for j := range i {
						if in(all[j].Polygon, x, y) {
							overlaps[[2]string{all[j].Name, all[i].Name}]++
						}
					}
				}
				if onDie {
					size++
					if !named {
						left++
					}
				}
			}
		}
		if m.DieNm2 != size || m.UncoveredNm2 != left {
			t.Errorf("seed %d: %g of %g have no name, counted %g of %g", seed, m.UncoveredNm2, m.DieNm2, left, size)
		}
		for i, b := range m.Blocks {
			if b.AreaNm2 != area[i] || b.OutsideNm2 != outside[i] || math.Abs(b.Share-(area[i]-outside[i])/size) > 1e-12 {
				t.Errorf("seed %d: %+v, counted %g, %g outside", seed, b, area[i], outside[i])
			}
		}
		for _, o := range m.Overlaps {
			if overlaps[[2]string{o.A, o.B}] != o.AreaNm2 {
				t.Errorf("seed %d: %+v, counted %v", seed, o, overlaps)
			}
			delete(overlaps, [2]string{o.A, o.B})
		}
		if len(overlaps) > 0 {
			t.Errorf("seed %d: not told: %v", seed, overlaps)
		}
	}
}

// TestNatural: runs of digits are numbers.
func TestNatural(t *testing.T) {
	sorted := []string{"", "fig. 1", "fig. 1a", "fig. 2", "fig. 02", "fig. 10", "fig. 10b", "fig. 100", "fig. a"}
	for i := range sorted {
		for j := range sorted {
			if got := compareNatural(sorted[i], sorted[j]); (got < 0) != (i < j) || (got == 0) != (i == j) {
				t.Errorf("%q and %q: %d", sorted[i], sorted[j], got)
			}
		}
	}
}
