package check_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/check"
	"undermetal/netlist/extract"
)

func heal(t testing.TB, lib *layout.Library, st *stack.Stack, opt check.HealOptions) []check.Bridge {
	t.Helper()
	bs, err := check.Heal(context.Background(), lib, lib.Cells[0], st, opt)
	if err != nil {
		t.Fatal(err)
	}
	return bs
}

// TestBridges: what closes a gap reaches from edge to edge where they face each other, and 2 nm over
// both, and is refused where it does more.
// The tolerance is 100 nm.
func TestBridges(t *testing.T) {
	const refused = "refused: "
	for _, tc := range []struct {
		name   string
		shapes []drawn
		want   []string // the corners of the shape, from its lowest, leftmost one on, or the beginning of the reason
	}{
		{"facing", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 1080, 100, 2000, 700)}, []string{"998,100 1082,100 1082,500 998,500"}},
		{"upright", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 600, 530, 2000, 900)}, []string{"600,498 1000,498 1000,532 600,532"}},
		{"corner to corner: a stretch of 100 of each edge", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 1030, 510, 2000, 900)}, []string{"998,400 1032,510 1032,610 998,500"}},
		{"facing by 2: as from corner to corner", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 1080, 498, 2000, 900)}, []string{"998,399 1082,499 1082,599 998,499"}},
		{"around a corner, not from an edge of 2", []drawn{ring("metal1", 1031, -48, 1300, -300, 1300, -46, 1031, -46), box("metal1", 800, 32, 1019, 283)}, []string{"1031,-48 1131,-48 1019,34 919,34"}},
		{"poly over diffusion", []drawn{box("poly", 0, 0, 1000, 500), box("poly", 1080, 0, 2000, 500), box("diffusion", 1020, -1000, 1060, 1500)},
			[]string{refused + "it would lie over diffusion, and make a transistor or alter one"}},
		{"diffusion under poly", []drawn{box("diffusion", 0, 0, 1000, 500), box("diffusion", 1080, 0, 2000, 500), box("poly", 1020, -1000, 1060, 1500)},
			[]string{refused + "it would lie over poly, and make a transistor or alter one"}},
		{"diffusion beside a channel", []drawn{box("diffusion", 0, 0, 1000, 500), box("diffusion", 0, 550, 1000, 1000), box("poly", 400, -1000, 600, 2000)},
			[]string{refused + "it would touch a channel", refused + "it would touch a channel"}},
		{"a via over the gap", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 1080, 0, 2000, 500), box("via", 1020, 100, 1060, 140), box("metal2", 1000, -3000, 1080, 400), box("via", 1020, -2900, 1060, -2860), box("metal1", 800, -3000, 1300, -2800)},
			[]string{refused + "it would do more than join these two nets"}},
	} {
		st := testStack(t)
		lib := library(t, st, tc.shapes...)
		bs := heal(t, lib, st, check.HealOptions{ToleranceNm: 100})
		var got []string
		for _, b := range bs {
			if b.Why != "" {
				got = append(got, refused+b.Why)
				if b.Polygon != nil {
					t.Errorf("%s: refused, with a polygon", tc.name)
				}
				continue
			}
			if _, bad := b.Polygon.Fault(); bad {
				t.Errorf("%s: %v", tc.name, b.Polygon)
			}
			got = append(got, corners(b.Polygon))
		}
		ok := len(got) == len(tc.want)
		for i := range min(len(got), len(tc.want)) {
			ok = ok && strings.HasPrefix(got[i], tc.want[i])
		}
		if !ok {
			t.Errorf("%s:\ngot  %q\nwant %q", tc.name, got, tc.want)
		}
	}
}

func corners(pg geom.Polygon) string {
	var out []string
	for _, p := range pg[0] {
		out = append(out, fmt.Sprintf("%d,%d", p.X, p.Y))
	}
	return strings.Join(out, " ")
}

