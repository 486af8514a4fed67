package mask

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// picture is a picture in memory.
type picture struct {
	header shot.Header
	rows   [][]byte
	clear  [][]bool
	at     int
}

func (p *picture) Header() *shot.Header { return &p.header }

func (p *picture) Clear() []bool {
	if p.clear == nil {
		return nil
	}
	return p.clear[p.at-1]
}

func (p *picture) Straight() {}

func (p *picture) ReadRow(dst []byte) error {
	if p.at == len(p.rows) {
		return io.EOF
	}
	copy(dst, p.rows[p.at])
	p.at++
	return nil
}

// drawn is a grey picture of text: # is bright.
func drawn(lines ...string) *picture {
	p := &picture{header: shot.Header{Format: "PNG", Width: len(lines[0]), Height: len(lines), Channels: 1, Depth: 8, Orientation: 1}}
	for _, l := range lines {
		row := make([]byte, len(l))
		for i := range l {
			if l[i] == '#' {
				row[i] = 255
			}
		}
		p.rows = append(p.rows, row)
	}
	return p
}

// px places pixels as nm with y upward.
func px(v geom.Vec) geom.Vec { return geom.Vec{X: v.X, Y: -v.Y} }

// Outlines of small masks, by hand.
func TestOutlines(t *testing.T) {
	for _, tc := range []struct {
		name  string
		lines []string
		want  string
	}{
		{"nothing", []string{"..", ".."}, "[]"},
		{"a pixel", []string{"...", ".#.", "..."}, "[{0 [[{1 -1} {1 -2} {2 -2} {2 -1}]]}]"},
		{"all", []string{"##", "##"}, "[{0 [[{0 0} {0 -2} {2 -2} {2 0}]]}]"},
		{"L", []string{"#.", "##"}, "[{0 [[{0 0} {0 -2} {2 -2} {2 -1} {1 -1} {1 0}]]}]"},
		{"two that touch in a corner", []string{"#.", ".#"}, "[{0 [[{0 0} {0 -1} {1 -1} {1 0}]]} {0 [[{1 -1} {1 -2} {2 -2} {2 -1}]]}]"},
		{"the other corner", []string{".#", "#."}, "[{0 [[{1 0} {1 -1} {2 -1} {2 0}]]} {0 [[{0 -1} {0 -2} {1 -2} {1 -1}]]}]"},
		{"ring", []string{"###", "#.#", "###"}, "[{0 [[{0 0} {0 -3} {3 -3} {3 0}] [{1 -1} {2 -1} {2 -2} {1 -2}]]}]"},
		{"ring with an island", []string{"#####", "#...#", "#.#.#", "#...#", "#####"},
			"[{0 [[{2 -2} {2 -3} {3 -3} {3 -2}]]} {0 [[{0 0} {0 -5} {5 -5} {5 0}] [{1 -1} {4 -1} {4 -4} {1 -4}]]}]"},
		{"U, joined below", []string{"#.#", "###"}, "[{0 [[{0 0} {0 -2} {3 -2} {3 0} {2 0} {2 -1} {1 -1} {1 0}]]}]"},
		{"two holes that touch in a corner", []string{"####", "#.##", "##.#", "####"}, "[{0 [[{0 0} {0 -4} {4 -4} {4 0}] [{1 -1} {2 -1} {2 -2} {3 -2} {3 -3} {2 -3} {2 -2} {1 -2}]]}]"},
	} {
		lib, rep, err := Read("test.png", drawn(tc.lines...), Options{Place: px, Layer: "m"})
		if err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprint(rotated(lib.Cells[0].Shapes)); got != tc.want {
			t.Errorf("%s: %s\nwant %s", tc.name, got, tc.want)
		}
		if n := strings.Count(strings.Join(tc.lines, ""), "#"); rep.Layers[0].Pixels != n {
			t.Errorf("%s: %d pixels, want %d", tc.name, rep.Layers[0].Pixels, n)
		}
	}
}

// rotated begins every ring at its upper left corner.
func rotated(shapes []layout.Shape) []layout.Shape {
	for _, s := range shapes {
		for i, r := range s.Polygon {
			k := 0
			for j, p := range r {
				if p.Y > r[k].Y || p.Y == r[k].Y && p.X < r[k].X {
					k = j
				}
			}
			s.Polygon[i] = slices.Concat(r[k:], r[:k])
		}
	}
	return shapes
}

// regions counts the regions that hang together by their sides, by filling one after the other.
func regions(lines []string) (n int) {
	seen := map[[2]int]bool{}
	for y := range lines {
		for x := range lines[y] {
			if lines[y][x] != '#' || seen[[2]int{x, y}] {
				continue
			}
			n++
			todo := [][2]int{{x, y}}
			for len(todo) > 0 {
				p := todo[len(todo)-1]
				todo = todo[:len(todo)-1]
				if p[0] < 0 || p[1] < 0 || p[1] >= len(lines) || p[0] >= len(lines[p[1]]) || lines[p[1]][p[0]] != '#' || seen[p] {
					continue
				}
				seen[p] = true
				todo = append(todo, [2]int{p[0] + 1, p[1]}, [2]int{p[0] - 1, p[1]}, [2]int{p[0], p[1] + 1}, [2]int{p[0], p[1] - 1})
			}
		}
	}
	return n
}

