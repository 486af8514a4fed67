package shot

import (
	"context"
	"errors"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"undermetal/layout/geom"
)

// pyramidOf builds a pyramid that is kept in memory.
func pyramidOf(t testing.TB, d *drawn) *Pyramid {
	t.Helper()
	tiles := map[[3]int][]byte{}
	err := Build(t.Context(), d, func(batch []Tile) error {
		for _, tile := range batch {
			tiles[[3]int{tile.Level, tile.Column, tile.Row}] = tile.Data
		}
		return nil
	}, func(int) {})
	if err != nil {
		t.Fatal(err)
	}
	return NewPyramid(d.header, func(level, column, row int) ([]byte, error) {
		if data := tiles[[3]int{level, column, row}]; data != nil {
			return data, nil
		}
		return nil, errors.New("no such tile")
	})
}

// TestViewPixels: pixel for pixel, a view is the photograph turned upright, in every orientation and depth, and leaves
// what lies beside the photograph alone.
func TestViewPixels(t *testing.T) {
	for o := TopLeft; o <= LeftBottom; o++ {
		for _, kind := range [][2]int{{1, 8}, {3, 8}, {1, 16}, {3, 16}} {
			d := noise(301, 270, kind[0], kind[1], uint64(o))
			d.header.Orientation = o
			stored := pixelsOf(t, d)
			p := pyramidOf(t, d)
			w, h := p.Size()
			img := image.NewRGBA(image.Rect(0, 0, w+20, h+20))
			if err := p.View(t.Context(), img, Window(-10, -10, float64(w+20), w+20), Plain); err != nil {
				t.Fatal(err)
			}
			for y := range h + 20 {
				for x := range w + 20 {
					want := color.RGBA{}
					if ux, uy := x-10, y-10; ux >= 0 && uy >= 0 && ux < w && uy < h {
						sx, sy := o.Stored(ux, uy, 301, 270)
						var rgb [3]uint8
						for c := range 3 {
							v := stored.sample(sx, sy, min(c, kind[0]-1))
							if kind[1] == 16 {
								v = int(float64(v)/65535*255 + 0.5)
							}
							rgb[c] = uint8(v)
						}
						want = color.RGBA{rgb[0], rgb[1], rgb[2], 255}
					}
					if got := img.RGBAAt(x, y); got != want {
						t.Fatalf("orientation %d, %v, (%d, %d): %v, want %v", o, kind, x, y, got, want)
					}
				}
			}
		}
	}
}

// TestViewZooms: at any zoom, place and turn, against a plain twin that averages whole pictures and interpolates with
// real numbers; and no view reads more tiles than it needs.
func TestViewZooms(t *testing.T) {
	d := noise(1500, 1100, 3, 8, 9)
	d.row = func(y int, dst []byte) {
		for x := range 1500 {
			for c := range 3 {
				dst[3*x+c] = byte(128 + 90*math.Sin(float64(x)/(9+float64(c)))*math.Cos(float64(y)/13))
			}
		}
	}
	levels := []*Pixels{pixelsOf(t, d)}
	for range Levels(1500, 1100) - 1 {
		levels = append(levels, halved(levels[len(levels)-1]))
	}
	p := pyramidOf(t, d)
	rnd := rand.New(rand.NewPCG(41, 42))
	for range 60 {
		k := math.Pow(2, rnd.Float64()*6-2) // pixels of the photograph in one of the view
		angle := rnd.Float64() * 2 * math.Pi
		x0, y0 := rnd.Float64()*1500, rnd.Float64()*1100
		sin, cos := math.Sincos(angle)
		m := func(x, y float64) (float64, float64) {
			x, y = (x-25)*k, (y-15)*k
			return x0 + cos*x - sin*y, y0 + sin*x + cos*y
		}
		level := max(0, min(len(levels)-1, int(math.Floor(math.Log2(k)))))
		img := image.NewRGBA(image.Rect(0, 0, 50, 30))
		if err := p.View(t.Context(), img, m, Plain); err != nil {
			t.Fatal(err)
		}
		for y := range 30 {
			for x := range 50 {
				px, py := m(float64(x)+0.5, float64(y)+0.5)
				if px < 0 || py < 0 || px >= 1500 || py >= 1100 {
					continue
				}
				for c, got := range []uint8{img.RGBAAt(x, y).R, img.RGBAAt(x, y).G, img.RGBAAt(x, y).B} {
					if want := interpolated(levels[level], px/math.Pow(2, float64(level)), py/math.Pow(2, float64(level)), c); math.Abs(float64(got)-want) > 1 {
						t.Fatalf("k %.2f, level %d, (%.2f, %.2f): %d, want %.2f", k, level, px, py, got, want)
					}
				}
			}
		}
	}
}

