package field

import "testing"

func BenchmarkSolve(b *testing.B) {
	bent := single(ring(3, 0, 0, 0, 0, 3, -1, 3, -1, -1, 3, -1), 0, 0, ins, 1, 1, ins)
	for _, x := range []struct {
		name string
		s    Shape
		tol  float64
	}{
		{"rectangle", single(boxRing(0, 0, 3, 2), 0, ins, 1, ins), 1e-6},
		{"bent gate to 1e-3", bent, 1e-3},
		{"bent gate to 1e-6", bent, 1e-6},
		{"traced with 60 corners to 1e-3", handTraced(60, 0.02, 1), 1e-3},
		{"serpentine of 10 legs to 1e-3", serpentine(10, 10), 1e-3},
		{"serpentine of 10 legs to 1e-6", serpentine(10, 10), 1e-6},
		{"serpentine of 30 legs to 1e-3", serpentine(30, 40), 1e-3},
		{"waffle of 100 cells to 1e-3", waffle(10, 1, 1), 1e-3},
	} {
		s := x.s.scaled(1000)
		b.Run(x.name, func(b *testing.B) {
			var r *Result
			for b.Loop() {
				var err error
				if r, err = Solve(b.Context(), s, x.tol); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(r.Triangles), "triangles")
			b.ReportMetric(r.Error*1e6, "error-ppm")
		})
	}
	s := bent.scaled(1000)
	b.Run("bent gate to 1e-3 with gradient", func(b *testing.B) {
		for b.Loop() {
			if _, _, err := SolveGradient(b.Context(), s, 1e-3, 0, 1); err != nil {
				b.Fatal(err)
			}
		}
	})
}