// TestSourceAndDrainStayApart: a gap between the two contacts of a transistor is closed only where both nets bear the same
// label, or --across-labels says so; by way of a third piece, too. The channel of 200 × 500 begins at (900, 0).
func TestSourceAndDrainStayApart(t *testing.T) {
	st := testStack(t)
	transistor := []drawn{box("diffusion", 0, 0, 2000, 500), box("poly", 900, -200, 1100, 700),
		box("contact", 600, 200, 700, 300), box("contact", 1300, 200, 1400, 300), box("metal1", 500, 150, 720, 900), box("metal1", 1280, 150, 1500, 900)}
	near := append(slices.Clone(transistor), box("metal1", 700, 600, 970, 900), box("metal1", 1050, 600, 1300, 900))
	between := append(slices.Clone(transistor), box("metal1", 700, 600, 900, 900), box("metal1", 960, 600, 1020, 900), box("metal1", 1090, 600, 1300, 900))
	gate := append(slices.Clone(transistor), box("contact", 950, 560, 1050, 660), box("metal1", 940, 550, 1210, 670)) // a diode: gate and drain
	for _, tc := range []struct {
		name   string
		shapes []drawn
		labels [2]string
		across bool
		closed int
		open   int
	}{
		{"without labels", near, [2]string{}, false, 0, 1},
		{"one label", near, [2]string{"A", ""}, false, 0, 1},
		{"the same label", near, [2]string{"A", "A"}, false, 1, 0},
		{"across labels", near, [2]string{}, true, 1, 0},
		{"by way of a piece between them", between, [2]string{}, false, 1, 1},
		{"gate and drain", gate, [2]string{}, false, 1, 0},
	} {
		lib := library(t, st, tc.shapes...)
		for i, l := range tc.labels {
			if l != "" {
				label(t, lib, "metal1", 600+800*i, 400, l)
			}
		}
		closed, open := 0, 0
		for _, b := range heal(t, lib, st, check.HealOptions{ToleranceNm: 100, AcrossLabels: tc.across}) {
			switch {
			case b.Why == "":
				closed++
			case strings.HasPrefix(b.Why, "it would join source and drain of the transistor at (") && strings.HasSuffix(b.Why, ") µm, which no label calls one net: --across-labels allows that"):
				open++
			default:
				t.Errorf("%s: %s", tc.name, b.Why)
			}
		}
		if closed != tc.closed || open != tc.open {
			t.Errorf("%s: %d closed, %d left open; want %d and %d", tc.name, closed, open, tc.closed, tc.open)
		}
	}
}

func TestLabelsStayApart(t *testing.T) {
	st := testStack(t)
	three := func(labels ...string) *layout.Library {
		lib := library(t, st, box("metal1", 0, 0, 1000, 500), box("metal1", 1080, 0, 2000, 500), box("metal1", 2050, 0, 3000, 500))
		for i, l := range labels {
			if l != "" {
				label(t, lib, "metal1", 500+1000*i, 100, l)
			}
		}
		return lib
	}
	closed := func(lib *layout.Library, across bool) (n int, why string) {
		for _, b := range heal(t, lib, st, check.HealOptions{ToleranceNm: 100, AcrossLabels: across}) {
			if b.Why == "" {
				n++
			} else {
				why = b.Why
			}
		}
		return n, why
	}
	for _, tc := range []struct {
		labels []string
		across bool
		want   int
	}{
		{[]string{"", "", ""}, false, 2}, {[]string{"A", "", ""}, false, 2}, {[]string{"A", "A", "A"}, false, 2},
		{[]string{"A", "B", ""}, false, 1}, {[]string{"A", "B", ""}, true, 2},
		{[]string{"A", "", "B"}, false, 1}, // the net between can be one with either, not with both
		{[]string{"A", "", "B"}, true, 2},
	} {
		if n, why := closed(three(tc.labels...), tc.across); n != tc.want {
			t.Errorf("%q, across %v: %d closed, want %d; %s", tc.labels, tc.across, n, tc.want, why)
		}
	}
	if _, why := closed(three("A", "", "B"), false); why != "it would join A and B, which have different labels: --across-labels allows that" && why != "it would join B and A, which have different labels: --across-labels allows that" {
		t.Error(why)
	}
}

// TestThirdNet: a gap is not closed across another net, nor along it, though that only reaches into the gap from the side.
func TestThirdNet(t *testing.T) {
	st := testStack(t)
	lib := library(t, st, box("metal1", 0, 0, 1000, 500), box("metal1", 1080, 0, 2000, 500), box("metal1", 1030, 400, 1050, 2000))
	label(t, lib, "metal1", 100, 100, "A")
	label(t, lib, "metal1", 1900, 100, "A")
	label(t, lib, "metal1", 1040, 1900, "T")
	var got []string
	for _, b := range heal(t, lib, st, check.HealOptions{ToleranceNm: 100}) {
		got = append(got, fmt.Sprintf("%d,%d %s", b.At.X, b.At.Y, b.Why))
	}
	want := []string{
		"1000,250 it would touch a third net, T, at (1.03, 0.4) µm",
		"1000,450 it would join A and T, which have different labels: --across-labels allows that",
		"1080,450 it would join A and T, which have different labels: --across-labels allows that",
	}
	if len(got) != 3 || got[0] != want[0] || got[1] != want[1] {
		t.Errorf("got  %q\nwant %q", got, want)
	}
}

