package ambiguous

import (
	"fmt"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
	"undermetal/layout/stack"
)

// The layers by what they are for. In a stack that has one diffusion for both, pdiff is diff; what a stack has not is not
// drawn.
const (
	diff    = "diffusion"
	pdiff   = "pdiffusion"
	nwell   = "nwell"
	poly    = "poly"
	poly2   = "poly2"
	contact = "contact"
	metal1  = "metal1"
	via1    = "via1"
	metal2  = "metal2"
	resmark = "resmark"
)

// The names of the supplies, and of bulks that nothing ties.
const (
	ground    = "GND"
	supply    = "VDD"
	substrate = "substrate"
	unknown   = "bulk unknown"
)

// sheet is a drawing in the making. All coordinates are in units of half a feature, from an origin that moves along
// with what is drawn.
type sheet struct {
	unit  int // nm
	st    *stack.Stack
	cell  *layout.Cell
	x     int // of the origin
	ptype bool
	done  []Structure
	now   Structure
	nets  []Net
	taps  bool // the stack knows taps
	wells int  // that nothing ties, so far

	driven bool // the gate whose metal begins at gateY waits for the inverter that drives it
	gateY  int
}

func newSheet(st *stack.Stack, unit int) *sheet {
	return &sheet{unit: unit, st: st, cell: &layout.Cell{Name: "TOP"}, taps: len(st.Taps) > 0}
}

func (s *sheet) has(name string) bool {
	_, ok := s.st.LayerNamed(name)
	return ok
}

// layer returns the layer of a name; ok is false where the stack has none.
func (s *sheet) layer(name string) (l layout.Layer, ok bool) {
	if l, ok = s.st.LayerNamed(name); ok {
		return l, true
	}
	switch name {
	case diff:
		return s.st.LayerNamed("ndiffusion")
	case pdiff:
		return s.st.LayerNamed(diff)
	}
	return 0, false
}

// active is the diffusion of the transistors that are being drawn.
func (s *sheet) active() string {
	if s.ptype {
		return pdiff
	}
	return diff
}

func (s *sheet) at(x, y int) geom.Point { return geom.Point{X: (s.x + x) * s.unit, Y: y * s.unit} }

func (s *sheet) polygon(layer string, pg geom.Polygon) {
	if l, ok := s.layer(layer); ok {
		s.cell.Shapes = append(s.cell.Shapes, layout.Shape{Layer: l, Polygon: pg})
	}
}

func (s *sheet) box(layer string, x0, y0, x1, y1 int) {
	s.polygon(layer, geom.Polygon{s.ring(x0, y0, x1, y1)})
}

func (s *sheet) ring(x0, y0, x1, y1 int) geom.Ring {
	a, b := s.at(x0, y0), s.at(x1, y1)
	return geom.Box(a.X, a.Y, b.X, b.Y).Ring()
}

// contacts fills a box with contacts 2 wide and 2 apart, 1 from its border, in the middle of it; one at least.
func (s *sheet) contacts(layer string, x0, y0, x1, y1 int) {
	count := func(length int) int { return max((length-4)/4+1, 1) }
	nx, ny := count(x1-x0), count(y1-y0)
	left, low := x0+(x1-x0-4*nx+2)/2, y0+(y1-y0-4*ny+2)/2
	for i := range nx {
		for j := range ny {
			s.box(layer, left+4*i, low+4*j, left+4*i+2, low+4*j+2)
		}
	}
}

// plug draws metal with contacts beneath it, and says on which net.
func (s *sheet) plug(x0, y0, x1, y1 int, net string) {
	s.box(metal1, x0, y0, x1, y1)
	s.contacts(contact, x0, y0, x1, y1)
	s.on(metal1, (x0+x1)/2, (y0+y1)/2, net)
}

// wire draws a line of a width through places, as one outline. Its bends must not be sharp.
func (s *sheet) wire(layer string, width int, xy ...int) {
	stroke := pen.Stroke{Width: width * s.unit, Ends: pen.Half}
	for i := 0; i < len(xy); i += 2 {
		stroke.Line = append(stroke.Line, s.at(xy[i], xy[i+1]))
	}
	var pen pen.Stroker
	pg, ok := pen.Outline(stroke, nil)
	if f, bad := pg.Fault(); !ok || bad {
		panic(fmt.Sprintf("ambiguous: wire on %s: %v", layer, f))
	}
	s.polygon(layer, pg)
}

func (s *sheet) place(layer string, x, y int) layout.Place {
	l, _ := s.layer(layer)
	return layout.Place{Layer: l, At: s.at(x, y)}
}

