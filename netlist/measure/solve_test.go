package measure

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/netlist/measure/field"
)

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
