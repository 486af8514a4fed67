package extract_test

import (
	"math/rand/v2"
	"testing"

	"undermetal/layout/geom"
	"undermetal/netlist/extract"
)

// TestSceneStrips: for any number of strips and workers and any order, to the last digit. Two numbers of strips of each
// drawing are such that edges of shapes lie on the strips' borders.
func TestSceneStrips(t *testing.T) {
	stacks := sceneStacks(t)
	runs := 0
	for seed := range sceneRounds(60, 1500) {
		rnd := rand.New(rand.NewPCG(uint64(seed), 101))
		d := scene(rnd, stacks[seed/2%2], seed%2 == 0)
		labelScene(rnd, d)
		want := run(t, d, extract.Options{Workers: 1, Strips: 1, Facts: true})
		for _, strips := range []int{2 << rnd.IntN(5), 2 << rnd.IntN(5), 1 + rnd.IntN(61), 1 + rnd.IntN(61)} {
			rnd.Shuffle(len(d.top.Shapes), func(i, j int) { d.top.Shapes[i], d.top.Shapes[j] = d.top.Shapes[j], d.top.Shapes[i] })
			got := run(t, d, extract.Options{Workers: 1 + rnd.IntN(8), Strips: strips, Facts: true})
			if diff := difference(want, got); diff != "" {
				showDifference(t, want, got)
				t.Errorf("seed %d, %d strips: %s", seed, strips, diff)
				break
			}
			runs++
		}
	}
	t.Logf("%d runs", runs)
}

// TestSceneTranslated: moved, everything is the same but for the place.
func TestSceneTranslated(t *testing.T) {
	stacks := sceneStacks(t)
	for seed := range sceneRounds(60, 1500) {
		rnd := rand.New(rand.NewPCG(uint64(seed), 102))
		d := scene(rnd, stacks[seed/2%2], seed%2 == 0)
		labelScene(rnd, d)
		want := run(t, d, extract.Options{})
		by := geom.Point{X: rnd.IntN(1<<29) - 1<<28, Y: rnd.IntN(1<<29) - 1<<28}
		got := run(t, movedScene(d, geom.Move(by)), extract.Options{Strips: 1 + rnd.IntN(9)})
		for i := range got.Circuit.Devices {
			got.Circuit.Devices[i].At = got.Circuit.Devices[i].At.Sub(by)
		}
		for i := range got.Pads {
			p := &got.Pads[i]
			p.At, p.Box = p.At.Sub(by), geom.Rect{Min: p.Box.Min.Sub(by), Max: p.Box.Max.Sub(by)}
		}
		for i := range got.Circuit.Nets {
			if n := &got.Circuit.Nets[i]; n.Layer != "substrate" && n.Layer != "" {
				n.At = n.At.Sub(by)
			}
		}
		for i := range got.Warnings {
			if w := &got.Warnings[i]; w.Layer != "" && w.Layer != "substrate" {
				w.X, w.Y = w.X-by.X, w.Y-by.Y
			}
		}
		if diff := difference(want, got); diff != "" {
			showDifference(t, want, got)
			t.Errorf("seed %d, moved by %v: %s", seed, by, diff)
		}
	}
}
