package main

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/edit"
	"undermetal/layout/geom"
	"undermetal/layout/region"
)

// randomDrawing fills k.dossier with cells in cells, arrays, labels, traced areas, and shapes: rings that cross each other, or
// triangles and rectangles with holes, on layers of their own. Turns are whole quarters, so that nothing is rounded.
func randomDrawing(t *testing.T, r *rand.Rand, crossing bool) {
	t.Helper()
	layers := []string{"diffusion", "poly", "metal1", "via1", "metal2"}
	point := func() geom.Point { return geom.Point{X: r.IntN(20000) - 10000, Y: r.IntN(20000) - 10000} }
	edited(t, func(tx *dossier.Tx) error {
		cells := []int64{dossier.Frame}
		for i := range 3 {
			c := dossier.Cell{Name: fmt.Sprintf("CELL %d", i)}
			if err := tx.AddCell(&c); err != nil {
				return err
			}
			cells = append(cells, c.ID)
		}
		for i, cell := range cells {
			for range 3 + r.IntN(4) {
				s := dossier.Shape{Cell: cell, Layer: layers[r.IntN(len(layers))], Method: "hand"}
				a := point()
				switch {
				case crossing:
					s.Polygon = geom.Polygon{{a, point(), point(), point()}, {point(), point(), point()}}
				case s.Layer == "poly" || s.Layer == "metal2":
					s.Polygon = geom.Polygon{{a, {X: a.X + 1 + r.IntN(5000), Y: a.Y + r.IntN(100)}, {X: a.X - 10 + r.IntN(100), Y: a.Y + 200 + r.IntN(5000)}}}
				default:
					hole := geom.Box(a.X+100, a.Y+100, a.X+200+r.IntN(500), a.Y+300).Ring()
					slices.Reverse(hole)
					s.Polygon = geom.Polygon{geom.Box(a.X, a.Y, a.X+1000+r.IntN(5000), a.Y+500).Ring(), hole}
				}
				if err := tx.AddShape(&s); err != nil {
					return err
				}
			}
			if err := tx.AddLabel(&dossier.Label{Cell: cell, Layer: layers[r.IntN(len(layers))], At: point(), Text: fmt.Sprintf("N<%d>", r.IntN(9))}); err != nil {
				return err
			}
			for _, child := range cells[i+1:] {
				p := dossier.Placement{Parent: cell, Child: child, At: point(), Mirror: r.IntN(2) == 0, Degrees: float64(90 * r.IntN(4)), Columns: 1 + r.IntN(3), Rows: 1 + r.IntN(2)}
				if p.Columns > 1 {
					p.ColumnExtent = geom.Vec{X: 5000.5, Y: 100}
				}
				if p.Rows > 1 {
					p.RowExtent = geom.Vec{X: -20, Y: 7001}
				}
				if err := edit.Place(tx, &p); err != nil {
					return err
				}
			}
		}
		_, err := edit.AddArea(tx, "metal1", geom.Polygon{geom.Box(0, 0, 1000+r.IntN(1000), 500).Ring()})
		return err
	})
}

// flattened says what a dossier draws: of each layer every shape as its area and box, or, covered, as all that is covered, and
// the labels. Traced areas come last.
func flattened(t *testing.T, path string, covered, areas bool) string {
	t.Helper()
	d, err := dossier.OpenToRead(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	lib, err := d.Library()
	if err != nil {
		t.Fatal(err)
	}
	flat, err := layout.Flatten(lib.Cells[0])
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	on := make([][]geom.Polygon, len(lib.Layers))
	flat.Shapes(func(s *layout.Shape, at geom.Transform) bool {
		on[s.Layer] = append(on[s.Layer], at.ApplyPolygon(s.Polygon))
		return true
	})
	for l, pgs := range on {
		if covered {
			pgs = region.Polygons(region.Union(pgs...))
		}
		for _, pg := range pgs {
			lines = append(lines, fmt.Sprint(lib.Layers[l], pg))
		}
	}
	flat.Labels(func(l *layout.Label, at geom.Point, _ string) {
		lines = append(lines, fmt.Sprint(lib.Layers[l.Layer], " ", l.Text, at))
	})
	for _, a := range lib.Traced {
		if areas {
			lines = append(lines, fmt.Sprint("traced ", lib.Layers[a.Layer], a.Polygon))
		}
	}
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}

// TestRoundTrip: what goes out and comes back is the same drawing, flattened: to the point where the format keeps polygons as
// they are (SVG), and by what is covered where it cuts them up (GDSII slits holes, GeoJSON takes apart what crosses itself).
func TestRoundTrip(t *testing.T) {
	for seed := range uint64(drawings()) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Chdir(t.TempDir())
			must(t, "new k.dossier --stack cmos-1p2m")
			crossing := seed%2 == 0
			randomDrawing(t, rand.New(rand.NewPCG(seed, 1)), crossing)
			for _, format := range []struct {
				name           string
				covered, areas bool
			}{{"svg", false, true}, {"gds", true, false}, {"geojson", true, true}} {
				if crossing && format.name != "svg" {
					continue // what is resolved is rounded
				}
				file := "out." + format.name
				must(t, "trace export k.dossier "+file)
				must(t, "new "+format.name+".dossier --stack cmos-1p2m")
				must(t, "trace import "+format.name+".dossier "+file)
				want, got := flattened(t, "k.dossier", format.covered, format.areas), flattened(t, format.name+".dossier", format.covered, format.areas)
				if got != want || want == "" {
					t.Errorf("%s:\n%s\nwant\n%s", format.name, got, want)
				}
				must(t, "trace export "+format.name+".dossier again."+format.name)
				if format.name == "svg" { // then even the file is the same, but for its name
					a, b := read(t, file), read(t, "again."+format.name)
					if strings.Replace(a, `data-name="k"`, `data-name="svg"`, 1) != b {
						t.Errorf("svg differs when written once more")
					}
				}
			}
		})
	}
}