func TestHealAt(t *testing.T) {
	st := testStack(t)
	lib := library(t, st, box("metal1", 0, 0, 1000, 500), box("metal1", 1080, 0, 2000, 500), box("metal2", 0, 0, 1000, 500), box("metal2", 1050, 0, 2000, 500))
	only := func(r geom.Rect) bool { return r.Contains(geom.Point{X: 1070, Y: 250}) }
	if bs := heal(t, lib, st, check.HealOptions{ToleranceNm: 100, At: only}); len(bs) != 1 || lib.Layers[bs[0].Layer] != "metal1" {
		t.Error(bs)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := check.Heal(ctx, lib, lib.Cells[0], st, check.HealOptions{ToleranceNm: 100}); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

// TestHealInCells: a gap in a cell is closed in the frame wherever the cell is placed.
func TestHealInCells(t *testing.T) {
	st := testStack(t)
	cell := library(t, st, box("metal1", 0, 0, 1000, 500), box("metal1", 1080, 0, 2000, 500)).Cells[0]
	cell.Name = "CELL"
	lib := library(t, st)
	lib.Cells = append(lib.Cells, cell)
	lib.Cells[0].Placements = []layout.Placement{{Cell: cell, Transform: geom.NewTransform(false, 1, 90, geom.Point{X: 5000}), Columns: 3, ColumnExtent: geom.Vec{X: 8000}}}
	var got []string
	for _, b := range heal(t, lib, st, check.HealOptions{ToleranceNm: 100}) {
		got = append(got, corners(b.Polygon))
	}
	want := []string{"4500,998 5000,998 5000,1082 4500,1082", "8500,998 9000,998 9000,1082 8500,1082", "12500,998 13000,998 13000,1082 12500,1082"}
	if !slices.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
}

// TestSlantedGaps: bars in any direction, whose edges pass between the points of the grid, become one.
func TestSlantedGaps(t *testing.T) {
	st := testStack(t)
	for seed := range uint64(200) {
		rnd := rand.New(rand.NewPCG(seed, 17))
		dx, dy := 300+rnd.IntN(3000), 300+rnd.IntN(3000)
		gap := 5 + rnd.IntN(60)
		l := math.Hypot(float64(dx), float64(dy))
		off := func(by float64) geom.Point {
			return geom.Vec{X: -float64(dy) * by / l, Y: float64(dx) * by / l}.Round()
		}
		bar := func(from, to float64, start geom.Point) drawn { // the second one lies beside the middle of the first
			a, b, w := off(from).Add(start), off(to).Add(start), geom.Point{X: dx - 2*start.X, Y: dy - 2*start.Y}
			return drawn{"metal1", geom.Polygon{{a, a.Add(w), b.Add(w), b}}}
		}
		lib := library(t, st, bar(0, 400, geom.Point{}), bar(400+float64(gap), 900, geom.Point{X: dx / 5, Y: dy / 5}))
		bs := heal(t, lib, st, check.HealOptions{ToleranceNm: 100})
		if len(bs) != 1 || bs[0].Why != "" || max(bs[0].Gap-gap, gap-bs[0].Gap) > 2 {
			t.Fatalf("seed %d: a gap of %d along (%d, %d): %+v", seed, gap, dx, dy, bs)
		}
		// A photograph that is registered anew turns and rounds them; they stay one.
		top := lib.Cells[0]
		ask := []layout.Place{{Layer: bs[0].Layer}, {Layer: bs[0].Layer}}
		turn := geom.NewTransform(false, 1, 0.7, geom.Point{})
		top.Shapes = append(top.Shapes, layout.Shape{Layer: bs[0].Layer, Polygon: bs[0].Polygon})
		for i := range top.Shapes {
			top.Shapes[i].Polygon = turn.ApplyPolygon(top.Shapes[i].Polygon)
			if i < len(ask) {
				r := top.Shapes[i].Polygon[0]
				ask[i].At = geom.Point{X: (r[0].X + r[2].X) / 2, Y: (r[0].Y + r[2].Y) / 2}
			}
		}
		res, err := extract.Run(context.Background(), lib, top, st, extract.Options{Ask: ask})
		if err != nil || res.Asked[0].Net != res.Asked[1].Net {
			t.Fatalf("seed %d: turned, they are apart: %v", seed, err)
		}
	}
}

// broken is a tracing of wires in rows, cut by gaps; in some of these another net stands, or reaches into them.
type broken struct {
	lib  *layout.Library
	at   []layout.Place // a place of each piece
	nets []int          // the piece that each one is to be joined with, by hand
}

// breakWires makes rows along x, cut by gaps; turned takes each place to where it is drawn. All lengths are in units of the
// turn.
func breakWires(t testing.TB, rnd *rand.Rand, st *stack.Stack, tol int, turned func(x, y int) geom.Point) broken {
	b := broken{lib: library(t, st)}
	top := b.lib.Cells[0]
	metal := layerOf(t, b.lib, "metal1")
	draw := func(x0, y0, x1, y1 int, name string) int {
		top.Shapes = append(top.Shapes, layout.Shape{Layer: metal, Polygon: geom.Polygon{{turned(x0, y0), turned(x1, y0), turned(x1, y1), turned(x0, y1)}}})
		at := turned((x0+x1)/2, (y0+y1)/2)
		top.Labels = append(top.Labels, layout.Label{Layer: metal, At: at, Text: name})
		b.at = append(b.at, layout.Place{Layer: metal, At: at})
		b.nets = append(b.nets, len(b.nets))
		return len(b.nets) - 1
	}
	for row := range 4 {
		y, x := row*10*tol, 0
		last := -1
		for range 2 + rnd.IntN(5) {
			w := 4*tol + 2*rnd.IntN(5*tol)
			piece := draw(x, y, x+w, y+2*tol, fmt.Sprintf("ROW%d", row)) // equal names may become one net
			if last >= 0 {
				b.nets[piece] = last
			}
			x += w
			gap := 1 + rnd.IntN(2*tol)
			last = b.nets[piece]
			if gap > tol {
				last = -1
			}
			if gap > 4 && rnd.IntN(2) == 0 { // of another name, and so of another net
				tip := y - tol + rnd.IntN(3*tol) // below, in the middle of, or above the wire's far edge
				end := tip + 4*tol
				if tip <= y+2*tol && end >= y {
					last = -1
				}
				left := x + 1 + rnd.IntN(gap-3)
				draw(left, tip, left+2, end, fmt.Sprintf("OTHER%d", len(b.nets)))
			}
			x += gap
		}
	}
	return b
}

// TestHealingJoinsWhatIsMeant: of random tracings, those pieces become one net that follow each other in a row within the
// tolerance with nothing of another net between them, and no others; healing once more finds nothing; the order of shapes
// does not matter.
func TestHealingJoinsWhatIsMeant(t *testing.T) {
	st := testStack(t)
	const tol = 50
	for seed := range uint64(150) {
		rnd := rand.New(rand.NewPCG(seed, 7))
		turn, scale := func(x, y int) geom.Point { return geom.Point{X: x, Y: y} }, 1
		switch seed % 3 {
		case 1:
			turn = func(x, y int) geom.Point { return geom.Point{X: -y, Y: x} }
		case 2: // by 3-4-5, which is exact
			turn, scale = func(x, y int) geom.Point { return geom.Point{X: 4*x - 3*y, Y: 3*x + 4*y} }, 5
		}
		b := breakWires(t, rnd, st, tol, turn)
		top := b.lib.Cells[0]
		opt := check.HealOptions{ToleranceNm: tol * scale}
		bridges := heal(t, b.lib, st, opt)
		rnd.Shuffle(len(top.Shapes), func(i, j int) { top.Shapes[i], top.Shapes[j] = top.Shapes[j], top.Shapes[i] })
		if again := heal(t, b.lib, st, opt); !slices.Equal(texts(again), texts(bridges)) {
			t.Fatalf("seed %d: another order of shapes gives\n%q\n%q", seed, texts(again), texts(bridges))
		}
		for _, br := range bridges {
			if br.Why == "" {
				top.Shapes = append(top.Shapes, layout.Shape{Layer: br.Layer, Polygon: br.Polygon})
			}
		}
		res, err := extract.Run(context.Background(), b.lib, top, st, extract.Options{Ask: b.at})
		if err != nil {
			t.Fatal(err)
		}
		for i := range b.at {
			for k := range i {
				if is, want := res.Asked[i].Net == res.Asked[k].Net, b.nets[i] == b.nets[k]; is != want {
					t.Fatalf("seed %d: pieces %d and %d at %v and %v are one net: %v, want %v", seed, i, k, b.at[i].At, b.at[k].At, is, want)
				}
			}
		}
		for _, br := range heal(t, b.lib, st, opt) {
			if br.Why == "" {
				t.Logf("%q", texts(bridges))
				t.Fatalf("seed %d: healed twice: %v", seed, br)
			}
		}
	}
}

func texts(bs []check.Bridge) (out []string) {
	for _, b := range bs {
		out = append(out, fmt.Sprint(b.At, b.Gap, b.Polygon, b.Why))
	}
	return out
}
