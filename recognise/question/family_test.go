package question

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
)

// TestOutOfFamilyOnce: a finger too wide, in a cell that is placed five times and beside another one of the same gate: one question, and
// four more placements are no others that were drawn so. Drawn three times, they are; drawn eight times, they are a family of their own.
func TestOutOfFamilyOnce(t *testing.T) {
	for n, repeat := range map[int]string{1: "once", 3: "many", 8: ""} {
		b := newBoard(t)
		for i := range 29 {
			b.mos("ndiff", 0, 30000*i, 6000, 1000, fmt.Sprint("D", i), fmt.Sprint("G", i), fmt.Sprint("S", i))
		}
		for k := range n {
			cell := b.cell(fmt.Sprint("ODD", k))
			b.box("ndiff", 0, 0, 20000, 6480)
			b.box("poly", 5000, -2000, 6000, 8000)
			b.box("poly", 13000, -2000, 14000, 8000)
			b.box("poly", 5000, 8000, 14000, 11000)
			b.plug(9500, 9500, "G")
			b.plug(2500, 3000, "S")
			b.plug(17500, 3000, "")
			b.box("metal1", 1500, -5000, 3500, 3000)
			b.box("metal1", 16500, -5000, 18500, 3000)
			b.box("metal1", 1500, -6000, 18500, -4000)
			b.plug(9500, 3000, "D")
			b.on = b.lib.Cells[0]
			for i := range max(5/n, 1) {
				b.place(cell, 60000+50000*k, 50000*i)
			}
		}
		qs := b.ask(OutOfFamily, Options{All: true})
		if repeat == "" {
			if len(qs) > 0 {
				t.Errorf("drawn %d times: %s", n, describe(&qs[0]))
			}
			continue
		}
		if len(qs) != n {
			t.Errorf("drawn %d times: %d questions", n, len(qs))
		}
		for i := range qs {
			if q := &qs[i]; q.Count != 5/n || len(q.Devices) != 2*q.Count || sawOf(q, "repeat") != repeat {
				t.Errorf("drawn %d times: %s", n, describe(q))
			}
		}
	}
}

// TestBySize: counting puts devices where a stable sort does.
func TestBySize(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	for range 200 {
		devices, sizes := make([]int, rnd.IntN(60)), make([]float64, 1000)
		for i := range sizes {
			sizes[i] = float64(1+rnd.IntN(7)) * 130.5
		}
		for k := range devices {
			devices[k] = rnd.IntN(len(sizes))
		}
		size := func(i int) float64 { return sizes[i] }
		want := slices.Clone(devices)
		slices.SortStableFunc(want, func(a, b int) int { return cmp.Compare(size(a), size(b)) })
		if got := bySize(devices, size); !slices.Equal(got, want) {
			t.Fatalf("%v: %v, want %v", devices, got, want)
		}
	}
}
