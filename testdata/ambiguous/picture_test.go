package ambiguous

import (
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// TestPictures draws every hand case, some generated ones, and these as a hand traces them, into the folder that
// UNDERMETAL_PICTURES names, to be looked at.
func TestPictures(t *testing.T) {
	dir := os.Getenv("UNDERMETAL_PICTURES")
	if dir == "" {
		t.Skip("UNDERMETAL_PICTURES names no folder for pictures")
	}
	save := func(name string, c *Case) {
		name = strings.Map(func(r rune) rune {
			if r == ' ' || r == ',' {
				return '_'
			}
			return r
		}, name)
		f, err := os.Create(filepath.Join(dir, name+".png"))
		if err != nil {
			t.Fatal(err)
		}
		if err := png.Encode(f, picture(c)); err != nil {
			t.Fatal(err)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range Hand() {
		save("hand "+c.Name, &c)
	}
	for seed := range uint64(12) {
		c := Generate(seed)
		save("generated "+strconv.FormatUint(seed, 10), &c)
		d := Degrade(c, seed, 1)
		save("degraded "+strconv.FormatUint(seed, 10), &d)
	}
}

// paints are the layers from bottom to top: colour, and whether it is a hatch of lines.
var paints = []struct {
	layer string
	c     color.RGBA
	step  int // every so many pixels a line; 1: filled
}{
	{nwell, color.RGBA{225, 225, 225, 255}, 1},
	{diff, color.RGBA{0, 158, 115, 255}, 1},
	{"ndiffusion", color.RGBA{0, 158, 115, 255}, 1},
	{pdiff, color.RGBA{230, 159, 0, 255}, 1},
	{poly, color.RGBA{213, 94, 0, 255}, 1},
	{poly2, color.RGBA{240, 228, 66, 255}, 1},
	{resmark, color.RGBA{120, 120, 120, 255}, 8},
	{metal1, color.RGBA{0, 60, 170, 255}, 4},
	{metal2, color.RGBA{120, 0, 120, 255}, 6},
	{contact, color.RGBA{0, 0, 0, 255}, 1},
	{via1, color.RGBA{255, 255, 255, 255}, 1},
}

// picture shows a case from above, in 1200 pixels, the place that is asked about as a red cross.
func picture(c *Case) image.Image {
	box := geom.EmptyRect()
	for i := range c.Top.Shapes {
		box = box.Union(c.Top.Shapes[i].Polygon.Bounds())
	}
	nm := max(box.Width(), box.Height())/1200 + 1
	img := image.NewRGBA(image.Rect(0, 0, box.Width()/nm+1, box.Height()/nm+1))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	for _, p := range paints {
		l, ok := c.Library.LayerNamed(p.layer)
		if !ok {
			continue
		}
		for i := range c.Top.Shapes {
			if c.Top.Shapes[i].Layer == l {
				paint(img, &c.Top.Shapes[i], box, nm, p.c, p.step)
			}
		}
	}
	x, y := (c.Place.At.X-box.Min.X)/nm, (box.Max.Y-c.Place.At.Y)/nm
	for d := -9; d <= 9; d++ {
		for w := -1; w <= 1; w++ {
			img.Set(x+d, y+w, color.RGBA{255, 0, 0, 255})
			img.Set(x+w, y+d, color.RGBA{255, 0, 0, 255})
		}
	}
	return img
}

func paint(img *image.RGBA, s *layout.Shape, box geom.Rect, nm int, c color.RGBA, step int) {
	b := s.Polygon.Bounds()
	for y := (box.Max.Y - b.Max.Y) / nm; y <= (box.Max.Y-b.Min.Y)/nm; y++ {
		for x := (b.Min.X - box.Min.X) / nm; x <= (b.Max.X-box.Min.X)/nm; x++ {
			if (x+y)%step == 0 && s.Polygon.Locate(geom.Point{X: box.Min.X + x*nm, Y: box.Max.Y - y*nm}) == geom.Inside {
				img.SetRGBA(x, y, c)
			}
		}
	}
}
