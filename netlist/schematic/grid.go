package schematic

import (
	"errors"
	"slices"

	"undermetal/netlist"
)

// sheet is a sheet on its way.
type sheet struct {
	*plan
	bands []*band
	named map[netlist.Net]bool // that get a name at each pin
	on    map[netlist.Net]int  // how many pins each net has here
	gap   int                  // free tracks between columns
	order []*part              // by symbol of out
	rooms []Box                // by symbol of out: with its texts and the names on its pins
	out   *Sheet
	grid  *grid
}

const (
	leastGap  = 2
	mostGap   = 6
	bandGap   = 3
	rowGap    = 3
	margin    = 3
	rim       = 8 // free tracks left of and above everything
	mostTries = 12
)

func (p *plan) newSheet(parts sheetParts) *sheet {
	s := &sheet{plan: p, bands: parts, named: map[netlist.Net]bool{}, on: map[netlist.Net]int{}, gap: leastGap}
	for _, k := range parts.all() {
		k.nets(func(n netlist.Net) { s.on[n]++ })
		if s.clocked(k) {
			s.on[k.gate]--
		}
	}
	for n, pins := range s.on {
		s.named[n] = pins < 2 || !p.wired(n)
	}
	return s
}

// place makes places of columns and rows, with symbols and the flags of named nets.
func (s *sheet) place() error {
	s.order, s.rooms = s.order[:0], s.rooms[:0]
	y := rim
	for _, b := range s.bands {
		y = s.placeBand(b, y)
	}
	for _, k := range s.order {
		if k.missing != nil && k.missing.Question != "" {
			s.out.Notes = append(s.out.Notes, k.texts[0]+": "+printable(k.missing.Question))
		}
		if k.array != nil {
			s.out.Notes = append(s.out.Notes, s.arrayNotes(k)...)
		}
	}
	return s.newGrid()
}

// placeBand places one band whose upper end is y, and returns its lower end. Boxes beside other parts stand left of them, in the middle
// of their rows.
func (s *sheet) placeBand(b *band, y int) int {
	symbols := make([]Symbol, len(b.parts))
	flags := make([][]Flag, len(b.parts))
	rooms := make([]Box, len(b.parts)) // about the middle of each part
	boxes, others := 0, false
	for _, k := range b.parts {
		if k.shape == BoxShape {
			boxes = max(boxes, k.col+1)
		} else {
			others = true
		}
	}
	column := func(k *part) int {
		if k.shape != BoxShape {
			return k.col + boxes
		}
		return k.col
	}
	spans := func(k *part) bool { return k.shape == BoxShape && others }
	cols := 0
	for i, k := range b.parts {
		symbols[i] = s.symbol(k)
		flags[i] = s.pinFlags(k, &symbols[i])
		cols = max(cols, column(k)+1)
	}
	left, right, top, bottom := make([]int, cols), make([]int, cols), make([]int, b.rows), make([]int, b.rows)
	full := make([]bool, cols)
	tall := 0 // of what spans all rows
	for i, k := range b.parts {
		e := extent(&symbols[i], flags[i])
		rooms[i] = e
		c := column(k)
		full[c] = true
		left[c], right[c] = max(left[c], -e.Min.X), max(right[c], e.Max.X)
		if spans(k) {
			tall = max(tall, e.Max.Y-e.Min.Y+1)
			continue
		}
		top[k.row], bottom[k.row] = max(top[k.row], -e.Min.Y), max(bottom[k.row], e.Max.Y)
	}
	xs, ys := make([]int, cols), make([]int, b.rows)
	x := rim
	for c := range xs {
		if !full[c] {
			continue
		}
		x += left[c]
		xs[c] = x
		x += right[c] + 1 + s.gap
	}
	middles := s.centreTails(b, xs[boxes:], rooms)
	first := y
	for r := range ys {
		y += top[r]
		ys[r] = y
		y += bottom[r] + rowGap
	}
	if short := tall - (y - rowGap - first); short > 0 {
		for r := range ys {
			ys[r] += (short + 1) / 2
		}
		y += short + 1
	}
	for i, k := range b.parts {
		at := Point{xs[column(k)], ys[k.row]}
		if spans(k) {
			at.Y = (first + y - rowGap) / 2
		}
		if x, ok := middles[k]; ok {
			at.X = x
		}
		s.out.Symbols = append(s.out.Symbols, symbols[i].moved(at))
		s.order, s.rooms = append(s.order, k), append(s.rooms, rooms[i].moved(at))
		for _, f := range flags[i] {
			s.out.Flags = append(s.out.Flags, f.moved(at))
		}
	}
	return y + bandGap
}

