package geojson

import (
	"bytes"
	"io"
	"runtime"
	"runtime/metrics"
	"sync/atomic"
	"testing"
	"time"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// A drawing of 200,000 polygons with a hole is written and read; peak-MB is what is in use at most beside the file.
func BenchmarkGeoJSON(b *testing.B) {
	cell := &layout.Cell{Name: "c"}
	lib := &layout.Library{Layers: []string{"metal1"}, Cells: []*layout.Cell{cell}}
	for i := range 200_000 {
		at := geom.Point{X: i % 500 * 2500, Y: i / 500 * 2517}
		outer, hole := geom.Box(0, 0, 2001, 1999).Ring(), geom.Ring{{X: 500, Y: 500}, {X: 520, Y: 1500}, {X: 1500, Y: 1490}, {X: 1510, Y: 480}}
		cell.Shapes = append(cell.Shapes, layout.Shape{Polygon: geom.Move(at).ApplyPolygon(geom.Polygon{outer, hole})})
	}
	var out bytes.Buffer
	b.Run("write", func(b *testing.B) {
		for b.Loop() {
			out.Reset()
			if err := Write(&out, lib, nil, nil); err != nil {
				b.Fatal(err)
			}
		}
		b.SetBytes(int64(out.Len()))
	})
	cell.Shapes = nil
	b.Run("read", func(b *testing.B) {
		b.SetBytes(int64(out.Len()))
		for b.Loop() {
			runtime.GC()
			before := inUse()
			var most atomic.Uint64
			done, ended := make(chan bool), make(chan bool)
			go func() {
				defer close(ended)
				for {
					most.Store(max(most.Load(), inUse()))
					select {
					case <-done:
						return
					case <-time.After(5 * time.Millisecond):
					}
				}
			}()
			back, _, err := Read("bench.geojson", struct{ io.Reader }{bytes.NewReader(out.Bytes())}, Options{})
			if err != nil || len(back.Cells[0].Shapes) != 200_000 {
				b.Fatal(err)
			}
			close(done)
			<-ended
			b.ReportMetric(float64(most.Load()-before)/(1<<20), "peak-MB")
		}
	})
}

func inUse() uint64 {
	sample := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
	metrics.Read(sample)
	return sample[0].Value.Uint64()
}
