package extract_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime/metrics"
	"sync"
	"testing"
	"time"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
)

// BenchmarkExtract reads the published SRAM macro and extracts it: alone, tiled, and turned by 30°. peak-MB is the most
// that the program had in memory at a time, as sampled.
func BenchmarkExtract(b *testing.B) {
	root := os.Getenv("UNDERMETAL_CORPUS")
	if root == "" {
		b.Skip("UNDERMETAL_CORPUS is not set: the published SRAM macro is not here")
	}
	st, err := stack.Load(filepath.Join(root, "ihp-sg13g2/ihp-sg13g2.stack.toml"))
	if err != nil {
		b.Fatal(err)
	}
	file := filepath.Join(root, "ihp-sg13g2/RM_IHPSG13_1P_256x8_c3_bm_bist.gds")
	for _, c := range []struct{ copies, degrees, workers int }{{1, 0, 1}, {1, 0, 2}, {4, 0, 2}, {16, 0, 2}, {26, 0, 2}, {1, 30, 2}} {
		b.Run(fmt.Sprintf("copies=%d/turned=%d/workers=%d", c.copies, c.degrees, c.workers), func(b *testing.B) {
			var peak uint64
			shapes := 0
			for b.Loop() {
				stop := watchMemory(&peak)
				lib := readGDS(b, file, st)
				macro := lib.Tops()[0]
				top := tiled(b, macro, c.copies, c.degrees)
				res, err := extract.Run(context.Background(), lib, top, st, extract.Options{Workers: c.workers})
				stop()
				if err != nil {
					b.Fatal(err)
				}
				if n := len(res.Circuit.Devices); n != 18283*c.copies { // the published netlist's count
					b.Fatalf("%d devices", n)
				}
				if shapes == 0 {
					shapes = countShapes(b, top)
				}
			}
			b.ReportMetric(float64(shapes)*float64(b.N)/b.Elapsed().Seconds(), "shapes/s")
			b.ReportMetric(float64(peak)/1e6, "peak-MB")
		})
	}
}

// tiled places copies of a cell in rows of five.
func tiled(t testing.TB, c *layout.Cell, copies, degrees int) *layout.Cell {
	flat, err := layout.Flatten(c)
	if err != nil {
		t.Fatal(err)
	}
	box := flat.Bounds()
	top := &layout.Cell{Name: "TILED"}
	for i := range copies {
		at := geom.Point{X: i % 5 * (box.Width() + 5000), Y: i / 5 * (box.Height() + 5000)}
		top.Placements = append(top.Placements, layout.Placement{Cell: c, Transform: geom.NewTransform(false, 1, float64(degrees), at)})
	}
	return top
}

func countShapes(t testing.TB, c *layout.Cell) int {
	flat, err := layout.Flatten(c)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for l := range layout.MaxLayers {
		n += flat.Count(layout.Layer(l))
	}
	return n
}

// watchMemory keeps the largest amount of memory in peak, in bytes, until stop is called.
func watchMemory(peak *uint64) (stop func()) {
	done := make(chan struct{})
	var wait sync.WaitGroup
	wait.Go(func() {
		s := []metrics.Sample{{Name: "/memory/classes/total:bytes"}, {Name: "/memory/classes/heap/released:bytes"}}
		for {
			metrics.Read(s)
			*peak = max(*peak, s[0].Value.Uint64()-s[1].Value.Uint64())
			select {
			case <-done:
				return
			case <-time.After(10 * time.Millisecond):
			}
		}
	})
	return func() { close(done); wait.Wait() }
}

// BenchmarkFacts extracts the macro with and without Facts by turns, file not included; facts/plain is the ratio of the
// shortest times, which other work on the machine disturbs least.
func BenchmarkFacts(b *testing.B) {
	root := os.Getenv("UNDERMETAL_CORPUS")
	if root == "" {
		b.Skip("UNDERMETAL_CORPUS is not set: the published SRAM macro is not here")
	}
	st, err := stack.Load(filepath.Join(root, "ihp-sg13g2/ihp-sg13g2.stack.toml"))
	if err != nil {
		b.Fatal(err)
	}
	lib := readGDS(b, filepath.Join(root, "ihp-sg13g2/RM_IHPSG13_1P_256x8_c3_bm_bist.gds"), st)
	d := drawn{"macro", lib, lib.Tops()[0], st}
	var took [2]time.Duration
	for b.Loop() {
		for i, facts := range []bool{false, true} {
			start := time.Now()
			if res := run(b, d, extract.Options{Workers: 1, Facts: facts}); len(res.Circuit.Devices) != 18283 {
				b.Fatalf("%d devices", len(res.Circuit.Devices))
			}
			if t := time.Since(start); took[i] == 0 || t < took[i] {
				took[i] = t
			}
		}
	}
	b.ReportMetric(took[1].Seconds()/took[0].Seconds(), "facts/plain")
	b.ReportMetric(took[0].Seconds(), "plain-s")
}
