package extract_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
)

// BenchmarkExtract times the extraction of the published SRAM macro, alone and tiled, reading the file not included.
func BenchmarkExtract(b *testing.B) {
	root := os.Getenv("UNDERMETAL_CORPUS")
	if root == "" {
		b.Skip("UNDERMETAL_CORPUS is not set: the published SRAM macro is not here")
	}
	st, err := stack.Load(filepath.Join(root, "ihp-sg13g2/ihp-sg13g2.stack.toml"))
	if err != nil {
		b.Fatal(err)
	}
	lib := readGDS(b, filepath.Join(root, "ihp-sg13g2/RM_IHPSG13_1P_256x8_c3_bm_bist.gds"), st)
	macro := lib.Tops()[0]
	flat, err := layout.Flatten(macro)
	if err != nil {
		b.Fatal(err)
	}
	box := flat.Bounds()
	for _, copies := range []int{1, 4, 16} {
		top := &layout.Cell{Name: "TILED"}
		for i := range copies {
			top.Placements = append(top.Placements, layout.Placement{Cell: macro, Transform: geom.Move(geom.Point{X: i % 4 * (box.Width() + 5000), Y: i / 4 * (box.Height() + 5000)})})
		}
		for _, workers := range []int{1, 2} {
			b.Run(fmt.Sprintf("cell=sram/copies=%d/workers=%d", copies, workers), func(b *testing.B) {
				shapes := 0
				for l := range st.Layers {
					shapes += flat.Count(layout.Layer(l)) * copies
				}
				for b.Loop() {
					res, err := extract.Run(context.Background(), lib, top, st, extract.Options{Workers: workers})
					if err != nil {
						b.Fatal(err)
					}
					if n := len(res.Circuit.Devices); n != 18283*copies { // the published netlist's count
						b.Fatalf("%d devices", n)
					}
				}
				b.ReportMetric(float64(shapes)*float64(b.N)/b.Elapsed().Seconds(), "shapes/s")
			})
		}
	}
}
