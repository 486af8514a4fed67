//go:build unix

package picture

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"syscall"
	"testing"

	"undermetal/cmd/undermetal/workbench/view"
	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/shot"
)

// BenchmarkRedraw: a photograph of 32,768 × 32,768 px whose tiles are there, on a screen of 200 × 60 cells: quadrants, and real
// pixels at 10 × 20 px a cell. What is drawn: the same again (still), a pan by some px each time, another one blended with it,
// turned by 30°, bent by a spline,
// with 300,000 shapes over all of the die, or with those of a part.
func BenchmarkRedraw(b *testing.B) {
	const side, nm = 1 << 15, 100
	die := geom.Box(0, 0, side*nm, side*nm)
	shapes := dense(300_000, side*nm)
	for _, size := range []struct {
		name          string
		width, height int
		aspect        float64
	}{{"glyphs", 400, 120, 2}, {"pixels", 2000, 1200, 1}} {
		for _, channels := range []int{1, 3} {
			h, p := endless(b, side, channels, nil)
			_, q := endless(b, side, channels, nil)
			m := parse(b, register.Similarity, nm, 0, 0, 0, -nm, side*nm)
			c := compose(b, Options{Bytes: 1 << 30})
			ph, other := c.add(b, locate(b, h, m), p), c.add(b, locate(b, h, m), q)
			v := view.View{Middle: geom.Vec{X: side * nm / 2.1, Y: side * nm / 1.9}, NmPerPx: 1.3 * nm, Width: size.width, Height: size.height, Aspect: size.aspect}
			plain := Scene{View: v, Base: Shown{ph, shot.Plain}}
			_, bent := endless(b, side, channels, nil)
			spline := c.add(b, locate(b, h, wavy(b, side, nm)), bent)
			for _, w := range []struct {
				name  string
				scene func() Scene
				pan   bool
			}{
				{"still", func() Scene { return plain }, false},
				{"pan", func() Scene { return plain }, true},
				{"blend", func() Scene { s := plain; s.Over, s.Mode, s.Part = Shown{other, shot.Plain}, Blend, 0.5; return s }, true},
				{"turn", func() Scene { s := plain; s.View.Turn = 30; return s }, true},
				{"spline", func() Scene { s := plain; s.Base.Photo = spline; return s }, true},
				{"part", func() Scene { s := plain; s.Drawing = shapes; return s }, true},
				{"die", func() Scene { s := plain; s.Drawing = shapes; s.View = s.View.Fit(die, 0); return s }, true},
			} {
				b.Run(fmt.Sprintf("size=%s/channels=%d/what=%s", size.name, channels, w.name), func(b *testing.B) {
					b.ReportAllocs()
					s := w.scene()
					c.whole(b, &s)
					img := image.NewRGBA(image.Rect(0, 0, size.width, size.height))
					i, before := 0, used()
					for b.Loop() {
						at := s
						if i++; w.pan {
							at.View = s.View.Pan(float64(i%7), float64(i%5))
						}
						if _, err := c.Draw(b.Context(), &at, img); err != nil {
							b.Fatal(err)
						}
					}
					b.ReportMetric((used()-before)*1e3/float64(b.N), "cpu-ms/op")
				})
			}
			c.Close()
		}
	}
}

// wavy is a spline through 25 points.
func wavy(b *testing.B, side, nm float64) register.Map {
	var points []register.Point
	for i := range 25 {
		x, y := float64(i%5)*side/4, float64(i/5)*side/4
		points = append(points, register.Point{From: geom.Vec{X: x, Y: y}, To: geom.Vec{X: nm * (x + side/100*math.Sin(y)), Y: nm * (side - y + side/100*math.Cos(x))}})
	}
	fit, err := register.FitPoints(register.Spline, points, register.ToFrame)
	if err != nil {
		b.Fatal(err)
	}
	return fit.Map
}

// used is how many seconds all processors have worked for this process.
func used() float64 {
	var r syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &r); err != nil {
		return math.NaN()
	}
	return float64(r.Utime.Nano()+r.Stime.Nano()) / 1e9
}

// dense is a drawing of n rectangles of some µm on six layers, spread over a die.
func dense(n, side int) *Drawing {
	rnd := rand.New(rand.NewPCG(1, 9))
	cell := &layout.Cell{}
	for range n {
		x, y := rnd.IntN(side), rnd.IntN(side)
		cell.Shapes = append(cell.Shapes, layout.Shape{Layer: layout.Layer(rnd.IntN(6)), Polygon: square(x, y, x+1000+rnd.IntN(5000), y+1000+rnd.IntN(3000))})
	}
	return NewDrawing(&layout.Library{Layers: make([]string, 6), Cells: []*layout.Cell{cell}})
}

// BenchmarkNewDrawing: what an edit of a drawing of 300,000 shapes costs the picture.
func BenchmarkNewDrawing(b *testing.B) {
	for b.Loop() {
		dense(300_000, 3_000_000)
	}
}
