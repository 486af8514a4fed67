package main

import (
	"bytes"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"undermetal/testdata/kiln"
)

const kilnDir = "../../testdata/kiln"

// TestKilnFiles: what lies in testdata/kiln is what its package makes.
func TestKilnFiles(t *testing.T) {
	hand, shots := kiln.NewHand(kiln.Seed), kiln.Photos()
	files := map[string][]byte{}
	for _, d := range hand.Drawings(shots) {
		files[d.File] = d.SVG
	}
	for _, s := range shots {
		files[s.Name+".csv"] = hand.Points(s)
	}
	for name, want := range files {
		path := filepath.Join(kilnDir, name)
		if *updatePixel {
			if err := os.WriteFile(path, want, 0o666); err != nil {
				t.Fatal(err)
			}
		}
		if got, err := os.ReadFile(path); err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s is not what the hand makes (%v): go test ./cmd/undermetal -run TestKilnFiles -update, then look at the change", path, err)
		}
	}
	there, err := filepath.Glob(filepath.Join(kilnDir, "*.svg"))
	if err != nil || len(there) != len(files)-len(shots) {
		t.Errorf("%d drawings lie here, the hand makes %d (%v)", len(there), len(files)-len(shots), err)
	}
	steps := 0
	for _, s := range kiln.Steps() {
		for _, f := range s.Files {
			if files[f] == nil {
				t.Errorf("%s: there is no drawing %s", s.What, f)
			}
			steps++
		}
	}
	if steps != len(there) {
		t.Errorf("the steps bring in %d drawings of %d", steps, len(there))
	}
}

// TestKilnPictures writes the photographs of testdata/kiln, to be looked at.
func TestKilnPictures(t *testing.T) {
	dir := os.Getenv("UNDERMETAL_PICTURES")
	if dir == "" {
		t.Skip("UNDERMETAL_PICTURES names no folder")
	}
	for _, s := range kiln.Photos() {
		img, err := s.Image(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := png.Encode(&b, img); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "kiln-"+s.Name+".png"), b.Bytes(), 0o666); err != nil {
			t.Fatal(err)
		}
	}
}

func BenchmarkKilnPhoto(b *testing.B) {
	for _, s := range kiln.Photos() {
		b.Run("shot="+s.Name, func(b *testing.B) {
			for b.Loop() {
				if _, err := s.Image(b.Context()); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
