package measure

import (
	"context"
	"math"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
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

// horseshoe draws a gate, 1 long, around a tongue of diffusion a wide that ends b before the diffusion's edge.
func (s *sheet) horseshoe(a, b float64) {
	s.box("diffusion", -3, -3, a+3, b)
	s.add("poly", []float64{-1, -1, a + 1, -1, a + 1, b + 1, a, b + 1, a, 0, 0, 0, 0, b + 1, -1, b + 1})
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
