package dossier

import (
	"context"
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"undermetal/layout/shot"
)

// grained is a grey photograph-like picture: bars, slow changes of light, noise. It is as hard to pack as a real one.
type grained struct {
	flat
	state uint32
	sines []float64
}

func newGrained(side int) *grained {
	g := &grained{flat: flat{header: shot.Header{Format: "PNG", Width: side, Height: side, Channels: 1, Depth: 8, Orientation: shot.TopLeft, Pages: 1}}, state: 1}
	for x := range side {
		g.sines = append(g.sines, math.Sin(float64(x)/40))
	}
	return g
}

func (g *grained) ReadRow(dst []byte) error {
	c := 50 * math.Cos(float64(g.row)/30)
	for x := range dst {
		g.state ^= g.state << 13
		g.state ^= g.state >> 17
		g.state ^= g.state << 5
		v := 110 + int(c*g.sines[x]) + int(g.state&7) + int(g.state>>8&7)
		if x/300%2 == 0 && g.row/200%3 == 0 {
			v += 60
		}
		dst[x] = byte(v)
	}
	g.row++
	return nil
}

// BenchmarkView: views of 200 × 100 pixels at random places of a photograph of 400 megapixels, at zooms from four view
// pixels a pixel to the whole of it: with a pyramid that has shown nothing yet, so that every tile is fetched from the
// file and unpacked.
func BenchmarkView(b *testing.B) {
	const side = 20000
	ctx := context.Background()
	d := create(b, filepath.Join(b.TempDir(), "a.dossier"))
	picture, err := d.NewPicture(ctx)
	if err != nil {
		b.Fatal(err)
	}
	g := newGrained(side)
	if err := shot.Build(ctx, g, func(tiles []shot.Tile) error { return d.AddTiles(ctx, picture, tiles) }, func(int) {}); err != nil {
		b.Fatal(err)
	}
	s := &Shot{Name: "large", Header: g.header, Linked: true, Display: shot.Plain}
	edit(b, d, "add", func(tx *Tx) error { return tx.AddShot(s, picture) })
	for _, k := range []float64{0.25, 1, 1.9, 3.8, 30, 100} {
		b.Run(fmt.Sprintf("%gpx", k), func(b *testing.B) {
			rnd := rand.New(rand.NewPCG(1, 2))
			img := image.NewRGBA(image.Rect(0, 0, 200, 100))
			for b.Loop() {
				x, y := rnd.Float64()*(side-200*k), rnd.Float64()*(side-100*k)
				if err := d.Pyramid(s).View(b.Context(), img, shot.Window(x, y, 200*k, 200), shot.Plain); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkEdit: an edit that adds 10,000 shapes to a cell, with its journal, until it is on the disk; and that undone.
func BenchmarkEdit(b *testing.B) {
	d := create(b, filepath.Join(b.TempDir(), "a.dossier"))
	add := func(tx *Tx) error {
		for i := range 10_000 {
			if err := tx.AddShape(&Shape{Cell: Frame, Layer: "poly", Polygon: square(10*i, 0, 5), Method: "hand"}); err != nil {
				return err
			}
		}
		return nil
	}
	b.Run("add", func(b *testing.B) {
		for b.Loop() {
			edit(b, d, "draw", add)
		}
	})
	b.Run("undo", func(b *testing.B) {
		for b.Loop() {
			b.StopTimer()
			edit(b, d, "draw", add)
			b.StartTimer()
			if _, err := d.Undo(b.Context()); err != nil {
				b.Fatal(err)
			}
		}
	})
}
