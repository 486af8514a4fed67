package shot

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
)

// TestTickStep: 1, 2 or 5 times a power of ten, the smallest that is not less than what is asked for.
func TestTickStep(t *testing.T) {
	for least, want := range map[float64]int{0.01: 1, 1: 1, 1.5: 2, 3: 5, 5.1: 10, 70: 100, 101: 200, 480: 500, 26000: 50000} {
		if got := TickStep(least); got != want {
			t.Errorf("at least %g apart: %d, want %d", least, got, want)
		}
	}
}

// TestTicks: in a view of 800 × 600 that begins at (1030, 470) and shows two pixels of the photograph in one, the mark of
// 1200 stands at (1200-1030)/2 = 85, and so on; none stands beyond the photograph's side.
func TestTicks(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 800, 600))
	for i := range img.Pix {
		img.Pix[i] = 100
	}
	free := DrawTicks(img, 1030, 470, 2, 2000, 5000).Bounds()
	if free.Min.X < 10 || free.Min.Y < 10 || free.Max != img.Rect.Max {
		t.Fatalf("the marks leave %v free", free)
	}
	isWhite := func(x, y int) bool { return img.RGBAAt(x, y) == color.RGBA{255, 255, 255, 255} }
	var across, down, long []int
	for x := range 800 {
		if isWhite(x, free.Min.Y-1) {
			across = append(across, 1030+2*x)
		}
		if isWhite(x, free.Min.Y-4) {
			long = append(long, 1030+2*x)
		}
	}
	for y := range 600 {
		if isWhite(free.Min.X-1, y) {
			down = append(down, 470+2*y)
		}
	}
	if len(long) < 4 || len(across) < 4*len(long) {
		t.Fatalf("long marks at %v of %v", long, across)
	}
	for name, marks := range map[string][]int{"top": across, "top, long": long, "left": down} {
		step := marks[1] - marks[0]
		if len(marks) < 4 || step != TickStep(float64(step)) {
			t.Errorf("%s: marks at %v", name, marks)
		}
		for i, v := range marks {
			if v%step != 0 || i > 0 && v-marks[i-1] != step {
				t.Errorf("%s: marks at %v", name, marks)
			}
		}
	}
	if last := across[len(across)-1]; last > 2000 {
		t.Errorf("a mark at %d of a photograph 2000 pixels wide", last)
	}
	if img.RGBAAt(free.Min.X+20, free.Min.Y+20) != (color.RGBA{100, 100, 100, 100}) {
		t.Error("what is left free was drawn on")
	}
}

func TestMagnification(t *testing.T) {
	for text, want := range map[string]float64{"50x": 50, "50×": 50, "50 x/0.8": 50, "Plan Apo 100X": 100, "2.5x": 2.5, "": 0, "NA 0.9": 0, "x": 0, "0x": 0, "f=200": 0, "12345x": 0} {
		if got, ok := Magnification(text); ok != (want > 0) || ok && got != want {
			t.Errorf("%q: %g, %v; want %g", text, got, ok, want)
		}
	}
}

// TestRowSaidOnce: a photograph that is cut off says its row and its file once each, and what to do.
func TestRowSaidOnce(t *testing.T) {
	path := t.TempDir() + "/a.png"
	writeCut(t, path)
	for name, read := range map[string]func(Reader) error{
		"Build":         func(r Reader) error { return Build(t.Context(), r, func([]Tile) error { return nil }, func(int) {}) },
		"MeasureRuling": func(r Reader) error { _, err := MeasureRuling(t.Context(), r); return err },
	} {
		r, err := Open(t.Context(), path, 0)
		if err != nil {
			t.Fatal(err)
		}
		err = read(r)
		r.Close()
		if err == nil || strings.Count(err.Error(), "row ") != 1 || strings.Count(err.Error(), "a.png") != 1 || !strings.HasSuffix(err.Error(), "copy it anew from the camera") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// writeCut writes the first two thirds of a PNG file of noise.
func writeCut(t *testing.T, path string) {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 200, 200))
	random := rand.New(rand.NewPCG(1, 2))
	for i := range img.Pix {
		img.Pix[i] = uint8(random.Uint32())
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes()[:b.Len()*2/3], 0o600); err != nil {
		t.Fatal(err)
	}
}
