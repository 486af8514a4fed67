package svg

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"undermetal/layout/geom"
)

// slowlyTogether groups by comparing each two boxes until nothing changes.
func slowlyTogether(rings []geom.Ring) (groups [][]geom.Ring) {
	group := make([]int, len(rings))
	for i := range group {
		group[i] = i
	}
	for changed := true; changed; {
		changed = false
		for i := range rings {
			for k := range i {
				if low := min(group[i], group[k]); group[i] != group[k] && rings[i].Bounds().Overlaps(rings[k].Bounds()) {
					group[i], group[k], changed = low, low, true
				}
			}
		}
	}
	for i := range rings {
		var g []geom.Ring
		for k := range rings {
			if group[k] == i {
				g = append(g, rings[k])
			}
		}
		if g != nil {
			groups = append(groups, g)
		}
	}
	return groups
}

// Random boxes, few and large to many and small, on a coarse grid so that sides coincide.
func TestTogether(t *testing.T) {
	for seed := range uint64(3000) {
		rnd := rand.New(rand.NewPCG(seed, 3))
		field, size := 2+rnd.IntN(60), 1+rnd.IntN(12)
		var rings []geom.Ring
		for range rnd.IntN(40) {
			x, y := rnd.IntN(field), rnd.IntN(field)
			w, h := 1+rnd.IntN(size), 1+rnd.IntN(size)
			switch rnd.IntN(6) {
			case 0:
				w *= 20
			case 1:
				h *= 20
			}
			rings = append(rings, geom.Box(x, y, x+w, y+h).Ring())
		}
		got, want := fmt.Sprint(together(rings)), fmt.Sprint(slowlyTogether(rings))
		if len(rings) > 1 && got != want {
			t.Fatalf("seed %d: %d rings:\ngot  %s\nwant %s", seed, len(rings), got, want)
		}
	}
}

// bars are as wide as all, one above the other; nested are rings in rings.
func bars(n int, nested bool) (rings []geom.Ring) {
	for i := range n {
		if nested {
			rings = append(rings, geom.Box(i, i, 2*n-i, 2*n-i).Ring())
		} else {
			rings = append(rings, geom.Box(0, 10*i, 1000000, 10*i+5).Ring())
		}
	}
	return rings
}

// BenchmarkTogether: four times the rings take some four times as long, not sixteen.
func BenchmarkTogether(b *testing.B) {
	for _, nested := range []bool{false, true} {
		for _, n := range []int{10_000, 40_000} {
			rings := bars(n, nested)
			want := map[bool]int{false: n, true: 1}[nested]
			b.Run(fmt.Sprintf("%d nested %v", n, nested), func(b *testing.B) {
				for b.Loop() {
					if got := len(together(rings)); got != want {
						b.Fatalf("%d groups, want %d", got, want)
					}
				}
			})
		}
	}
}

// Drawing ends with its context, and with nothing else than the context's error.
func TestDrawingEnds(t *testing.T) {
	d := mustParse(t, `<svg data-um-per-unit="1">`+strings.Repeat(`<rect data-layer="m" width="2" height="2"/>`, 1000)+`</svg>`)
	var ended error
	ask := func() error { return ended }
	if _, _, err := d.Library(Options{Ended: ask}); err != nil {
		t.Fatal(err)
	}
	ended = errors.New("ended")
	if lib, _, err := d.Library(Options{Ended: ask}); err != ended || lib != nil {
		t.Errorf("%v, %v", lib, err)
	}
}