// Any mask makes as many shapes as it has regions, covers its pixels and nothing else, and comes back bit by bit, also
// where a pixel is no whole number of nanometres.
func TestMaskToMask(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width, height := rapid.IntRange(1, 40).Draw(t, "width"), rapid.IntRange(1, 30).Draw(t, "height")
		share := rapid.IntRange(0, 10).Draw(t, "share")
		bits := rapid.SliceOfN(rapid.IntRange(0, 9), width*height, width*height).Draw(t, "bits")
		var lines []string
		for y := range height {
			var b strings.Builder
			for x := range width {
				b.WriteByte("#."[b2i(bits[y*width+x] >= share)])
			}
			lines = append(lines, b.String())
		}
		g := Grid{Left: rapid.Float64Range(-1e8, 1e8).Draw(t, "left"), Top: rapid.Float64Range(-1e8, 1e8).Draw(t, "top"),
			NmPerPx: rapid.Float64Range(1.01, 3000).Draw(t, "nm"), Width: width, Height: height}
		place := func(v geom.Vec) geom.Vec { return geom.Vec{X: g.Left + v.X*g.NmPerPx, Y: g.Top - v.Y*g.NmPerPx} }
		lib, rep, err := Read("test.png", drawn(lines...), Options{Place: place, Layer: "m"})
		if err != nil {
			t.Fatal(err)
		}
		shapes := lib.Cells[0].Shapes
		if want := regions(lines); len(shapes) != want || rep.Layers[0].Polygons != want {
			t.Fatalf("%d shapes, want %d", len(shapes), want)
		}
		for _, s := range shapes {
			for i, r := range s.Polygon {
				if (r.Sense() > 0) != (i == 0) || !r.Manhattan() {
					t.Fatalf("ring %d of %v", i, s.Polygon)
				}
			}
		}
		var b bytes.Buffer
		w, err := Write(&b, lib, nil, g, Colour{}, []Meaning{{White, "m"}})
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for y := range height {
			for x := range width {
				red, _, _, _ := img.At(x, y).RGBA()
				if (red > 0) != (lines[y][x] == '#') {
					t.Fatalf("pixel (%d, %d) is %v in\n%s", x, y, red > 0, strings.Join(lines, "\n"))
				}
				n += b2i(red > 0)
			}
		}
		if w.Pixels[0] != n || rep.Layers[0].Pixels != n || w.Hidden != 0 {
			t.Fatalf("%d pixels written, %d read, want %d; %d hidden", w.Pixels[0], rep.Layers[0].Pixels, n, w.Hidden)
		}
	})
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// A pixel is covered where its centre is: against geom.Polygon.Locate at twice the coordinates, with nm pixels of 2 whose
// centres are whole. On an edge what lies right of it or above it counts, so every centre of a plane that triangles tile
// lies in exactly one of them.
func TestCentres(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		point := func() geom.Point {
			return geom.Point{X: rapid.IntRange(-5, 45).Draw(t, "x"), Y: rapid.IntRange(-45, 5).Draw(t, "y")}
		}
		a, b, c, d := point(), point(), point(), point()
		cell := &layout.Cell{Name: "c"}
		lib := &layout.Library{Layers: []string{"one", "two"}, Cells: []*layout.Cell{cell}}
		g := Grid{NmPerPx: 2, Width: 20, Height: 20}
		covers := func(pg geom.Polygon) (out [20][20]bool) {
			cell.Shapes = []layout.Shape{{Layer: 0, Polygon: pg}}
			var buf bytes.Buffer
			if _, err := Write(&buf, lib, nil, g, Colour{}, []Meaning{{White, "one"}}); err != nil {
				t.Fatal(err)
			}
			img, err := png.Decode(&buf)
			if err != nil {
				t.Fatal(err)
			}
			for y := range 20 {
				for x := range 20 {
					r, _, _, _ := img.At(x, y).RGBA()
					out[y][x] = r > 0
				}
			}
			return out
		}
		quad := geom.Polygon{{a, b, c, d}}
		whole := covers(quad)
		one, two := covers(geom.Polygon{{a, b, c}}), covers(geom.Polygon{{a, c, d}})
		for y := range 20 {
			for x := range 20 {
				centre := geom.Point{X: 2*x + 1, Y: -2*y - 1}
				if at := quad.Locate(centre); at != geom.OnEdge && whole[y][x] != (at == geom.Inside) {
					t.Fatalf("%v: centre %v is %v, painted %t", quad, centre, at, whole[y][x])
				}
				// Where both halves turn the same way they tile the whole.
				if geom.Side(a, b, c)*geom.Side(a, c, d) > 0 {
					if one[y][x] && two[y][x] || (one[y][x] || two[y][x]) != whole[y][x] {
						t.Fatalf("%v: centre %v in halves %t and %t, in the whole %t", quad, centre, one[y][x], two[y][x], whole[y][x])
					}
				}
			}
		}
	})
}

