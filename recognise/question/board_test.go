package question

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/check"
	"undermetal/netlist/extract"
)

const boardStack = `name = "test"

[[layer]]
name = "ndiff"
role = "diffusion"

[[layer]]
name = "pdiff"
role = "diffusion"

[[layer]]
name = "nwell"
role = "well"

[[layer]]
name = "poly"
role = "gate"

[[layer]]
name = "poly2"
role = "gate"

[[layer]]
name  = "contact"
role  = "contact"
joins = ["metal1", "poly2", "poly", "ndiff", "pdiff", "unruly"]

[[layer]]
name = "metal1"
role = "metal"

[[layer]]
name  = "via"
role  = "contact"
joins = ["metal2", "metal1"]

[[layer]]
name = "metal2"
role = "metal"

[[layer]]
name = "pad"
role = "pad"

[[layer]]
name = "unruly"
role = "diffusion"

[[mos]]
model = "nfet"
type  = "n"
where = ["!nwell"]
bulk  = "substrate"
diffusion = "ndiff"

[[mos]]
model = "pfet"
type  = "p"
where = ["nwell"]
bulk  = "nwell"
diffusion = "pdiff"

[[tap]]
where = ["nwell"]
ties  = "nwell"
diffusion = "ndiff"

[[tap]]
where = ["!nwell"]
ties  = "substrate"
diffusion = "pdiff"

[substrate]
type = "p"

[process]
min_feature_nm = 1000
`

// board is a drawing in the making, in nm. Features are 1 µm.
type board struct {
	t   *testing.T
	st  *stack.Stack
	lib *layout.Library
	on  *layout.Cell
}

func newBoard(t *testing.T) *board { return boardOf(t, boardStack) }

func boardOf(t *testing.T, text string) *board {
	t.Helper()
	st, err := stack.Parse("test.stack.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	b := &board{t: t, st: st, lib: &layout.Library{Layers: st.LayerNames()}}
	b.cell("TOP")
	return b
}

// cell begins a cell; what follows is drawn in it. The first is the top cell.
func (b *board) cell(name string) *layout.Cell {
	b.on = &layout.Cell{Name: name}
	b.lib.Cells = append(b.lib.Cells, b.on)
	return b.on
}

func (b *board) layer(name string) layout.Layer {
	l, ok := b.st.LayerNamed(name)
	if !ok {
		b.t.Fatalf("no layer %s", name)
	}
	return l
}

func (b *board) box(layer string, x0, y0, x1, y1 int) {
	b.on.Shapes = append(b.on.Shapes, layout.Shape{Layer: b.layer(layer), Polygon: geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()}})
}

func (b *board) label(layer string, x, y int, text string) {
	b.on.Labels = append(b.on.Labels, layout.Label{Layer: b.layer(layer), At: geom.Point{X: x, Y: y}, Text: text})
}

// plug draws a contact with its middle at a place, and metal over it; net is a label, or empty.
func (b *board) plug(x, y int, net string) {
	b.box("contact", x-500, y-500, x+500, y+500)
	b.box("metal1", x-1000, y-1000, x+1000, y+1000)
	if net != "" {
		b.label("metal1", x, y, net)
	}
}

// mos draws a transistor with an upright gate: its diffusion begins at (x, y), 4 µm of it on either side of a gate of
// length l; w is its width, at least 3 µm. Contacts give its nets; an empty net has a contact, and no label; "-" none.
func (b *board) mos(diff string, x, y, w, l int, drain, gate, source string) {
	b.box(diff, x, y, x+8000+l, y+w)
	b.box("poly", x+4000, y-1000, x+4000+l, y+w+1000)
	b.box("poly", x+4000, y+w+1000, x+4000+max(l, 3000), y+w+4000)
	for _, p := range []struct {
		x, y int
		net  string
	}{{x + 1500, y + w/2, drain}, {x + 6500 + l, y + w/2, source}, {x + 5500, y + w + 2500, gate}} {
		if p.net != "-" {
			b.plug(p.x, p.y, p.net)
		}
	}
}

// place places a cell in the top cell.
func (b *board) place(c *layout.Cell, x, y int) {
	b.lib.Cells[0].Placements = append(b.lib.Cells[0].Placements, layout.Placement{Cell: c, Transform: geom.Move(geom.Point{X: x, Y: y})})
}

