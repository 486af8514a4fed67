package recognise

import (
	"fmt"
	"math/rand"
	"slices"
	"testing"

	"undermetal/recognise/library"
	"undermetal/recognise/parts"
)

// plainPartial returns what a search for partial fits finds that begins at each part of the circuit and gives up nowhere.
func plainPartial(t *testing.T, o *odds, p *library.Pattern, missing int) []candidate {
	t.Helper()
	plans, err := plansOf(p)
	if err != nil {
		t.Fatal(err)
	}
	b := newHeap(o)
	for _, whole := range plans {
		for _, pl := range whole.edits(missing) {
			for i := range pl.parts {
				if pl.parts[i].optional {
					continue
				}
				steps, _, ok := pl.from(i)
				if !ok {
					t.Fatalf("%s falls into pieces", p.Name)
				}
				s := o.ix.newSearch(pl, make([]bool, len(o.ix.g.Parts)), b.take)
				s.steps = steps
				for q := range o.ix.g.Parts {
					s.tried = 0
					s.try(0, int32(q))
				}
			}
		}
	}
	return b.all
}

func told(cs []candidate) []string {
	var all []string
	for i := range cs {
		c := &cs[i]
		all = append(all, fmt.Sprintf("%s %v %v %v, extra %v, edit %d %v %d %d", c.pattern.Name, c.mirror, c.parts, c.nets, c.extra, c.plan.edit.kind, c.plan.edit.parts,
			c.plan.edit.part, c.plan.edit.terminal))
	}
	slices.Sort(all)
	return all
}

// What a search of partial fits leaves out, since it could not be worthwhile, is not: the plain search has the same result. The circuits are
// mixtures of all there is, with some devices taken away and some terminals cut off.
func TestLimitLosesNothing(t *testing.T) {
	total := 0
	for seed := range int64(6) {
		rnd := rand.New(rand.NewSource(seed))
		c := grow(100+70*int(seed), seed)
		for range 10 {
			k := rnd.Intn(len(c.Devices))
			c.Devices = slices.Delete(c.Devices, k, k+1)
		}
		for i := range c.Devices {
			c.Devices[i].Name = fmt.Sprint("M", i)
		}
		for range 10 {
			cut(c, fmt.Sprint("M", rnd.Intn(len(c.Devices))), rnd.Intn(2))
		}
		f := &finder{opt: Options{Patterns: library.Embedded(), Workers: 1}, ix: newIndex(parts.New(c, parts.Known{}))}
		all, err := f.fullFits(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		o := newOdds(f.ix, all, cover(all, len(f.ix.g.Parts)), float64([]int{costSeen, costUnseen}[seed%2]))
		h := &hunt{o: o, near: f.ix.only(f.nearUnexplained(o.by)), free: f.ix.only(unexplained(o.by))}
		for _, p := range library.Embedded() {
			missing := 1 + int(seed)/5
			if missing > 1 && len(p.Circuit.Devices) > 5 {
				continue
			}
			plans, err := plansOf(p)
			if err != nil {
				t.Fatal(err)
			}
			b := newHeap(o)
			for _, whole := range plans {
				for _, pl := range whole.edited(missing) {
					if err := h.run(t.Context(), pl, f.borrow(), b.take); err != nil {
						t.Fatal(err)
					}
				}
			}
			want, got := told(plainPartial(t, o, p, missing)), told(b.all)
			if !slices.Equal(got, want) {
				t.Errorf("seed %d, %s: %v, plainly %v", seed, p.Name, got, want)
			}
			total += len(want)
		}
	}
	t.Logf("%d partial fits", total)
	if total < 40 {
		t.Errorf("only %d partial fits were compared", total)
	}
}
