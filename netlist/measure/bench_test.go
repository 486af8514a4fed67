package measure

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"undermetal/layout/gds"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
)

// BenchmarkSolveSRAM extracts the published macro without and with all that measures need, and solves; added/plain is what Outlines,
// Solve and Facts add, over extraction's own time, by the shortest times, junctions/plain what Junctions add to Outlines.
func BenchmarkSolveSRAM(b *testing.B) {
	root := os.Getenv("UNDERMETAL_CORPUS")
	if root == "" {
		b.Skip("UNDERMETAL_CORPUS is not set: the published SRAM macro is not here")
	}
	st, err := stack.Load(filepath.Join(root, "ihp-sg13g2/ihp-sg13g2.stack.toml"))
	if err != nil {
		b.Fatal(err)
	}
	f, err := os.Open(filepath.Join(root, "ihp-sg13g2/RM_IHPSG13_1P_256x8_c3_bm_bist.gds"))
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	lib, _, err := gds.Read("macro", f, gds.ForStack(st))
	if err != nil {
		b.Fatal(err)
	}
	top := lib.Tops()[0]
	var took [5]time.Duration // plain, with outlines, with outlines and facts; solving; with outlines and junctions
	keep := func(i int, start time.Time) {
		if d := time.Since(start); took[i] == 0 || d < took[i] {
			took[i] = d
		}
	}
	var sol *Solution
	for b.Loop() {
		for i, opt := range []extract.Options{{}, {Outlines: true}, {Outlines: true, Facts: true}, {Outlines: true, Junctions: true}} {
			opt.Workers = 1
			start := time.Now()
			res, err := extract.Run(b.Context(), lib, top, st, opt)
			if err != nil {
				b.Fatal(err)
			}
			if keep([]int{0, 1, 2, 4}[i], start); i == 1 {
				start = time.Now()
				if sol, err = Solve(b.Context(), res, SolveOptions{Workers: 1}); err != nil {
					b.Fatal(err)
				}
				keep(3, start)
			}
		}
	}
	plain := took[0].Seconds()
	b.ReportMetric(plain, "plain-s")
	b.ReportMetric(took[3].Seconds(), "solve-s")
	b.ReportMetric((took[1]-took[0]).Seconds()/plain, "outlines/plain")
	b.ReportMetric((took[1]-took[0]+took[3]).Seconds()/plain, "solved/plain")
	b.ReportMetric((took[2]-took[0]+took[3]).Seconds()/plain, "added/plain")
	b.ReportMetric((took[4]-took[1]).Seconds()/plain, "junctions/plain")
	b.ReportMetric(float64(sol.Solved), "solved")
	b.ReportMetric(float64(sol.Shapes), "shapes")
}

// BenchmarkSolve times one bent gate by tolerance, with and without the gradient.
func BenchmarkSolve(b *testing.B) {
	s := newSheet(b, 1000)
	s.bent(2, 1)
	res, err := extract.Run(b.Context(), s.lib(s.cell), s.cell, s.st, extract.Options{Outlines: true})
	if err != nil {
		b.Fatal(err)
	}
	for _, tol := range []float64{1e-3, 1e-4, 1e-6} {
		for _, gradient := range []bool{false, true} {
			b.Run(fmt.Sprintf("tolerance=%g/gradient=%v", tol, gradient), func(b *testing.B) {
				for b.Loop() {
					solveOf(b, res, SolveOptions{Workers: 1, Tolerance: tol, Gradient: gradient})
				}
			})
		}
	}
}
