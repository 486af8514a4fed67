package main

import (
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"testing"
)

// writePNG draws a picture by a function and writes it.
func writePNG(path string, width, height int, tone func(x, y int) color.Color) error {
	img := image.NewNRGBA(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			img.Set(x, y, tone(x, y))
		}
	}
	return encodePNG(path, img)
}

// writeGreyPNG draws a picture in grey by a function and writes it.
func writeGreyPNG(path string, width, height int, tone func(x, y int) uint8) error {
	img := image.NewGray(image.Rect(0, 0, width, height))
	for i := range img.Pix {
		img.Pix[i] = tone(i%width, i/width)
	}
	return encodePNG(path, img)
}

func encodePNG(path string, img image.Image) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(f, img); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// writePhotos writes the pictures that the scripts use: bare.png, poly-coloured bars on a grey ground, a red square at
// its middle; stripped.png, another; ruling.png, the bright lines of a stage micrometer, 24 px apart.
func writePhotos(dir string) error {
	bars := func(phase int) func(x, y int) color.Color {
		return func(x, y int) color.Color {
			switch {
			case x >= 390 && x < 410 && y >= 290 && y < 310:
				return color.NRGBA{200, 0, 0, 255}
			case (x+phase)/20%4 == 0:
				return color.NRGBA{180, 150, 90, 255}
			}
			return color.NRGBA{90, 90, 90, 255}
		}
	}
	if err := writePNG(dir+"/bare.png", 800, 600, bars(0)); err != nil {
		return err
	}
	if err := os.Mkdir(dir+"/photos", 0o777); err != nil {
		return err
	}
	for name, phase := range map[string]int{"step 2.png": 2, "step 10.png": 10} {
		if err := writePNG(dir+"/photos/"+name, 400, 300, bars(phase)); err != nil {
			return err
		}
	}
	return writePNG(dir+"/ruling.png", 600, 200, func(x, y int) color.Color {
		d := math.Abs(math.Mod(float64(x)+0.5, 24) - 12)
		return color.Gray{uint8(40 + 180*max(0, min(1, 3-d)))}
	})
}

// amongPhotos goes into a folder of its own, with photographs.
func amongPhotos(t *testing.T) {
	t.Helper()
	t.Chdir(t.TempDir())
	if err := writePhotos("."); err != nil {
		t.Fatal(err)
	}
}
