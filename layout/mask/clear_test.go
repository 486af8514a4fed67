package mask

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"undermetal/layout/shot"
)

// TestClear: what is transparent covers nothing, bright or dark, with or without a meaning, and is no colour that nobody
// explains; what is half opaque counts as its colour. By hand, through files.
func TestClear(t *testing.T) {
	white, black := color.NRGBA{255, 255, 255, 255}, color.NRGBA{0, 0, 0, 255}
	clear := func(c color.NRGBA, alpha byte) color.NRGBA { c.A = alpha; return c }
	red, odd := color.NRGBA{255, 0, 0, 255}, color.NRGBA{9, 8, 7, 255}
	for _, tc := range []struct {
		name   string
		pixels []color.NRGBA
		o      Options
		want   string // layers and notes
	}{
		{"bright", []color.NRGBA{white, clear(white, 127), clear(white, 128), clear(white, 0), black}, Options{Layer: "m"}, "[{m 2 2}] [transparent pixels (alpha below half), which cover nothing: 2]"},
		{"dark", []color.NRGBA{white, clear(black, 127), clear(black, 128), clear(black, 0), black}, Options{Layer: "m", Dark: true}, "[{m 2 2}] [transparent pixels (alpha below half), which cover nothing: 2]"},
		{"opaque", []color.NRGBA{white, white, clear(white, 200)}, Options{Layer: "m"}, "[{m 3 1}] []"},
		{"colours", []color.NRGBA{red, clear(red, 0), red, clear(odd, 3), black, clear(black, 0)}, Options{Meanings: []Meaning{{Colour{255, 0, 0}, "m"}, {Colour{}, "n"}}}, "[{m 2 2} {n 1 1}] [transparent pixels (alpha below half), which cover nothing: 3]"},
	} {
		sixteen := image.NewNRGBA64(image.Rect(0, 0, len(tc.pixels), 1))
		eight := image.NewNRGBA(sixteen.Rect)
		palette := image.NewPaletted(sixteen.Rect, nil)
		for x, c := range tc.pixels {
			eight.Set(x, 0, c)
			sixteen.Set(x, 0, c)
			palette.Palette = append(palette.Palette, c)
			palette.Pix[x] = byte(x)
		}
		for kind, img := range map[string]image.Image{"8 bits": eight, "16 bits": sixteen, "palette": palette} {
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
			tc.o.Place = px
			_, rep, err := Read(path, rows, tc.o)
			if err := errors.Join(err, rows.Close()); err != nil {
				t.Errorf("%s, %s: %v", tc.name, kind, err)
				continue
			}
			if got := fmt.Sprint(rep.Layers, rep.Notes); got != tc.want {
				t.Errorf("%s, %s: %s\nwant %s", tc.name, kind, got, tc.want)
			}
		}
	}
}

// TestAssociated: of a TIFF file that holds its colours multiplied by alpha the colours count as they were before. By hand:
// grey 100 at an alpha of 150 was 170, which is bright; at one of 255 it was 100.
func TestAssociated(t *testing.T) {
	for kind, want := range map[uint32]string{1: "[{m 1 1}]", 2: "[{m 0 0}]"} {
		file := append([]byte("II*\x00\x0c\x00\x00\x00"), 100, 150, 100, 255)
		fields := [][4]uint32{{256, 3, 1, 2}, {257, 3, 1, 1}, {258, 3, 2, 8 | 8<<16}, {259, 3, 1, 1}, {262, 3, 1, 1}, {273, 4, 1, 8}, {277, 3, 1, 2}, {278, 3, 1, 1}, {279, 4, 1, 4}, {338, 3, 1, kind}}
		file = binary.LittleEndian.AppendUint16(file, uint16(len(fields)))
		for _, f := range fields {
			file = binary.LittleEndian.AppendUint16(file, uint16(f[0]))
			file = binary.LittleEndian.AppendUint16(file, uint16(f[1]))
			file = binary.LittleEndian.AppendUint32(binary.LittleEndian.AppendUint32(file, f[2]), f[3])
		}
		path := filepath.Join(t.TempDir(), "m.tif")
		if err := os.WriteFile(path, append(file, 0, 0, 0, 0), 0o666); err != nil {
			t.Fatal(err)
		}
		rows, err := shot.Open(context.Background(), path, 0)
		if err != nil {
			t.Fatal(err)
		}
		_, rep, err := Read(path, rows, Options{Layer: "m", Place: px})
		if err := errors.Join(err, rows.Close()); err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprint(rep.Layers); got != want {
			t.Errorf("extra sample of kind %d: %s, want %s", kind, got, want)
		}
	}
}
