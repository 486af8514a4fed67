package main

import (
	"bytes"
	"flag"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"undermetal/testdata/pixel"
)

var updatePixel = flag.Bool("update", false, "make the files of testdata/pixel, testdata/ambiguous and testdata/kiln anew")

const pixelDir = "../../testdata/pixel"

// TestPixelFiles: what lies in testdata/pixel is what its package makes. Photographs are compared by their pixels, to two
// grey levels, since the last bit of a float may differ between processors, and the packing of PNG between versions of Go.
func TestPixelFiles(t *testing.T) {
	hand := pixel.NewHand(pixel.Seed)
	for _, p := range pixel.Photos() {
		for name, want := range map[string][]byte{p.Name + ".svg": hand.SVG(p), p.Name + ".csv": hand.Points(p)} {
			path := filepath.Join(pixelDir, name)
			if *updatePixel {
				if err := os.WriteFile(path, want, 0o666); err != nil {
					t.Fatal(err)
				}
			}
			if got, err := os.ReadFile(path); err != nil || !bytes.Equal(got, want) {
				t.Errorf("%s is not what the generator makes (%v): go test ./cmd/undermetal -run TestPixelFiles -update, then look at the change", name, err)
			}
		}
		comparePhoto(t, filepath.Join(pixelDir, p.Name+".png"), p.Image())
	}
}

// comparePhoto holds a PNG file against a picture; with -update it writes it where they differ.
func comparePhoto(t *testing.T, path string, want *image.Gray) {
	t.Helper()
	if !samePicture(path, want) && *updatePixel {
		var b bytes.Buffer
		enc := png.Encoder{CompressionLevel: png.BestCompression}
		if err := enc.Encode(&b, want); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b.Bytes(), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if !samePicture(path, want) {
		t.Errorf("%s is not what the generator makes: go test ./cmd/undermetal -run TestPixelFiles -update, then look at it", path)
	}
	if info, err := os.Stat(path); err != nil || info.Size() > 400_000 {
		t.Errorf("%s: %v; it may have 400 kB, every clone carries it", path, err)
	}
}

func samePicture(path string, want *image.Gray) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	img, err := png.Decode(f)
	got, ok := img.(*image.Gray)
	if err != nil || !ok || got.Rect != want.Rect {
		return false
	}
	for i, v := range got.Pix {
		if d := int(v) - int(want.Pix[i]); d < -2 || d > 2 {
			return false
		}
	}
	return true
}