func (b Box) moved(d Point) Box { return Box{b.Min.add(d), b.Max.add(d)} }

func (f Flag) moved(d Point) Flag {
	f.At, f.Room = f.At.add(d), f.Room.moved(d)
	return f
}

func (y Symbol) moved(d Point) Symbol {
	y.At = y.At.add(d)
	y.Body = y.Body.moved(d)
	y.Pins, y.Text = slices.Clone(y.Pins), slices.Clone(y.Text)
	for i := range y.Pins {
		y.Pins[i].At = y.Pins[i].At.add(d)
	}
	for i := range y.Text {
		y.Text[i].At = y.Text[i].At.add(d)
		y.Text[i].Room = y.Text[i].Room.moved(d)
	}
	return y
}

func extent(y *Symbol, flags []Flag) Box {
	e := y.Body
	for _, t := range y.Text {
		e = e.union(t.Room)
	}
	for _, f := range flags {
		e = e.union(f.Room)
	}
	return e
}

// symbol returns the symbol of a part about the origin.
func (s *sheet) symbol(k *part) Symbol {
	y := Symbol{Shape: k.shape, Device: k.device, Instance: k.instance, Turn: k.turn, Missing: k.missing != nil, Kind: k.kind, Look: k.look}
	if k.device >= 0 && s.opt.Describe != nil {
		y.ID, y.Place = s.opt.Describe(int(k.device))
	}
	if k.missing != nil {
		y.Place = k.missing.Question
	}
	if k.shape == BoxShape {
		y.Body = Box{Point{-k.width, -k.height}, Point{k.width, k.height}}
		y.Pins = slices.Clone(k.pins)
		for i := range y.Pins {
			y.Pins[i].named = y.Pins[i].Net != netlist.NoNet && s.named[y.Pins[i].Net]
		}
		y.Text = []Text{centred(k.texts[0], Point{0, -k.height - 1}), centred(k.texts[1], Point{0, k.height + 1})}
		return y
	}
	names := k.kind.TerminalNames()
	pin := func(t int, n netlist.Net, at Point, side Side) {
		named := n != netlist.NoNet && (s.named[n] || side == Left && s.clocked(k))
		y.Pins = append(y.Pins, Pin{names[t], n, k.turn.apply(at), k.turn.side(side), named})
	}
	if k.swapped {
		pin(k.lowerT, k.lower, Point{0, -half}, Up)
		pin(k.upperT, k.upper, Point{0, half}, Down)
	} else {
		pin(k.upperT, k.upper, Point{0, -half}, Up)
		pin(k.lowerT, k.lower, Point{0, half}, Down)
	}
	y.Body = Box{Point{-1, -half}, Point{1, half}}
	switch k.shape {
	case PhotodiodeShape:
		y.Body.Min.X = -3 // its arrows
	case CurrentShape:
		y.Body.Max.X = 2
	}
	if k.shape.gated() {
		pin(1, k.gate, Point{-half, 0}, Left)
		y.Body = Box{Point{-half, -half}, Point{0, half}}
	}
	if k.bulk != netlist.NoNet {
		pin(3, k.bulk, Point{1, 0}, Right)
		y.Body.Max.X = 1
		y.Bulk = true
	}
	a, b := k.turn.apply(y.Body.Min), k.turn.apply(y.Body.Max)
	y.Body = Box{Point{min(a.X, b.X), min(a.Y, b.Y)}, Point{max(a.X, b.X), max(a.Y, b.Y)}}
	y.Text = deviceTexts(&y, k)
	return y
}