// net returns the net of a name, made at its first use.
func (s *sheet) net(name string) *Net {
	for i := range s.nets {
		if s.nets[i].Name == name {
			return &s.nets[i]
		}
	}
	s.nets = append(s.nets, Net{Name: name})
	return &s.nets[len(s.nets)-1]
}

// on notes that a place lies on a net.
func (s *sheet) on(layer string, x, y int, net string) {
	if _, ok := s.layer(layer); ok {
		n := s.net(net)
		n.Places = append(n.Places, s.place(layer, x, y))
	}
}

func (s *sheet) label(layer string, x, y int, net string) {
	p := s.place(layer, x, y)
	s.cell.Labels = append(s.cell.Labels, layout.Label{Layer: p.Layer, At: p.At, Text: net})
	s.on(layer, x, y, net)
	s.net(net).Labelled = true
}

// channel notes a crossing around a place on the gate; border and area are in units and units².
func (s *sheet) channel(x, y, border, stretches, area int, gate, a, b string) {
	u := float64(s.unit)
	s.now.Channels = append(s.now.Channels, Channel{Place: s.place(poly, x, y), Border: float64(border) * u, Stretches: stretches,
		Area: float64(area) * u * u, Gate: gate, A: a, B: b, Bulk: s.bulk()})
	s.on(poly, x, y, gate)
	s.now.Area += float64(area) * u * u
}

// bulk is the net beneath what is being drawn.
func (s *sheet) bulk() string {
	switch {
	case !s.has(nwell):
		return unknown
	case s.ptype && s.taps:
		return supply
	case s.ptype:
		return fmt.Sprintf("well %d", s.wells)
	case s.taps:
		return ground
	}
	return substrate
}

// begin starts a structure of a kind; finish ends it.
func (s *sheet) begin(kind Kind, ptype bool) {
	s.ptype = ptype
	if ptype && !s.taps {
		s.wells++
	}
	s.now = Structure{Kind: kind, Reading: readings[kind].reading, Reason: readings[kind].reason}
}

// finish ends a structure; x, y is a place to ask about, w and l are in units, the rest is the box around it.
func (s *sheet) finish(layer string, x, y, w, l, x0, y0, x1, y1 int) {
	s.now.Place = s.place(layer, x, y)
	s.now.W, s.now.L = float64(w*s.unit), float64(l*s.unit)
	a, b := s.at(x0, y0), s.at(x1, y1)
	s.now.Box = geom.Rect{Min: a, Max: b}
	s.done = append(s.done, s.now)
}

// readings says what each kind is, and why.
var readings = map[Kind]struct {
	reading Reading
	reason  string
}{
	Interdigitated: {Transistor, "the contacts between the fingers lead by turns to two combs of metal, which are two nets"},
	Waffle:         {Transistor, "the openings of the mesh are joined by turns to two zigzags, which are two nets; the poly is one piece"},
	EnclosedGate:   {Transistor, "what lies in each ring and what lies around it are two nets"},
	SingleWide:     {Transistor, "the two sides of the gate have contacts to two nets"},
	Logic:          {Transistor, "a narrow gate between two nets"},
	Inverter:       {Transistor, "two gates on one input, drains on one output, sources on the supplies"},
	TiedPlate:      {Capacitor, "the diffusion on all sides of the plates is one net, so that no current can flow beneath them"},
	OneSided:       {Capacitor, "the diffusion ends beneath the plate, so that there is one side only"},
	NoDiffusion:    {Capacitor, "no diffusion lies beneath the plate; a well or metal faces it"},
	CoveredPlate:   {Capacitor, "no contact reaches the diffusion, which ends beneath the plate on all sides; the substrate faces it"},
	TiedMesh:       {Capacitor, "the openings of the mesh are joined by two sets of zigzags as in a switch, but these are one net"},
	SharedBank:     {Capacitor, "one diffusion surrounds all squares, and one net is on all of it"},
	OwnBank:        {Capacitor, "each square lies within a diffusion of its own, and all these are one net"},
	TwoPolys:       {Capacitor, "a plate of the upper poly lies over one of the lower, each with contacts of its own"},
	Serpentine:     {Resistor, "a long strip of poly of one width that crosses no diffusion, with a contact at either end"},
	EdgeDummy:      {Dummy, "it stands at the end of a row of equal gates, with one net on gate, source and drain"},
	ResistorDummy:  {Dummy, "a strip beside a serpentine, of the same width, that leads nowhere"},
}