// interpolated is the tone at a point by the four pixel centres around it.
func interpolated(p *Pixels, x, y float64, c int) float64 {
	x, y = x-0.5, y-0.5
	x0, y0 := math.Floor(x), math.Floor(y)
	at := func(x, y float64) float64 {
		return float64(p.sample(max(0, min(p.Width-1, int(x))), max(0, min(p.Height-1, int(y))), c))
	}
	top := at(x0, y0)*(1-x+x0) + at(x0+1, y0)*(x-x0)
	return top*(1-y+y0) + (at(x0, y0+1)*(1-x+x0)+at(x0+1, y0+1)*(x-x0))*(y-y0)
}

// TestDisplay: black, white, gamma and channels as they are defined.
func TestDisplay(t *testing.T) {
	d := noise(8, 1, 3, 8, 1)
	d.row = func(_ int, dst []byte) {
		copy(dst, []byte{0, 51, 255, 102, 153, 204, 51, 51, 51, 204, 204, 204, 0, 0, 0, 255, 255, 255, 1, 2, 3, 128, 128, 128})
	}
	for _, tc := range []struct {
		display Display
		x       int
		want    color.RGBA
	}{
		{Plain, 1, color.RGBA{102, 153, 204, 255}},
		{Display{Low: 0.2, High: 0.8, Gamma: 1}, 2, color.RGBA{0, 0, 0, 255}},
		{Display{Low: 0.2, High: 0.8, Gamma: 1}, 3, color.RGBA{255, 255, 255, 255}},
		{Display{Low: 0.2, High: 0.8, Gamma: 1}, 1, color.RGBA{85, 170, 255, 255}}, // (0.4, 0.6, 0.8 - 0.2) / 0.6
		{Display{Low: 0, High: 1, Gamma: 2}, 2, color.RGBA{114, 114, 114, 255}},    // 255·√0.2 = 114.04
		{Display{Low: 0, High: 1, Gamma: 1, Channel: 2}, 0, color.RGBA{51, 51, 51, 255}},
	} {
		p := pyramidOf(t, d)
		d.y = 0
		img := image.NewRGBA(image.Rect(0, 0, 8, 1))
		if err := p.View(t.Context(), img, Window(0, 0, 8, 8), tc.display); err != nil {
			t.Fatal(err)
		}
		if got := img.RGBAAt(tc.x, 0); got != tc.want {
			t.Errorf("%+v: %v, want %v", tc.display, got, tc.want)
		}
	}
	for _, tc := range []struct {
		display  Display
		channels int
		want     string
	}{
		{Display{Low: 0.5, High: 0.5, Gamma: 1}, 3, "contrast from 0.5 to 0.5"}, {Display{Low: -1, High: 1, Gamma: 1}, 3, "contrast from -1"}, {Display{High: math.NaN(), Gamma: 1}, 3, "contrast"},
		{Display{High: 1}, 3, "gamma 0"}, {Display{High: 1, Gamma: 1, Channel: 4}, 3, "channel 4"}, {Display{High: 1, Gamma: 1, Channel: 2}, 1, "the photograph is grey"},
	} {
		if err := tc.display.Check(tc.channels); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%+v: %v, want %q", tc.display, err, tc.want)
		}
	}
	if err := Plain.Check(1); err != nil {
		t.Error(err)
	}
}

// TestAutoContrast: of a picture that holds tones from 60 to 200 only.
func TestAutoContrast(t *testing.T) {
	d := noise(200, 200, 1, 8, 1)
	d.row = func(y int, dst []byte) {
		for x := range dst {
			dst[x] = byte(60 + (x*141+y)%141)
		}
	}
	got, err := pyramidOf(t, d).AutoContrast()
	if err != nil || math.Abs(got.Low*255-60) > 2 || math.Abs(got.High*255-200) > 2 {
		t.Errorf("%+v, %v", got, err)
	}
	d.y, d.row = 0, func(_ int, dst []byte) { clear(dst) }
	if got, err := pyramidOf(t, d).AutoContrast(); err != nil || got != Plain {
		t.Errorf("one tone: %+v, %v", got, err)
	}
}