// deviceTexts puts the lines of a device on the side where it has no gate.
func deviceTexts(y *Symbol, k *part) []Text {
	lines := k.texts
	if len(lines) > 3 {
		lines = lines[:3]
	}
	var out []Text
	if k.turn.level() {
		at, step := y.Body.Max.Y+1, 1
		if k.turn == GateDown {
			at, step = y.Body.Min.Y-len(lines), 1
		}
		if y.Bulk { // whose name stands there
			at += 2 * sign(at)
		}
		for i, l := range lines {
			out = append(out, centred(l, Point{0, at + i*step}))
		}
		return out
	}
	rows := [][]int{{}, {0}, {-1, 1}, {-1, 0, 1}}[len(lines)]
	if y.Bulk && len(lines) == 3 {
		lines = []string{lines[0], lines[1] + " " + lines[2]}
		rows = []int{-1, 1}
	} else if y.Bulk && len(lines) == 1 {
		rows = []int{-1}
	}
	x := y.Body.Max.X + 1
	side := Right
	if k.turn == GateRight {
		x, side = y.Body.Min.X-1, Left
	}
	for i, l := range lines {
		out = append(out, beside(l, Point{x, rows[i]}, side))
	}
	return out
}

func sign(x int) int {
	if x < 0 {
		return -1
	}
	return 1
}

func centred(s string, at Point) Text {
	w := (textWidth(s) + 1) / 2
	return Text{At: at, Side: Up, S: s, Room: Box{Point{at.X - w, at.Y}, Point{at.X + w, at.Y}}}
}

// beside returns a text that begins at a point, or ends there.
func beside(s string, at Point, side Side) Text {
	w := textWidth(s)
	if side == Left {
		return Text{At: at, Side: Left, S: s, Room: Box{Point{at.X - w, at.Y}, at}}
	}
	return Text{At: at, Side: Right, S: s, Room: Box{at, Point{at.X + w, at.Y}}}
}

// pinFlags returns the names at the pins of a part whose nets are not drawn as wires.
func (s *sheet) pinFlags(k *part, y *Symbol) []Flag {
	var out []Flag
	for _, q := range y.Pins {
		if q.named {
			out = append(out, s.flag(q.Net, q.At, q.Side))
		}
	}
	return out
}

// flag returns the name of a net at a place, on one side of it.
func (s *sheet) flag(n netlist.Net, at Point, side Side) Flag {
	f := Flag{Net: n, At: at, Side: side, Text: s.names[n]}
	switch {
	case s.role[n] == Supply && side == Up:
		f.Kind = SupplyFlag
	case s.role[n] == Ground && side == Down:
		f.Kind = GroundFlag
		if len(s.groundNets()) == 1 {
			f.Text = ""
		}
	case s.ports[n]:
		f.Kind = PortFlag
	case s.sheets[n] > 1:
		f.Kind = SheetFlag
	}
	w := textWidth(f.Text)
	switch side {
	case Left:
		f.Room = Box{Point{at.X - 2 - w, at.Y}, Point{at.X - 1, at.Y}}
	case Right:
		f.Room = Box{Point{at.X + 1, at.Y}, Point{at.X + 2 + w, at.Y}}
	case Up:
		f.Room = Box{Point{at.X - (w+1)/2, at.Y - 2}, Point{at.X + (w+1)/2, at.Y - 1}}
	case Down:
		f.Room = Box{Point{at.X - max(1, (w+1)/2), at.Y + 1}, Point{at.X + max(1, (w+1)/2), at.Y + 2}}
	}
	return f
}

// groundNets returns the grounds of the circuit.
func (p *plan) groundNets() (out []netlist.Net) {
	for n, r := range p.role {
		if r == Ground {
			out = append(out, netlist.Net(n))
		}
	}
	return out
}

func bounds(s *Sheet) Box {
	b := s.Symbols[0].Body
	for i := range s.Symbols {
		b = b.union(extent(&s.Symbols[i], nil))
	}
	for _, f := range s.Flags {
		b = b.union(f.Room)
	}
	for i := range s.Frames {
		b = b.union(s.Frames[i].Box).union(s.Frames[i].Caption.Room)
	}
	for _, w := range s.Wires {
		for _, q := range w.Points {
			b = b.union(Box{q, q})
		}
	}
	return Box{b.Min.add(Point{-margin, -margin}), b.Max.add(Point{margin, margin})}
}

var errRoom = errors.New("symbols lie on each other")
