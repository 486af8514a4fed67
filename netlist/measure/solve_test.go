package measure

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"undermetal/layout"
	"undermetal/layout/gds"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/netlist/measure/field"
)

const solveStack = `
name = "solve"
[[layer]]
name = "diffusion"
role = "diffusion"
[[layer]]
name = "poly"
role = "gate"
[[layer]]
name = "metal1"
role = "metal"
[[layer]]
name = "contact"
role = "contact"
joins = ["metal1", "poly", "diffusion"]
[[layer]]
name = "body"
role = "mark"
[[layer]]
name = "head"
role = "mark"
[[mos]]
model = "n"
type = "n"
bulk = "substrate"
[[resistor]]
model = "rpoly"
body = "poly"
where = ["body", "!head"]
sheet_ohm = 25
`

func parsedStack(t testing.TB, text string) *stack.Stack {
	t.Helper()
	st, err := stack.Parse("solve.stack.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return st
}

// sheet is a drawing in the making. Corners are in units of the figure.
type sheet struct {
	t    testing.TB
	st   *stack.Stack
	cell *layout.Cell
	unit float64 // nm
}

func newSheet(t testing.TB, unit float64) *sheet {
	return &sheet{t, parsedStack(t, solveStack), &layout.Cell{Name: "TOP"}, unit}
}

func (s *sheet) add(layer string, rings ...[]float64) {
	l, ok := s.st.LayerNamed(layer)
	if !ok {
		s.t.Fatalf("no layer %s", layer)
	}
	var pg geom.Polygon
	for _, xy := range rings {
		var r geom.Ring
		for i := 0; i < len(xy); i += 2 {
			r = append(r, geom.Point{X: int(math.Round(xy[i] * s.unit)), Y: int(math.Round(xy[i+1] * s.unit))})
		}
		pg = append(pg, r)
	}
	s.cell.Shapes = append(s.cell.Shapes, layout.Shape{Layer: l, Polygon: pg})
}

func (s *sheet) box(layer string, x0, y0, x1, y1 float64) {
	s.add(layer, []float64{x0, y0, x1, y0, x1, y1, x0, y1})
}

// frame is a box with a hole.
func (s *sheet) frame(layer string, x0, y0, x1, y1, width float64) {
	s.add(layer, []float64{x0, y0, x1, y0, x1, y1, x0, y1},
		[]float64{x0 + width, y0 + width, x0 + width, y1 - width, x1 - width, y1 - width, x1 - width, y0 + width})
}

func (s *sheet) label(layer string, x, y float64, text string) {
	l, _ := s.st.LayerNamed(layer)
	s.cell.Labels = append(s.cell.Labels, layout.Label{Layer: l, At: geom.Point{X: int(x * s.unit), Y: int(y * s.unit)}, Text: text})
}

func (s *sheet) lib(top *layout.Cell) *layout.Library {
	lib := &layout.Library{Layers: s.st.LayerNames(), Cells: []*layout.Cell{top}}
	if top != s.cell {
		lib.Cells = append(lib.Cells, s.cell)
	}
	return lib
}

func (s *sheet) extract(top *layout.Cell, strips int) *extract.Result {
	s.t.Helper()
	res, err := extract.Run(s.t.Context(), s.lib(top), top, s.st, extract.Options{Outlines: true, Strips: strips})
	if err != nil {
		s.t.Fatal(err)
	}
	return res
}

func solveOf(t testing.TB, res *extract.Result, opt SolveOptions) *Solution {
	t.Helper()
	sol, err := Solve(context.Background(), res, opt)
	if err != nil {
		t.Fatal(err)
	}
	return sol
}

// bent draws a gate bent by 90° around the inner corner (1, 1) over diffusion that ends a and b from it.
func (s *sheet) bent(a, b float64) {
	s.box("diffusion", -3, -3, 1+a, 1+b)
	s.add("poly", []float64{0, 0, 2 + a, 0, 2 + a, 1, 1, 1, 1, 2 + b, 0, 2 + b})
}

// ring draws an enclosed gate of some width around a rectangle of a × b.
func (s *sheet) ring(a, b, width float64) {
	s.box("diffusion", -9, -9, 9+a, 9+b)
	s.frame("poly", -width, -width, a+width, b+width, width)
}

// waffle draws 3 × 3 cells of diffusion between gates, d wide, gates 1 wide, like fields of a chess-board on two nets.
func (s *sheet) waffle(d float64) {
	p := d + 1
	end := 3*d + 2
	s.box("diffusion", 0, 0, end, end)
	for _, at := range []float64{d, d + p} {
		s.box("poly", at, -1, at+1, end+1)
		s.box("poly", -1, at, end+1, at+1)
	}
	m, k := d/2, d/8
	for x := range 3 {
		for y := range 3 {
			cx, cy := m+p*float64(x), m+p*float64(y)
			s.box("contact", cx-k, cy-k, cx+k, cy+k)
		}
	}
	far := m + 2*p
	s.add("metal1", []float64{m - k, m, m, m - k, far + k, far, far, far + k})
	s.add("metal1", []float64{far + k, m, far, m - k, m - k, far, m, far + k})
	s.frame("metal1", -4, -4, end+4, end+4, 1)
	mid := m + p
	s.box("metal1", mid-k, -4, mid+k, m+k)
	s.box("metal1", mid-k, far-k, mid+k, end+4)
	s.box("metal1", -4, mid-k, m+k, mid+k)
	s.box("metal1", far-k, mid-k, end+4, mid+k)
}

// trapezoid draws a straight gate, 1 long, over diffusion that widens under it from w to v.
func (s *sheet) trapezoid(w, v float64) {
	a, b := (v-w)/2, (v+w)/2
	s.add("diffusion", []float64{a, -2, b, -2, b, 0, v, 1, v, 3, 0, 3, 0, 1, a, 0})
	s.box("poly", -1, 0, v+1, 1)
}

// serpentine draws a resistor of n legs from 0 to 10, 1 wide and 1 apart, that is joined at their ends, and ends at 0, if n is odd at 0
// and 10.
func (s *sheet) serpentine(n int) {
	for i := range n {
		y := float64(2 * i)
		s.box("poly", 0, y, 10, y+1)
		if i < n-1 {
			x := float64(9 * (1 - i%2))
			s.box("poly", x, y, x+1, y+3)
		}
	}
	top := float64(2*n - 1)
	s.box("body", 0, -.5, 10, top+.5)
	s.box("poly", -2, 0, 0, 1)
	if n%2 == 0 {
		s.box("poly", -2, top-1, 0, top)
	} else {
		s.box("poly", 10, top-1, 12, top)
	}
}

// dogbone draws a bar 1 wide and l long between two square heads h, each with a square end k in its middle.
func (s *sheet) dogbone(l, h, k float64) {
	s.box("poly", -1, -.5, l+1, .5)
	s.box("body", -h-1, -h, l+h+1, h)
	for _, x := range []float64{-h / 2, l + h/2} {
		s.box("poly", x-h/2, -h/2, x+h/2, h/2)
		s.box("head", x-k/2, -k/2, x+k/2, k/2)
	}
}

// TestSolveDrawn draws gates and resistors and takes them through extraction. What is expected comes from books and from computations
// by other methods, not from here: FEM and FD are finite elements and differences, SC is Schwarz-Christoffel maps (Python).
func TestSolveDrawn(t *testing.T) {
	const hall = 0.5587288 // a corner: 1 - 2·ln 2/π, P. M. Hall, Thin Solid Films 1 (1968) 277, from memory; confirmed by FEM and FD
	for _, x := range []struct {
		name   string
		draw   func(*sheet)
		want   float64 // W/L; squares of a resistor
		tol    float64 // relative
		simple float64 // by the rule: half the border with source and drain, over area over that
		kind   netlist.Kind
		source string
	}{
		{"bent, arms 1/4", func(s *sheet) { s.bent(.25, .25) }, 1.033622, 2e-6, 1.5, netlist.NMOS, "FEM"},
		{"bent, arms 2 and 1", func(s *sheet) { s.bent(2, 1) }, 3.558626, 2e-6, 4, netlist.NMOS, "FEM"},
		{"bent, arms 5", func(s *sheet) { s.bent(5, 5) }, 10 + hall, 1e-6, 11, netlist.NMOS, "dual of Hall's corner"},
		{"square ring d/L = 1", func(s *sheet) { s.ring(1, 1, 1) }, 6.215547, 2e-6, 8, netlist.NMOS, "SC"},
		{"square ring d/L = 2", func(s *sheet) { s.ring(2, 2, 1) }, 10.234093, 2e-6, 12, netlist.NMOS, "SC; square coaxial line, F. Bowman 1935, from memory"},
		{"square ring d/L = 4", func(s *sheet) { s.ring(4, 4, 1) }, 18.234914, 2e-6, 20, netlist.NMOS, "SC"},
		{"rectangular ring 1 × 3", func(s *sheet) { s.ring(1, 3, 1) }, 10.225288, 3e-6, 12, netlist.NMOS, "FEM"},
		{"waffle 3 × 3, d/L = 2", func(s *sheet) { s.waffle(2) }, 12*2 + 4*0.558728, 2e-6, 0, netlist.NMOS,
			"12 straight strips and 4 crossings: SC by symmetry, one crossing by FEM"},
		{"trapezoid 2 to 4", func(s *sheet) { s.trapezoid(2, 4) }, 2.558523, 2e-6, 3, netlist.NMOS, "SC"},
		{"trapezoid 2 to 3", func(s *sheet) { s.trapezoid(2, 3) }, 2.372565, 2e-6, 2.5, netlist.NMOS, "SC"},
		{"serpentine, 2 legs", func(s *sheet) { s.serpentine(2) }, 20.11265, 2e-6, 0, netlist.Resistor, "FEM"},
		{"serpentine, 3 legs", func(s *sheet) { s.serpentine(3) }, 30.22530, 2e-6, 0, netlist.Resistor, "FEM"},
		{"serpentine, 5 legs", func(s *sheet) { s.serpentine(5) }, 50.45061, 2e-6, 0, netlist.Resistor, "FEM"},
		{"dog-bone 3/1", func(s *sheet) { s.dogbone(6, 3, 1) }, 6 + 2*0.614730, 2e-6, 0, netlist.Resistor, "FEM, FD"},
		{"dog-bone 2/1", func(s *sheet) { s.dogbone(5, 2, 1) }, 5 + 2*0.384434, 2e-6, 0, netlist.Resistor, "FEM, FD"},
	} {
		s := newSheet(t, 1000)
		x.draw(s)
		res, cut := s.extract(s.cell, 1), s.extract(s.cell, 7)
		sol := solveOf(t, res, SolveOptions{})
		if len(res.Circuit.Devices) != 1 || sol.Solved != 1 {
			t.Errorf("%s: %d devices, %d solved; %v %+v", x.name, len(res.Circuit.Devices), sol.Solved, res.Warnings, res.Circuit.Devices)
			continue
		}
		if len(cut.Outlines) != 1 || normalise(&cut.Outlines[0]).key != normalise(&res.Outlines[0]).key {
			t.Errorf("%s: seven strips see another outline than one:\n%+v\n%+v", x.name, cut.Outlines, res.Outlines)
		}
		d := &res.Circuit.Devices[0]
		got := d.Ratio
		if d.Kind == netlist.Resistor {
			got = 1 / got
			within(t, x.name+", ohm", d.Value, 25*x.want, x.tol)
		}
		if d.Kind != x.kind {
			t.Errorf("%s: a %v", x.name, d.Kind)
		}
		within(t, x.name+" ("+x.source+")", got, x.want, x.tol)
		if x.simple > 0 {
			within(t, x.name+", simple", d.W/d.L, x.simple, 1e-9)
		}
		if !(sol.Errors[0] > 0 && sol.Errors[0] <= DefaultTolerance) {
			t.Errorf("%s: error %g", x.name, sol.Errors[0])
		}
	}
}

// TestSolveTurned: an array of a bent gate in all eight ways is one shape, and each gets the same figure.
func TestSolveTurned(t *testing.T) {
	s := newSheet(t, 1000)
	s.bent(2, 1)
	top := &layout.Cell{Name: "ARRAY"}
	for i := range 8 {
		top.Placements = append(top.Placements, layout.Placement{Cell: s.cell, Columns: 3, ColumnExtent: geom.Vec{X: 60000},
			Transform: geom.NewTransform(i >= 4, 1, 90*float64(i%4), geom.Point{X: 7, Y: 30000 * i})})
	}
	res := s.extract(top, 0)
	sol := solveOf(t, res, SolveOptions{Workers: 2})
	if sol.Shapes != 1 || sol.Solved != 24 {
		t.Fatalf("%d shapes solved for %d devices, want 1 and 24", sol.Shapes, sol.Solved)
	}
	for i := range res.Circuit.Devices {
		if d := &res.Circuit.Devices[i]; d.Ratio != res.Circuit.Devices[0].Ratio {
			t.Errorf("%v: %v", d.At, d.Ratio)
		}
	}
	within(t, "bent, arms 2 and 1 (FEM)", res.Circuit.Devices[0].Ratio, 3.558626, 2e-6)
}

// TestSolveLeavesStraight: a straight gate and a plain bar have no outline and keep their figures.
func TestSolveLeavesStraight(t *testing.T) {
	s := newSheet(t, 1000)
	s.box("diffusion", 0, 0, 3, 9)
	s.box("poly", -1, 4, 4, 5)
	s.box("poly", 10, 0, 20, 1)
	s.box("body", 11, -1, 19, 2)
	res := s.extract(s.cell, 3)
	if len(res.Outlines) > 0 {
		t.Errorf("%+v", res.Outlines)
	}
	if sol := solveOf(t, res, SolveOptions{}); sol.Solved != 0 || len(res.Circuit.Devices) != 2 {
		t.Errorf("%d solved, %+v", sol.Solved, res.Circuit.Devices)
	}
	for _, d := range res.Circuit.Devices {
		if d.Ratio != 0 || d.Kind == netlist.Resistor && d.Value != 200 {
			t.Errorf("%+v", d)
		}
	}
}

// TestSolveThreeNets: a T of gate between three nets. By symmetry both lower pairs are equal; what goes into one net from the other two
// together is the conductance of that net against both, for which there is another drawing, with these two joined.
func TestSolveThreeNets(t *testing.T) {
	draw := func(joined bool) *extract.Result {
		s := newSheet(t, 1000)
		s.box("diffusion", -6, -4, 6, 4)
		s.add("poly", []float64{-7, 0, 7, 0, 7, 1, .5, 1, .5, 5, -.5, 5, -.5, 1, -7, 1})
		if joined {
			s.box("contact", -3, 2, -2, 3)
			s.box("contact", 2, 2, 3, 3)
			s.box("metal1", -3, 2, 3, 3)
		}
		s.label("diffusion", 0, -2, "LOW")
		return s.extract(s.cell, 0)
	}
	three, two := draw(false), draw(true)
	if sol := solveOf(t, three, SolveOptions{}); sol.Solved != 3 || sol.Shapes != 1 {
		t.Fatalf("%d solved of %d shapes", sol.Solved, sol.Shapes)
	}
	solveOf(t, two, SolveOptions{})
	low, other := 0.0, 0.0
	var lows []float64
	for _, d := range three.Circuit.Devices {
		if named(three, d.Terminals[netlist.Drain]) == "LOW" || named(three, d.Terminals[netlist.Source]) == "LOW" {
			low += d.Ratio
			lows = append(lows, d.Ratio)
		} else {
			other = d.Ratio
		}
	}
	if len(lows) != 2 {
		t.Fatal(lows)
	}
	within(t, "both halves", lows[0], lows[1], 2e-6)
	within(t, "low against both", low, two.Circuit.Devices[0].Ratio, 4e-6)
	if !(other > 0) {
		t.Errorf("nothing between the upper nets: %g", other)
	}
}

func named(res *extract.Result, n netlist.Net) string { return res.Circuit.Nets[n].Name }

// TestNotSolved: source and drain that meet in a corner of the channel have no resistance between them. The simple figure stays, with
// a warning that says where.
func TestNotSolved(t *testing.T) {
	s := newSheet(t, 1000)
	s.box("diffusion", 0, 0, 4, 4)
	s.add("poly", []float64{2, 2, 5, 2, 5, 5, 2, 5}) // below and left of it one L of diffusion
	s.box("diffusion", 0, 0, 2, 4)
	s.add("poly", []float64{-1, 1, 2, 1, 2, 2, -1, 2})
	res := s.extract(s.cell, 0)
	sol := solveOf(t, res, SolveOptions{})
	found := false
	for _, w := range res.Warnings {
		if w.Code == "not-solved" {
			found = true
			if w.Layer != "poly" || !strings.Contains(w.Text, "µm") {
				t.Errorf("%+v", w)
			}
		}
	}
	if !found {
		t.Errorf("%d solved, %+v\n%+v", sol.Solved, res.Circuit.Devices, res.Outlines)
	}
	for i, d := range res.Circuit.Devices {
		if d.W == 0 || d.L == 0 || (d.Ratio == 0) != (sol.Errors[i] == 0) {
			t.Errorf("%+v", d)
		}
	}
}

// TestSolveEnds: an ended context ends it.
func TestSolveEnds(t *testing.T) {
	s := newSheet(t, 1000)
	s.bent(2, 1)
	res := s.extract(s.cell, 0)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Solve(ctx, res, SolveOptions{}); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if res.Circuit.Devices[0].Ratio != 0 || len(res.Warnings) > 0 && res.Warnings[0].Code == "not-solved" {
		t.Errorf("%+v %+v", res.Circuit.Devices[0], res.Warnings)
	}
	if _, err := Solve(t.Context(), res, SolveOptions{Tolerance: 0.5}); err == nil {
		t.Error("half of it is no tolerance")
	}
}

// TestSolveSlantedStrips: a gate of any angle, cut by strips at any place, has the outline that it has in one strip.
func TestSolveSlantedStrips(t *testing.T) {
	for _, degrees := range []float64{0, 13, 30, 45, 71} {
		s := newSheet(t, 1000)
		s.ring(3, 2, 0.7)
		s.bent(2, 1)
		s.cell.Shapes = append(s.cell.Shapes[:2:2], s.cell.Shapes[3])
		top := &layout.Cell{Name: "TURNED", Placements: []layout.Placement{{Cell: s.cell, Transform: geom.NewTransform(false, 1, degrees, geom.Point{X: 3})}}}
		one := s.extract(top, 1)
		if len(one.Outlines) == 0 {
			t.Fatalf("%g°: no outline", degrees)
		}
		for _, strips := range []int{2, 5, 11, 40} {
			res := s.extract(top, strips)
			if len(res.Outlines) != len(one.Outlines) {
				t.Fatalf("%g°, %d strips: %d outlines, %d in one strip", degrees, strips, len(res.Outlines), len(one.Outlines))
			}
			for i := range res.Outlines {
				if res.Outlines[i].Broken || normalise(&res.Outlines[i]).key != normalise(&one.Outlines[i]).key {
					t.Errorf("%g°, %d strips:\n%+v\n%+v", degrees, strips, res.Outlines[i], one.Outlines[i])
				}
			}
		}
	}
}

// BenchmarkSolveSRAM extracts the published macro without and with all that measures need, and solves; added/plain is what Outlines,
// Solve and Facts add, over extraction's own time, by the shortest times.
func BenchmarkSolveSRAM(b *testing.B) {
	root := os.Getenv("UNDERMETAL_CORPUS")
	if root == "" {
		b.Skip("UNDERMETAL_CORPUS is not set: the published SRAM macro is not here")
	}
	st, err := stack.Load(filepath.Join(root, "ihp-sg13g2/ihp-sg13g2.stack.toml"))
	if err != nil {
		b.Fatal(err)
	}
	f, err := os.Open(filepath.Join(root, "ihp-sg13g2/RM_IHPSG13_1P_256x8_c3_bm_bist.gds"))
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	lib, _, err := gds.Read("macro", f, gds.ForStack(st))
	if err != nil {
		b.Fatal(err)
	}
	top := lib.Tops()[0]
	var took [4]time.Duration // plain, with outlines, with outlines and facts; solving
	keep := func(i int, start time.Time) {
		if d := time.Since(start); took[i] == 0 || d < took[i] {
			took[i] = d
		}
	}
	var sol *Solution
	for b.Loop() {
		for i, opt := range []extract.Options{{}, {Outlines: true}, {Outlines: true, Facts: true}} {
			opt.Workers = 1
			start := time.Now()
			res, err := extract.Run(b.Context(), lib, top, st, opt)
			if err != nil {
				b.Fatal(err)
			}
			keep(i, start)
			if i == 1 {
				start = time.Now()
				if sol, err = Solve(b.Context(), res, SolveOptions{Workers: 1}); err != nil {
					b.Fatal(err)
				}
				keep(3, start)
			}
		}
	}
	plain := took[0].Seconds()
	b.ReportMetric(plain, "plain-s")
	b.ReportMetric(took[3].Seconds(), "solve-s")
	b.ReportMetric((took[1]-took[0]).Seconds()/plain, "outlines/plain")
	b.ReportMetric((took[1]-took[0]+took[3]).Seconds()/plain, "solved/plain")
	b.ReportMetric((took[2]-took[0]+took[3]).Seconds()/plain, "added/plain")
	b.ReportMetric(float64(sol.Solved), "solved")
	b.ReportMetric(float64(sol.Shapes), "shapes")
}

// TestNearlyStraight: W/L by the rule is right to 1e-4 where it is taken instead of a solution: corners of a rectangle moved by a little
// less than 1 % of its shorter side, against the solution.
func TestNearlyStraight(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 5))
	worst, left := 0.0, 0
	for range 40 {
		w, l := 1000+rnd.Float64()*9000, 1000+rnd.Float64()*9000
		lean := func() float64 { return (rnd.Float64() - .5) * 0.009 * min(w, l) }
		ring := []geom.Vec{{X: lean(), Y: lean()}, {X: w + lean(), Y: lean()}, {X: w + lean(), Y: l + lean()}, {X: lean(), Y: l + lean()}}
		o := &extract.Outline{Rings: [][]geom.Vec{ring}, Edges: [][]extract.Border{{{Net: 1}, {Net: netlist.NoNet}, {Net: 2}, {Net: netlist.NoNet}}}}
		n := normalise(o)
		if !n.nearlyStraight() {
			left++
			continue
		}
		r, err := field.Solve(t.Context(), n.fieldShape(), 1e-7)
		if err != nil {
			t.Fatal(err)
		}
		dist := func(a, b geom.Vec) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }
		half := (dist(ring[0], ring[1]) + dist(ring[2], ring[3])) / 2
		simple := half / (math.Abs(ringArea(ring)) / half)
		worst = max(worst, math.Abs(simple/r.Squares()-1))
	}
	if t.Logf("worst %.2g, %d lean too much", worst, left); !(worst < 1e-4) || left > 20 {
		t.Errorf("W/L by the rule is off by %g; %d lean too much", worst, left)
	}
}

