package extract_test

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist/extract"
)

// randomVerdicts answers questions about places within what the drawing has, some of them beside it, and some that are
// no answers.
func randomVerdicts(rnd *rand.Rand, f *extract.Facts) []layout.Verdict {
	var out []layout.Verdict
	add := func(l layout.Layer, at geom.Point, kind string, readings ...string) {
		if rnd.IntN(4) == 0 {
			at = at.Add(geom.Point{X: rnd.IntN(400) - 200, Y: rnd.IntN(400) - 200})
		}
		out = append(out, layout.Verdict{Layer: l, At: at, Kind: kind, Reading: readings[rnd.IntN(len(readings))]})
	}
	for _, c := range f.Channels {
		switch rnd.IntN(4) {
		case 0:
			add(c.Layer, c.At, tox, "capacitor", "transistor", "dummy", "plate")
		case 1:
			add(c.Layer, c.At, "polarity", "n", "p")
		case 2:
			add(c.Layer, c.At, "bulk", "N0", "N1", "N2")
		}
	}
	for _, r := range f.Regions {
		switch rnd.IntN(4) {
		case 0:
			add(diffusion, r.Within, "photodiode", "photodiode", "diode", "junction")
		case 1:
			add(layout.Layer([]int{poly, diffusion, metal1, metal2}[rnd.IntN(4)]), r.Within, "near-miss", "joined", "apart")
		case 2:
			add(layout.Layer([]int{contact, via1, poly}[rnd.IntN(3)]), r.Within, "contact", "lands on poly", "lands on diffusion", "lands on nothing")
		case 3:
			add(r.Layer, r.Within, "bulk", "N0", "N1")
		}
	}
	return out
}

// TestSceneVerdicts: random drawings along grid lines with random verdicts are the same for any number of strips and workers and any order of
// shapes and verdicts; every device that a verdict decides is there, and every verdict is told of.
func TestSceneVerdicts(t *testing.T) {
	st := kilnStack(t)
	decided, lostOnes := 0, 0
	for seed := range sceneRounds(80, 2000) {
		rnd := rand.New(rand.NewPCG(uint64(seed), 96))
		d := oneCell(st, append(rasterScene(rnd, scenePitch), boxOn(metal2, 1, 9000, 21, 9020), boxOn(metal2, sceneSide-21, 9000, sceneSide-1, 9020))...)
		labelScene(rnd, d)
		d.top.Verdicts = randomVerdicts(rnd, run(t, d, extract.Options{Facts: true}).Facts)
		want := run(t, d, extract.Options{Workers: 1, Strips: 1, Facts: true})
		if len(want.Verdicts) != len(d.top.Verdicts) || len(want.Questions) != len(want.Circuit.Devices) {
			t.Fatalf("seed %d: %d verdicts of %d, %d questions of %d", seed, len(want.Verdicts), len(d.top.Verdicts), len(want.Questions), len(want.Circuit.Devices))
		}
		for _, v := range want.Verdicts {
			decided += len(v.Devices)
			if v.Lost {
				lostOnes++
			}
			if v.Lost && (len(v.Devices) > 0 || !slices.Contains(codes(want), lost)) || v.Unused && !slices.Contains(codes(want), notUsed) {
				t.Errorf("seed %d: %+v, %v", seed, v, codes(want))
			}
			for _, k := range v.Devices {
				if k < 0 || k >= len(want.Circuit.Devices) {
					t.Fatalf("seed %d: %+v", seed, v)
				}
			}
		}
		for _, strips := range []int{2 << rnd.IntN(5), 1 + rnd.IntN(61), 1 + rnd.IntN(61)} {
			rnd.Shuffle(len(d.top.Shapes), func(i, j int) { d.top.Shapes[i], d.top.Shapes[j] = d.top.Shapes[j], d.top.Shapes[i] })
			rnd.Shuffle(len(d.top.Verdicts), func(i, j int) { d.top.Verdicts[i], d.top.Verdicts[j] = d.top.Verdicts[j], d.top.Verdicts[i] })
			got := run(t, d, extract.Options{Workers: 1 + rnd.IntN(8), Strips: strips, Facts: true})
			if diff := difference(want, got); diff != "" {
				showDifference(t, want, got)
				t.Fatalf("seed %d, %d strips: %s", seed, strips, diff)
			}
			if !reflect.DeepEqual(want.Verdicts, got.Verdicts) {
				t.Fatalf("seed %d, %d strips: %+v, want %+v", seed, strips, got.Verdicts, want.Verdicts)
			}
		}
	}
	t.Logf("%d devices decided, %d verdicts lost", decided, lostOnes)
	if decided < 100 || lostOnes < 50 {
		t.Error("too little was decided")
	}
}
