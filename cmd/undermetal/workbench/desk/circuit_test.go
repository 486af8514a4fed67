//go:build unix

package desk

import (
	"math"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/gds"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
)

// macro is the published SRAM macro as a desk would see it.
func macro(t testing.TB) (*snapshot, *stack.Stack) {
	t.Helper()
	root := os.Getenv("UNDERMETAL_CORPUS")
	if root == "" {
		t.Skip("UNDERMETAL_CORPUS is not set: the published SRAM macro is not here")
	}
	st, err := stack.Load(filepath.Join(root, "ihp-sg13g2", "ihp-sg13g2.stack.toml"))
	if err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(root, "ihp-sg13g2", "RM_IHPSG13_1P_256x8_c3_bm_bist.gds")
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lib, _, err := gds.Read(filepath.Base(name), f, gds.ForStack(st))
	if err != nil {
		t.Fatal(err)
	}
	top := lib.Tops()[0]
	cells := []*layout.Cell{top}
	for _, c := range lib.Cells {
		if c != top {
			cells = append(cells, c)
		}
	}
	lib.Cells = cells
	return &snapshot{lib: lib}, st
}

// BenchmarkCircuit: what an edit of a dossier with the SRAM macro costs in the background: pieces, nets, devices, sizes, what to check
// and what to ask; and its pieces alone.
func BenchmarkCircuit(b *testing.B) {
	s, st := macro(b)
	b.Run("what=all", func(b *testing.B) {
		before := used()
		for b.Loop() {
			l, err := circuitOf(b.Context(), s, st, drawnExactly(s, st), func(int, int) {})
			if err != nil {
				b.Fatal(err)
			}
			b.ReportMetric(float64(len(l.pieces)), "pieces")
		}
		b.ReportMetric((used()-before)/float64(b.N), "cpu-s/op")
	})
	b.Run("what=pieces", func(b *testing.B) {
		before := used()
		for b.Loop() {
			if _, whole, err := pieces(b.Context(), s.lib, s.lib.Cells[0], st); err != nil || !whole {
				b.Fatal(err, whole)
			}
		}
		b.ReportMetric((used()-before)/float64(b.N), "cpu-s/op")
	})
}

// drawnExactly is what to check where nobody traced: a quarter of the smallest feature.
func drawnExactly(s *snapshot, st *stack.Stack) (c checking) {
	for _, cell := range s.lib.Cells {
		c.shapes = append(c.shapes, make([]dossier.Shape, len(cell.Shapes)))
	}
	c.opt.ToleranceNm = geom.RoundHalfUp(st.Process.MinFeatureNm / 4)
	return c
}

// used is how many seconds all processors have worked for this process.
func used() float64 {
	var r syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &r); err != nil {
		return math.NaN()
	}
	return float64(r.Utime.Nano()+r.Stime.Nano()) / 1e9
}
