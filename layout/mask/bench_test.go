package mask

import (
	"bufio"
	"context"
	"errors"
	"image"
	"image/color"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"runtime/metrics"
	"sync/atomic"
	"testing"
	"time"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// tracks is a picture of side² pixels as layers of a die have them: level tracks of 10 px every 24, cut here and there, with
// a bridge to the next one here and there, and between them a square of 4 px every 20; made without holding it.
type tracks struct{ side int }

func (p tracks) ColorModel() color.Model { return color.Palette{color.Black, color.White} }
func (p tracks) Bounds() image.Rectangle { return image.Rect(0, 0, p.side, p.side) }
func (p tracks) At(x, y int) color.Color {
	return [2]color.Color{color.Black, color.White}[p.ColorIndexAt(x, y)]
}

func (p tracks) ColorIndexAt(x, y int) uint8 {
	track, in := y/24, y%24 < 10
	cell := (x/97*2654435761 + track*40503) >> 3 & 15
	switch {
	case in && (cell == 0 && x%97 < 9):
		return 0
	case in, cell == 5 && x%97 > 80, y%24 >= 15 && y%24 < 19 && x%20 < 4:
		return 1
	}
	return 0
}

// peak calls f and returns its peak of memory in use, in MB.
func peak(f func()) float64 {
	runtime.GC()
	var most atomic.Uint64
	done, ended := make(chan bool), make(chan bool)
	go func() {
		defer close(ended)
		sample := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}, {Name: "/memory/classes/heap/unused:bytes"}}
		for {
			metrics.Read(sample)
			if v := sample[0].Value.Uint64() + sample[1].Value.Uint64(); v > most.Load() {
				most.Store(v)
			}
			select {
			case <-done:
				return
			case <-time.After(5 * time.Millisecond):
			}
		}
	}()
	f()
	close(done)
	<-ended
	return float64(most.Load()) / (1 << 20)
}

// A mask of 100 megapixels is read and written.
func BenchmarkMask(b *testing.B) {
	const side = 10000
	path := filepath.Join(b.TempDir(), "tracks.png")
	f, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	out := bufio.NewWriter(f)
	if err := errors.Join((&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(out, tracks{side}), out.Flush(), f.Close()); err != nil {
		b.Fatal(err)
	}
	g := Grid{NmPerPx: 20, Width: side, Height: side}
	var lib *layout.Library
	var rep *Report
	b.Run("read/megapixels=100", func(b *testing.B) {
		for b.Loop() {
			mb := peak(func() {
				rows, err := shot.Open(context.Background(), path, 0)
				if err != nil {
					b.Fatal(err)
				}
				defer rows.Close()
				place := func(v geom.Vec) geom.Vec { return geom.Vec{X: 20 * v.X, Y: -20 * v.Y} }
				if lib, rep, err = Read(path, rows, Options{Place: place, Layer: "m"}); err != nil {
					b.Fatal(err)
				}
			})
			b.ReportMetric(mb, "peak-MB")
		}
		corners := 0
		for _, s := range lib.Cells[0].Shapes {
			for _, r := range s.Polygon {
				corners += len(r)
			}
		}
		b.ReportMetric(float64(len(lib.Cells[0].Shapes)), "shapes")
		b.ReportMetric(float64(corners), "corners")
	})
	b.Run("write/megapixels=100", func(b *testing.B) {
		for b.Loop() {
			mb := peak(func() {
				w, err := Write(io.Discard, lib, nil, g, Colour{}, []Meaning{{White, "m"}})
				if err != nil || w.Pixels[0] != rep.Layers[0].Pixels {
					b.Fatalf("%+v, want %d pixels (%v)", w, rep.Layers[0].Pixels, err)
				}
			})
			b.ReportMetric(mb, "peak-MB")
		}
	})
}