// BenchmarkSolve times one bent gate by tolerance, with and without the gradient.
func BenchmarkSolve(b *testing.B) {
	s := newSheet(b, 1000)
	s.bent(2, 1)
	res, err := extract.Run(b.Context(), s.lib(s.cell), s.cell, s.st, extract.Options{Outlines: true})
	if err != nil {
		b.Fatal(err)
	}
	for _, tol := range []float64{1e-3, 1e-4, 1e-6} {
		for _, gradient := range []bool{false, true} {
			b.Run(fmt.Sprintf("tolerance=%g/gradient=%v", tol, gradient), func(b *testing.B) {
				for b.Loop() {
					solveOf(b, res, SolveOptions{Workers: 1, Tolerance: tol, Gradient: gradient})
				}
			})
		}
	}
}

// TestSolveTogether: of fingers that a verdict makes one transistor the W/L is the sum of theirs, be they solved for or straight.
func TestSolveTogether(t *testing.T) {
	draw := func(verdict bool) *extract.Result {
		s := newSheet(t, 1000)
		// a taper under two gates, and a straight part under a third one and a fourth
		s.add("diffusion", []float64{-1, -2, 1, -2, 4, 4, 4, 10, -4, 10, -4, 4})
		for _, y := range []float64{0, 2, 5, 7} {
			s.box("poly", -6, y, 6, y+1)
		}
		s.box("poly", -7, 0, -6, 8)
		for _, y := range []float64{-1.7, 3.5, 8.5} {
			s.box("contact", -.3, y, .3, y+.6)
		}
		s.box("metal1", -.3, -1.7, .3, 9.1)
		for _, y := range []float64{1.2, 6.2} {
			s.box("contact", 1.2, y, 1.8, y+.6)
		}
		s.box("metal1", 1.2, 1.2, 1.8, 6.8)
		s.label("metal1", 0, 0, "S")
		s.label("metal1", 1.5, 3, "D")
		if verdict {
			l, _ := s.st.LayerNamed("poly")
			s.cell.Verdicts = []layout.Verdict{{Layer: layout.Layer(l), At: geom.Point{Y: 500}, Kind: "transistor-or-capacitor", Reading: "transistor"}}
		}
		return s.extract(s.cell, 0)
	}
	apart, one := draw(false), draw(true)
	if sol := solveOf(t, apart, SolveOptions{}); len(apart.Circuit.Devices) != 4 || sol.Solved != 2 {
		t.Fatalf("%d solved of %+v", sol.Solved, apart.Circuit.Devices)
	}
	solveOf(t, one, SolveOptions{})
	sum, fingers := map[int]float64{}, 0
	for _, d := range apart.Circuit.Devices { // those of one L become one
		r := d.Ratio
		if r == 0 {
			r = d.W / d.L
		}
		sum[int(math.Round(d.L))] += r
	}
	for _, d := range one.Circuit.Devices {
		r := d.Ratio
		if r == 0 {
			r = d.W / d.L
		}
		fingers += int(max(d.Fingers, 1))
		within(t, "together", r, sum[int(math.Round(d.L))], 1e-9)
	}
	if fingers != 4 || len(one.Circuit.Devices) >= 4 {
		t.Errorf("%d fingers, %+v", fingers, one.Circuit.Devices)
	}
}