func read(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// TestRoundMask: a random mask that comes in over a photograph, by any kind of map, goes out as the same mask; so does one
// that comes in by the size of its pixels.
func TestRoundMask(t *testing.T) {
	amongPhotos(t)
	r := rand.New(rand.NewPCG(7, 7))
	red, lime := color.RGBA{255, 0, 0, 255}, color.RGBA{0, 255, 0, 255}
	mask := image.NewPaletted(image.Rect(0, 0, 800, 600), color.Palette{color.Black, red, lime})
	for range 60 {
		x, y, c := r.IntN(780), r.IntN(580), uint8(r.IntN(3))
		for dy := range 1 + r.IntN(40) {
			for dx := range 1 + r.IntN(60) {
				if x+dx < 800 && y+dy < 600 {
					mask.SetColorIndex(x+dx, y+dy, c)
				}
			}
		}
	}
	f, err := os.Create("mask.png")
	if err != nil {
		t.Fatal(err)
	}
	if err := png.Encode(f, mask); err != nil {
		t.Fatal(err)
	}
	f.Close()
	for name, register := range map[string]string{
		"calibrated": "",
		"turned":     "--point 0,600=0,0 --point 800,600=0,80",
		"slanted":    "--point 0,600=3,1 --point 800,600=75,31 --point 0,0=-20,50",
		"tilted":     "--map projective --point 0,600=0,0 --point 800,600=80,3 --point 800,0=75,58 --point 0,0=2,60 --point 400,300=39.6,30.2",
		"bent":       "--map spline --point 0,600=0,0 --point 800,600=80,3 --point 800,0=75,58 --point 0,0=2,60 --point 400,300=39,31",
	} {
		d := name + ".dossier"
		must(t, "new "+d+" --stack cmos-1p2m")
		must(t, "shot add "+d+" bare.png")
		must(t, "shot calibrate "+d+" bare --scale 0.1 --sigma 0.001")
		if register != "" {
			must(t, "shot register "+d+" bare "+register)
		}
		must(t, "trace import "+d+" mask.png --over bare --map red=metal1 --map lime=poly --map black=")
		for layer, index := range map[string]uint8{"metal1": 1, "poly": 2} {
			out := name + layer + ".png"
			must(t, "trace export "+d+" "+out+" --layer "+layer+" --over bare")
			if n := differs(t, out, mask, index); n > 0 {
				t.Errorf("%s: %d pixels of %s differ", name, n, layer)
			}
		}
	}
	must(t, "new plain.dossier --stack cmos-1p2m")
	must(t, "trace import plain.dossier mask.png --um-per-unit 0.05 --at=-7,5.5 --map red=metal1 --map lime=poly --map black=")
	said := must(t, "trace export plain.dossier both.png --um-per-pixel 0.05")
	_, call, _ := strings.Cut(said, "undermetal trace import DOSSIER ")
	call = strings.TrimSpace(call)
	must(t, "new again.dossier --stack cmos-1p2m")
	must(t, "trace import again.dossier "+strings.ReplaceAll(call, "'", ""))
	if a, b := flattened(t, "plain.dossier", false, false), flattened(t, "again.dossier", false, false); len(a) == 0 || a != b {
		t.Errorf("by the call that export printed:\n%s\nwant\n%s", b, a)
	}
}

// differs counts the pixels of a mask that are not white where another has an index.
func differs(t *testing.T, name string, want *image.Paletted, index uint8) (n int) {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	got, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	if got.Bounds() != want.Bounds() {
		t.Fatalf("%s: %v", name, got.Bounds())
	}
	for y := range want.Bounds().Dy() {
		for x := range want.Bounds().Dx() {
			if v, _, _, _ := got.At(x, y).RGBA(); (v != 0) != (want.ColorIndexAt(x, y) == index) {
				n++
			}
		}
	}
	return n
}

// TestCorpusTiles: the hand-labelled tiles come in whole over a photograph of their size: as many tracks and vias as the text
// has elements of their colours; written and read again they are the same drawing.
func TestCorpusTiles(t *testing.T) {
	root := corpus(t)
	files, err := filepath.Glob(filepath.Join(root, "sem-tracks", "*.svg"))
	if err != nil || len(files) != 3 {
		t.Fatalf("%d tiles, want 3 (%v)", len(files), err)
	}
	t.Chdir(t.TempDir())
	if err := writeGreyPNG("tile.png", 4096, 3536, func(x, y int) uint8 { return uint8(x ^ y) }); err != nil {
		t.Fatal(err)
	}
	must(t, "new k.dossier --stack cmos-1p2m")
	must(t, "shot add k.dossier tile.png")
	must(t, "shot register k.dossier tile --point 0,3536=0,0 --point 4096,3536=59.8,1.2 --point 0,0=-1,51.6 --map similarity")
	for i, file := range files {
		text := read(t, file)
		tracks, vias := 0, 0
		for _, line := range strings.Split(text, "\n") {
			switch {
			case strings.HasPrefix(line, "<path ") && strings.Contains(line, `fill="lime"`):
				tracks++
			case strings.HasPrefix(line, "<circle ") && strings.Contains(line, `fill="red"`):
				vias++
			}
		}
		said := must(t, "trace import k.dossier "+file+" --over tile --map lime=metal1 --map red=via1")
		for _, want := range []string{fmt.Sprintf("metal1 %8d", tracks), fmt.Sprintf("via1   %8d", vias)} {
			if !strings.Contains(said, want) || tracks == 0 || vias == 0 {
				t.Errorf("%s: %s\nwant %s", file, said, want)
			}
		}
		for _, format := range []string{"svg", "geojson", "gds"} {
			d := fmt.Sprintf("%s%d.dossier", format, i)
			must(t, "trace export k.dossier tile."+format+" --force")
			must(t, "new "+d+" --stack cmos-1p2m")
			must(t, "trace import "+d+" tile."+format)
			if a, b := flattened(t, "k.dossier", true, true), flattened(t, d, true, true); a != b {
				t.Errorf("%s: the drawing is another when it comes back from %s", filepath.Base(file), format)
			}
		}
		must(t, "undo k.dossier")
	}
}

// TestInterruptedImport: wherever an import is interrupted, it leaves nothing.
func TestInterruptedImport(t *testing.T) {
	t.Chdir(t.TempDir())
	must(t, "new k.dossier")
	var b strings.Builder
	b.WriteString(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100">`)
	for i := range 2000 {
		fmt.Fprintf(&b, `<rect x="%d" y="1" width="1" height="1"/>`, i)
	}
	b.WriteString("</svg>")
	if err := os.WriteFile("many.svg", []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	call := strings.Fields("trace import k.dossier many.svg --um-per-unit 1 --layer poly")
	stopped := 0
	for n := int64(0); n < 4; n++ {
		left := new(atomic.Int64)
		left.Store(n)
		var out bytes.Buffer
		if status := runContext(countdown{t.Context(), left}, call, &out, &out); status == exitDone {
			break
		}
		stopped++
		if !strings.Contains(must(t, "info k.dossier"), "       0  shapes") {
			t.Fatalf("something is left:\n%s", out.String())
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	var out bytes.Buffer
	if runContext(ctx, call, &out, &out) == exitDone || stopped == 0 {
		t.Errorf("an import whose context has ended is done: %s", out.String())
	}
}

// TestRimHorizon: beyond the rim a projective map may have its horizon: that is no place. By hand: X = x/w, w = 1 - x/805
// ends at x = 805, 5 px beyond a photograph of 800 × 600 px.
func TestRimHorizon(t *testing.T) {
	amongPhotos(t)
	must(t, "new k.dossier")
	must(t, "shot add k.dossier bare.png")
	w := func(x float64) float64 { return 1 - x/805 }
	call := "shot register k.dossier bare --map projective"
	for _, p := range [][2]float64{{0, 0}, {700, 0}, {700, 600}, {0, 600}} {
		call += fmt.Sprintf(" --point %g,%g=%.9g,%.9g", p[0], p[1], p[0]/w(p[0]), -p[1]/w(p[0]))
	}
	must(t, call)
	for x, want := range map[string]string{"802": "", "812": "(812, 10) px lies beside bare, where its map has a horizon or folds: it is no place of the frame"} {
		svg := fmt.Sprintf(`<svg viewBox="0 0 800 600"><text x="%s" y="10">A</text></svg>`, x)
		if err := os.WriteFile("a.svg", []byte(svg), 0o600); err != nil {
			t.Fatal(err)
		}
		var out bytes.Buffer
		status := run(strings.Fields("trace import k.dossier a.svg --over bare --layer poly"), &out, &out)
		if (want == "") != (status == exitDone) || !strings.Contains(out.String(), want) {
			t.Errorf("x = %s: %s", x, out.String())
		}
	}
}