// Threshold and depth: half of the range and more is covered. By hand.
func TestThreshold(t *testing.T) {
	for _, tc := range []struct {
		depth, channels int
		row             []byte
		dark            bool
		want            int // pixels
	}{
		{8, 1, []byte{0, 127, 128, 255}, false, 2},
		{8, 1, []byte{0, 127, 128, 255, 255}, true, 2},
		{16, 1, []byte{0x7f, 0xff, 0x80, 0x00, 0xff, 0xff}, false, 2},
		{8, 3, []byte{127, 127, 127, 128, 128, 128}, false, 1},
		{16, 3, []byte{0x80, 0, 0x80, 0, 0x80, 0}, false, 1},
	} {
		p := &picture{rows: [][]byte{tc.row}, header: shot.Header{Format: "PNG", Width: len(tc.row) * 8 / tc.depth / tc.channels, Height: 1, Channels: tc.channels, Depth: tc.depth, Orientation: 1}}
		_, rep, err := Read("x", p, Options{Place: px, Layer: "m", Dark: tc.dark})
		if err != nil || rep.Layers[0].Pixels != tc.want {
			t.Errorf("%v: %+v, want %d (%v)", tc.row, rep, tc.want, err)
		}
	}
}

// A mask of colours through a file and back; where layers lie over each other the last one shows, and that is counted.
func TestColours(t *testing.T) {
	img := image.NewPaletted(image.Rect(0, 0, 4, 2), color.Palette{color.Black, color.RGBA{255, 0, 0, 255}, color.RGBA{0, 255, 0, 255}, color.RGBA{1, 2, 3, 255}})
	copy(img.Pix, []byte{0, 1, 1, 2, 0, 3, 1, 2})
	path := filepath.Join(t.TempDir(), "mask.png")
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	meanings := []Meaning{{Colour{}, ""}, {Colour{255, 0, 0}, "metal"}, {Colour{0, 255, 0}, "metal"}, {Colour{0, 255, 0}, "via"}}
	read := func(o Options) (*layout.Library, *Report, error) {
		rows, err := shot.Open(context.Background(), path, 0)
		if err != nil {
			t.Fatal(err)
		}
		defer rows.Close()
		o.Place = func(v geom.Vec) geom.Vec { return geom.Vec{X: 10 * v.X, Y: -10 * v.Y} }
		return Read(path, rows, o)
	}
	_, _, err := read(Options{Meanings: meanings})
	if want := path + ": colours of which nobody says what they stand for:\n    #010203: 1 pixels, the first at (1, 1)\n    say what layers the colours stand for, or that they stand for nothing"; err == nil || err.Error() != want {
		t.Errorf("%v\nwant %s", err, want)
	}
	_, _, err = read(Options{Layer: "m"})
	if err == nil || !strings.Contains(err.Error(), "#ff0000: 3 pixels, the first at (1, 0)\n    #00ff00: 2 pixels, the first at (3, 0)\n    #010203: 1") || !strings.HasSuffix(err.Error(), "save it in black and white") {
		t.Error(err)
	}
	lib, rep, err := read(Options{Meanings: meanings, LeaveUnmapped: true})
	if err != nil {
		t.Fatal(err)
	}
	if got := fmt.Sprint(rep.Layers, rep.Unmapped, lib.Layers, lib.Cells[0].Name); got != "[{metal 5 1} {via 2 1}] [#010203: 1 pixels, the first at (1, 1)] [metal via]mask" {
		t.Error(got)
	}
	b.Reset()
	w, err := Write(&b, lib, nil, Grid{NmPerPx: 10, Width: 4, Height: 2}, Colour{}, []Meaning{{Colour{255, 0, 0}, "metal"}, {Colour{0, 255, 0}, "via"}})
	if err != nil || fmt.Sprint(w.Pixels, w.Hidden) != "[3 2] 2" {
		t.Errorf("%+v, %v", w, err)
	}
	back, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []byte{0, 1, 1, 2, 0, 0, 1, 2} {
		if got := back.(*image.Paletted).Pix[i]; got != want {
			t.Errorf("pixel %d has colour %d, want %d", i, got, want)
		}
	}
}

// Around holds the box; by hand.
func TestAround(t *testing.T) {
	if g := Around(geom.Box(5, 7, 105, 32), 10); g != (Grid{5, 32, 10, 10, 3}) {
		t.Error(g)
	}
	if g := Around(geom.EmptyRect(), 10); g.Width != 0 || g.String() != "0 × 0 pixels of 10 nm from (0.000, 0.000) µm on" {
		t.Error(g)
	}
}