// array places a cell in the top cell as an array.
func (b *board) array(c *layout.Cell, columns, rows, dx, dy int) {
	b.lib.Cells[0].Placements = append(b.lib.Cells[0].Placements, layout.Placement{Cell: c, Transform: geom.Identity, Columns: columns, Rows: rows,
		ColumnExtent: geom.Vec{X: float64(dx * (columns - 1))}, RowExtent: geom.Vec{Y: float64(dy * (rows - 1))}})
}

// without returns the board without the shapes of a layer.
func (b *board) without(layer string) *board {
	c := *b
	lib := *b.lib
	lib.Cells = nil
	again := map[*layout.Cell]*layout.Cell{}
	for _, old := range b.lib.Cells {
		cell := *old
		cell.Shapes = slices.DeleteFunc(slices.Clone(old.Shapes), func(s layout.Shape) bool { return s.Layer == b.layer(layer) })
		cell.Placements = slices.Clone(old.Placements)
		again[old] = &cell
		lib.Cells = append(lib.Cells, &cell)
	}
	for _, cell := range lib.Cells {
		for i := range cell.Placements {
			cell.Placements[i].Cell = again[cell.Placements[i].Cell]
		}
	}
	c.lib = &lib
	return &c
}

func (b *board) extract() *extract.Result {
	b.t.Helper()
	res, err := extract.Run(context.Background(), b.lib, b.lib.Cells[0], b.st, extract.Options{Facts: true})
	if err != nil {
		b.t.Fatal(err)
	}
	return res
}

// ask returns the questions of a kind; those of netlist/check are looked for with a tolerance of 300 nm.
func (b *board) ask(kind string, opt Options) []Question {
	b.t.Helper()
	findings, err := check.Run(context.Background(), b.lib, b.lib.Cells[0], b.st, check.Options{ToleranceNm: 300})
	if err != nil {
		b.t.Fatal(err)
	}
	if kind != "" {
		opt.Kinds = []string{kind}
	}
	return mustAsk(b.t, b.extract(), b.st, findings, opt)
}

func mustAsk(t testing.TB, res *extract.Result, st *stack.Stack, checks []check.Finding, opt Options) []Question {
	t.Helper()
	qs, err := Ask(context.Background(), res, st, checks, opt)
	if err != nil {
		t.Fatal(err)
	}
	return qs
}

func mustTell(t testing.TB, res *extract.Result, st *stack.Stack, checks []check.Finding, opt Options) ([]Question, *Told) {
	t.Helper()
	qs, told, err := AskAndTell(context.Background(), res, st, checks, opt)
	if err != nil {
		t.Fatal(err)
	}
	return qs, told
}

// one asks for the only question of a kind.
func (b *board) one(kind string, opt Options) Question {
	b.t.Helper()
	qs := b.ask(kind, opt)
	if len(qs) != 1 {
		for i := range qs {
			b.t.Log(describe(&qs[i]))
		}
		b.t.Fatalf("%d questions about %s, want one", len(qs), kind)
	}
	return qs[0]
}

func odds(q *Question, reading string) float64 {
	for _, r := range q.Readings {
		if r.Reading == reading {
			return r.OddsDb
		}
	}
	panic("no reading " + reading)
}

func sawOf(q *Question, name string) string {
	for i := range q.Evidence {
		if q.Evidence[i].of.name == name {
			return q.Evidence[i].Outcome
		}
	}
	return "not there"
}

// describe writes a question for the log of a test.
func describe(q *Question) string {
	var s strings.Builder
	fmt.Fprintf(&s, "%s ×%d devices %v nets %v\n", q.ID, q.Count, q.Devices, q.Nets)
	for _, r := range q.Readings {
		fmt.Fprintf(&s, "   %-12s %6.1f db  %.4f\n", r.Reading, r.OddsDb, r.Probability)
	}
	for i := range q.Evidence {
		e := &q.Evidence[i]
		mark := " "
		if e.Weighed {
			mark = "*"
		} else if !e.Observed {
			mark = "?"
		}
		fmt.Fprintf(&s, " %s %s %s\n", mark, e.of.name, e.Text)
	}
	fmt.Fprintf(&s, "   next: %s (%.2f bits); %s", q.NextLook.Text, q.NextLook.Bits, q.Note)
	return s.String()
}
