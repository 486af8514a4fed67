package register

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"undermetal/layout/geom"
)

func BenchmarkFitPoints(b *testing.B) {
	for _, kind := range kinds[:4] {
		b.Run(fmt.Sprintf("kind=%s/points=1000", kind), func(b *testing.B) {
			points := scattered(rand.New(rand.NewPCG(31, 1)), 1000, bent{camera(Projective)}, 50)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := FitPoints(kind, points, ToFrame); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkApply: a spline through 40 points, and the way back.
func BenchmarkApply(b *testing.B) {
	for _, kind := range kinds {
		b.Run("kind="+string(kind), func(b *testing.B) {
			fitted := kind
			if kind == inverseSpline {
				fitted = Spline
			}
			f, err := FitPoints(fitted, scattered(rand.New(rand.NewPCG(32, 1)), 40, bent{camera(Projective)}, 50), ToFrame)
			if err != nil {
				b.Fatal(err)
			}
			m, p := f.Map, geom.Vec{X: 1000, Y: 700}
			if kind == inverseSpline {
				p = m.Apply(p)
				if m, err = m.Inverse(); err != nil {
					b.Fatal(err)
				}
			}
			var sum geom.Vec
			for b.Loop() {
				q := m.Apply(p)
				sum.X += q.X
				p.X += 0.01
			}
			if sum.X == 0 {
				b.Fatal("nowhere")
			}
		})
	}
}