// TestTileErrors: a tile that is missing or damaged is an error that names it.
func TestTileErrors(t *testing.T) {
	p := pyramidOf(t, noise(600, 300, 1, 8, 1))
	load := p.load
	p.load = func(level, column, row int) ([]byte, error) {
		data, err := load(level, column, row)
		if level == 0 && column == 1 && row == 1 {
			data = append([]byte(nil), data...)
			data[len(data)/2] ^= 4
		}
		return data, err
	}
	bad := 0
	p.Each(func(level, column, row int, err error) bool {
		if err != nil {
			bad++
			if !strings.Contains(err.Error(), "level 0, tile 1, 1: tile whose check sum is wrong") {
				t.Error(err)
			}
		}
		return true
	})
	if bad != 1 {
		t.Errorf("%d tiles are at fault, want 1", bad)
	}
	img := image.NewRGBA(image.Rect(0, 0, 60, 30))
	if err := p.View(t.Context(), img, Window(250, 250, 60, 60), Plain); err == nil {
		t.Error("a view of a damaged tile is no error")
	}
	ctx, cancel := context.WithCancel(t.Context())
	rows := 0
	m := func(x, y float64) (float64, float64) {
		if rows++; rows == 60*10+4 { // 4 of them to choose the level, or in the eleventh row
			cancel()
		}
		return x, y
	}
	if err := p.View(ctx, img, m, Plain); !errors.Is(err, context.Canceled) || rows > 60*12 {
		t.Errorf("after %d pixels of 1800: %v", rows, err)
	}
}

// TestScaleBar: 1, 2 or 5 times a power of ten, at most a third of the view, and drawn as long as it says.
func TestScaleBar(t *testing.T) {
	for view, want := range map[float64]string{30000: "10 µm", 29000: "5 µm", 150e3: "50 µm", 61e3: "20 µm", 7e6: "2 mm", 900: "200 nm", 3.0: "1 nm"} {
		if got := LengthText(BarLength(view)); got != want {
			t.Errorf("a view of %g nm: %s, want %s", view, got, want)
		}
	}
	img := image.NewRGBA(image.Rect(0, 0, 600, 400))
	for i := range img.Pix {
		img.Pix[i] = 100
	}
	DrawScaleBar(img, 100) // 60 µm wide: a bar of 20 µm is 200 px
	longest := 0
	for y := range 400 {
		run := 0
		for x := range 600 {
			if img.RGBAAt(x, y) == (color.RGBA{255, 255, 255, 255}) {
				run++
				longest = max(longest, run)
			} else {
				run = 0
			}
		}
	}
	if longest != 200 {
		t.Errorf("the bar is %d px long, want 200", longest)
	}
}

// TestPaint: what is painted is what the polygon covers, by the exact test of layout/geom; a hole stays free, polygons of
// either sense fill, and what lies partly or wholly outside the view does no harm.
func TestPaint(t *testing.T) {
	ring := geom.Box(10, 10, 40, 40).Ring()
	hole := geom.Box(20, 20, 30, 30).Ring()
	reversed := geom.Ring{hole[3], hole[2], hole[1], hole[0]}
	for name, polygons := range map[string][]geom.Polygon{
		"ring with a hole": {{ring, reversed}},
		"clockwise":        {{reversed}},
		"two that overlap": {{ring}, {{{X: 30, Y: 30}, {X: 30, Y: 55}, {X: 55, Y: 30}}}},
		"partly outside":   {{{{X: -500, Y: 5}, {X: 20, Y: -300}, {X: 25, Y: 45}}}},
		"outside":          {{geom.Box(100, 100, 120, 130).Ring()}, {geom.Box(-30, -30, -10, -10).Ring()}},
	} {
		img := image.NewRGBA(image.Rect(0, 0, 60, 60))
		Paint(img, InkFor(0, "poly"), polygons, func(p geom.Point) (float64, float64) { return float64(p.X), 60 - float64(p.Y) })
		for y := range 60 {
			for x := range 60 {
				// Only points a pixel from every edge: those on one are painted by part.
				inside, outside := false, true
				for _, pg := range polygons {
					corners := [4]geom.Location{}
					for i, c := range []geom.Point{{X: x - 1, Y: 60 - y + 1}, {X: x + 2, Y: 60 - y + 1}, {X: x - 1, Y: 60 - y - 2}, {X: x + 2, Y: 60 - y - 2}} {
						corners[i] = pg.Locate(c)
					}
					inside = inside || corners == [4]geom.Location{geom.Inside, geom.Inside, geom.Inside, geom.Inside}
					outside = outside && corners == [4]geom.Location{geom.Outside, geom.Outside, geom.Outside, geom.Outside}
				}
				painted := img.RGBAAt(x, y).A > 0
				if inside && !painted || outside && painted {
					t.Fatalf("%s: (%d, %d) painted: %v", name, x, y, painted)
				}
			}
		}
	}
	seen := map[Ink]bool{}
	for i := range 42 {
		seen[InkFor(i, "")] = true
	}
	if len(seen) != 42 {
		t.Errorf("%d inks for 42 layers", len(seen))
	}
}
