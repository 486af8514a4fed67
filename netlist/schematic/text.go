package schematic

import (
	"fmt"
	"io"
	"strings"

	"undermetal/netlist"
)

// Arms of a wire at a place.
const (
	armLeft uint8 = 1 << iota
	armRight
	armUp
	armDown
)

var wireRunes = [16]rune{0, '╴', '╶', '─', '╵', '┘', '└', '┴', '╷', '┐', '┌', '┬', '│', '┤', '├', '┼'}

// letters of shapes in a coarse drawing.
var shapeRunes = map[Shape]rune{ResistorShape: 'R', CapacitorShape: 'C', InductorShape: 'L', DiodeShape: 'D', PhotodiodeShape: 'D', VoltageShape: 'V',
	CurrentShape: 'I', BipolarShape: 'Q'}

// WriteText writes one sheet as characters: a transistor is n or p with its gate on one side, other devices a letter. Where a wire
// crosses another without being joined, the one that goes across is interrupted. Rows and columns in which nothing happens are left out.
func (d *Drawing) WriteText(w io.Writer, sheet int) error {
	s := d.Sheets[sheet]
	wide, high := s.Size.Max.X-s.Size.Min.X+1, s.Size.Max.Y-s.Size.Min.Y+1
	c := &canvas{wide: wide, high: high, off: s.Size.Min, arms: make([]uint8, wide*high), over: make([]bool, wide*high), runes: make([]rune, wide*high)}
	for _, wr := range s.Wires {
		for i := 1; i < len(wr.Points); i++ {
			c.wire(wr.Points[i-1], wr.Points[i])
		}
	}
	c.crossings(s)
	for i := range s.Symbols {
		c.symbol(&s.Symbols[i])
	}
	for _, f := range s.Flags {
		c.flag(f)
	}
	if err := c.write(w); err != nil {
		return err
	}
	for _, n := range d.notes(sheet) {
		if _, err := fmt.Fprintln(w, n); err != nil {
			return err
		}
	}
	return nil
}

type canvas struct {
	wide, high int
	off        Point
	arms       []uint8
	over       []bool // wires cross here and are not joined
	runes      []rune // what stands on the wires
}

func (c *canvas) at(p Point) int {
	x, y := p.X-c.off.X, p.Y-c.off.Y
	if x < 0 || y < 0 || x >= c.wide || y >= c.high {
		return -1
	}
	return y*c.wide + x
}

func (c *canvas) arm(p Point, a uint8) {
	if k := c.at(p); k >= 0 {
		c.arms[k] |= a
	}
}

func (c *canvas) put(p Point, r rune) {
	if k := c.at(p); k >= 0 {
		c.runes[k] = r
	}
}

func (c *canvas) write1(p Point, s string) {
	for _, r := range s {
		c.put(p, r)
		p.X++
	}
}

func (c *canvas) wire(a, b Point) {
	way := between(a, b)
	for i := 1; i < len(way); i++ {
		p, q := way[i-1], way[i]
		switch {
		case q.X > p.X:
			c.arm(p, armRight)
			c.arm(q, armLeft)
		case q.X < p.X:
			c.arm(p, armLeft)
			c.arm(q, armRight)
		case q.Y > p.Y:
			c.arm(p, armDown)
			c.arm(q, armUp)
		default:
			c.arm(p, armUp)
			c.arm(q, armDown)
		}
	}
}

// crossings marks the places at which wires cross without a dot.
func (c *canvas) crossings(s *Sheet) {
	for k, a := range c.arms {
		c.over[k] = a == 15
	}
	for _, q := range s.Dots {
		if k := c.at(q.At); k >= 0 {
			c.over[k] = false
		}
	}
}

func (c *canvas) symbol(y *Symbol) {
	if y.Shape == BoxShape {
		b := y.Body
		c.wire(b.Min, Point{b.Max.X, b.Min.Y})
		c.wire(Point{b.Max.X, b.Min.Y}, b.Max)
		c.wire(b.Max, Point{b.Min.X, b.Max.Y})
		c.wire(Point{b.Min.X, b.Max.Y}, b.Min)
		for _, q := range y.Pins {
			if q.Side == Right {
				c.write1(Point{q.At.X - len([]rune(q.Terminal)), q.At.Y}, q.Terminal)
			} else {
				c.write1(Point{q.At.X + 1, q.At.Y}, q.Terminal)
			}
		}
	}
	for _, q := range y.Pins {
		if y.Shape != BoxShape && q.Terminal != "b" {
			c.wire(q.At, y.At)
		}
	}
	if y.Shape != BoxShape {
		r := shapeRunes[y.Shape]
		if y.Shape == MOSShape {
			r = map[netlist.Kind]rune{netlist.NMOS: 'n', netlist.PMOS: 'p', netlist.MOS: 'm'}[y.Kind]
			g := y.Turn.apply(Point{-1, 0})
			c.put(y.At.add(g), map[Turn]rune{GateLeft: '┤', GateRight: '├', GateUp: '┴', GateDown: '┬'}[y.Turn])
		}
		c.put(y.At, r)
	}
	for _, t := range y.Text {
		n := len([]rune(t.S))
		p := t.At
		switch t.Side {
		case Left:
			p.X -= n - 1
		case Up:
			p.X -= n / 2
		}
		c.write1(p, t.S)
	}
}

func (c *canvas) flag(f Flag) {
	text, n := f.Text, len([]rune(f.Text))
	switch f.Kind {
	case SupplyFlag:
		c.wire(f.At, f.At.add(Point{0, -1}))
		c.put(f.At.add(Point{0, -1}), '┬')
	case GroundFlag:
		c.wire(f.At, f.At.add(Point{0, 1}))
		c.put(f.At.add(Point{0, 1}), '┴')
	case PortFlag, SheetFlag:
		c.put(f.At.add(steps[f.Side]), [...]rune{Left: '◁', Right: '▷', Up: '△', Down: '▽'}[f.Side])
	default:
		c.wire(f.At, f.At.add(steps[f.Side]))
	}
	switch f.Side {
	case Left:
		c.write1(f.At.add(Point{-1 - n, 0}), text)
	case Right:
		c.write1(f.At.add(Point{2, 0}), text)
	case Up:
		c.write1(f.At.add(Point{-n / 2, -2}), text)
	case Down:
		c.write1(f.At.add(Point{-n / 2, 2}), text)
	}
}

// write leaves out rows in which wires only go up, and columns in which they only go across.
func (c *canvas) write(w io.Writer) error {
	idle := func(k int, through uint8) bool { return c.runes[k] == 0 && (c.arms[k] == 0 || c.arms[k] == through) }
	keepX, keepY := make([]bool, c.wide), make([]bool, c.high)
	for y := range c.high {
		for x := range c.wide {
			k := y*c.wide + x
			keepY[y] = keepY[y] || !idle(k, armUp|armDown)
			keepX[x] = keepX[x] || !idle(k, armLeft|armRight)
		}
	}
	for y := range c.high {
		if !keepY[y] {
			continue
		}
		var b strings.Builder
		for x := range c.wide {
			if !keepX[x] {
				continue
			}
			k := y*c.wide + x
			switch {
			case c.runes[k] != 0:
				b.WriteRune(c.runes[k])
			case c.arms[k] == 0:
				b.WriteByte(' ')
			case c.over[k]:
				b.WriteRune('│')
			default:
				b.WriteRune(wireRunes[c.arms[k]])
			}
		}
		if _, err := fmt.Fprintln(w, strings.TrimRight(b.String(), " ")); err != nil {
			return err
		}
	}
	return nil
}
