package mask

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// FuzzMask: any pixels of any depth give a library or an *Error; what was read gives the same mask again.
func FuzzMask(f *testing.F) {
	f.Add(uint8(3), uint8(0), []byte{0, 255, 0, 255, 255, 255, 0, 255, 0}, uint16(10))
	f.Add(uint8(2), uint8(1), []byte{0x80, 0, 0x7f, 255, 255, 255, 0, 0}, uint16(1))
	f.Add(uint8(2), uint8(2), []byte{255, 0, 0, 0, 255, 0, 0, 0, 255, 9, 9, 9}, uint16(777))
	f.Add(uint8(9), uint8(0), bytes.Repeat([]byte{255, 0}, 50), uint16(3))
	f.Add(uint8(3), uint8(4), []byte{0, 255, 0, 253, 255, 252, 2, 253, 0}, uint16(10))
	f.Add(uint8(2), uint8(7), []byte{1, 255, 0, 253, 255, 252, 2, 1}, uint16(10))
	f.Fuzz(func(t *testing.T, width, kind uint8, data []byte, scale uint16) {
		p := &picture{header: shot.Header{Format: "PNG", Width: int(width), Channels: 1, Depth: 8, Orientation: 1}}
		o := Options{Layer: "m"}
		switch kind % 4 {
		case 1:
			p.header.Depth = 16
		case 2:
			p.header.Channels = 3
			o.LeaveUnmapped = true
		case 3:
			o.Meanings = []Meaning{{Colour{255, 255, 255}, "a"}, {Colour{1, 1, 1}, "b"}, {Colour{1, 1, 1}, "a"}, {Colour{}, ""}}
			o.LeaveUnmapped = true
		}
		n := p.header.RowBytes()
		if n == 0 {
			return
		}
		for ; len(data) >= n && len(p.rows) < 60; data = data[n:] {
			p.rows = append(p.rows, data[:n])
			if kind&4 != 0 {
				var clear []bool
				for x := range int(width) {
					clear = append(clear, data[x]&2 != 0)
				}
				p.clear = append(p.clear, clear)
			}
		}
		p.header.Height = len(p.rows)
		if len(p.rows) == 0 {
			return
		}
		g := Grid{Left: -50, Top: 70, NmPerPx: 1.25 + float64(scale)/7, Width: p.header.Width, Height: p.header.Height}
		o.Place = func(v geom.Vec) geom.Vec { return geom.Vec{X: g.Left + v.X*g.NmPerPx, Y: g.Top - v.Y*g.NmPerPx} }
		lib, rep, err := Read("fuzz.png", p, o)
		if err != nil {
			if e := (*Error)(nil); !errors.As(err, &e) || e.Text == "" || e.Remedy == "" {
				t.Fatalf("error without remedy: %v", err)
			}
			return
		}
		for i, c := range rep.Layers {
			again := &picture{header: shot.Header{Format: "PNG", Width: g.Width, Height: g.Height, Channels: 1, Depth: 8, Orientation: 1}}
			var b bytes.Buffer
			w, err := Write(&b, lib, nil, g, Colour{}, []Meaning{{White, c.Layer}})
			if err != nil || w.Pixels[0] != c.Pixels {
				t.Fatalf("layer %s: %d pixels, want %d (%v)", c.Layer, w.Pixels[0], c.Pixels, err)
			}
			img, err := png.Decode(&b)
			if err != nil {
				t.Fatal(err)
			}
			for y := range g.Height {
				row := make([]byte, g.Width)
				for x := range row {
					row[x] = img.(*image.Paletted).ColorIndexAt(x, y) * 255
				}
				again.rows = append(again.rows, row)
			}
			back, _, err := Read("back.png", again, Options{Place: o.Place, Layer: c.Layer})
			if err != nil {
				t.Fatal(err)
			}
			k := 0
			for _, s := range lib.Cells[0].Shapes {
				if s.Layer == layout.Layer(i) {
					if k == len(back.Cells[0].Shapes) || len(back.Cells[0].Shapes[k].Polygon) != len(s.Polygon) {
						t.Fatalf("shape %d of layer %s is gone or another", k, c.Layer)
					}
					k++
				}
			}
			if k != len(back.Cells[0].Shapes) {
				t.Fatalf("%d shapes, back as %d", k, len(back.Cells[0].Shapes))
			}
		}
	})
}

// A mask of every depth that PNG has comes through a file.
func TestFiles(t *testing.T) {
	const width, height = 21, 13
	covered := func(x, y int) bool { return (x/3+y/2)%3 == 0 }
	box := image.Rect(0, 0, width, height)
	for name, img := range map[string]interface {
		image.Image
		Set(x, y int, c color.Color)
	}{
		"palette of two": image.NewPaletted(box, color.Palette{color.Black, color.White}),
		"palette":        image.NewPaletted(box, color.Palette{color.Black, color.White, color.Gray{9}}),
		"grey":           image.NewGray(box),
		"grey, 16 bits":  image.NewGray16(box),
		"colour":         image.NewNRGBA(box),
		"colour, 16":     image.NewNRGBA64(box),
	} {
		n := 0
		for y := range height {
			for x := range width {
				c := color.Gray{0}
				if covered(x, y) {
					c.Y = 255
					n++
				}
				img.Set(x, y, c)
			}
		}
		path := filepath.Join(t.TempDir(), "m.png")
		f, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(png.Encode(f, img), f.Close()); err != nil {
			t.Fatal(err)
		}
		rows, err := shot.Open(context.Background(), path, 0)
		if err != nil {
			t.Fatal(err)
		}
		_, rep, err := Read(path, rows, Options{Place: px, Layer: "m"})
		if err := errors.Join(err, rows.Close()); err != nil {
			t.Fatal(err)
		}
		if rep.Layers[0].Pixels != n || rep.Width != width || rep.Height != height {
			t.Errorf("%s: %+v, want %d pixels", name, rep, n)
		}
	}
}
