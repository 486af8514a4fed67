package ambiguous

import (
	"undermetal/layout"
	"undermetal/layout/geom"
)

// port is where metal leaves a structure, up or down: its right and left border, and how far the structure's metal reaches.
type port struct {
	net    string
	x0, x1 int // 4 apart or more
	y      int
	up     bool
}

// body is what is known of a drawn structure: how far it reaches, with its metal, and its ports. Coordinates are those of the sheet,
// in units, from x = 0 of the sheet.
type body struct {
	left, right, low, high int
	ports                  []port
	wells                  []geom.Rect // to be taken up to the supply rail and tied there, in units
}

// floor is a row of structures between two rails: ground below, the supply above.
type floor struct {
	*sheet
	bodies  []body
	right   int  // where the next structure may begin
	onVia   bool // ports go to the rails on the second metal
	out     int  // left border of the output of the last inverter, which reaches up to outTop
	outTop  int
	outNet  string
	runs    int // how far the rails go beyond the structures
	tapStep int // distance of taps
}

const (
	railWidth = 6
	apart     = 14 // between structures
	padSize   = 22
)

func newFloor(s *sheet) *floor { return &floor{sheet: s, runs: 8, tapStep: 24} }

// add draws a structure that reaches so far to the left of its origin.
func (f *floor) add(left int, draw func() body) {
	f.x = f.right + left
	if len(f.bodies) > 0 {
		f.x += apart
	}
	b := draw()
	if f.driven {
		f.drive()
	}
	for i := range b.ports {
		b.ports[i].x0, b.ports[i].x1 = b.ports[i].x0+f.x, b.ports[i].x1+f.x
		p := &b.ports[i]
		if isPad(p.net) { // room for the pad, to the right of the port
			b.right = max(b.right, p.x0-f.x+padSize)
		}
	}
	for i, w := range b.wells {
		b.wells[i] = geom.Box(w.Min.X+f.x, w.Min.Y, w.Max.X+f.x, w.Max.Y)
	}
	b.left, b.right = b.left+f.x, b.right+f.x
	f.right = b.right
	f.bodies = append(f.bodies, b)
	f.x = 0
}

func isPad(net string) bool { return net == "PAD" }

// close draws rails, taps and wells and what leads to them.
func (f *floor) close() {
	low, high := 0, 0
	for _, b := range f.bodies {
		low, high = min(low, b.low), max(high, b.high)
		for _, p := range b.ports {
			switch {
			case isPad(p.net) && p.up:
				high = max(high, b.high+padSize+8)
			case isPad(p.net):
				low = min(low, b.low-padSize-8)
			case p.up:
				high = max(high, p.y+6)
			default:
				low = min(low, p.y-6)
			}
		}
	}
	bottom, top := low-4, high+4 // the rails' inner borders
	left, right := f.bodies[0].left-f.runs, f.right+f.runs
	f.box(metal1, left, bottom-railWidth, right, bottom)
	f.label(metal1, left+2, bottom-3, ground)
	f.on(metal1, right-2, bottom-3, ground)
	f.box(metal1, left, top, right, top+railWidth)
	f.label(metal1, left+2, top+3, supply)
	f.on(metal1, right-2, top+3, supply)
	for x := left + 4; x+6 <= right; x += f.tapStep {
		f.tap(pdiff, x, bottom-5, x+6, bottom-1)
	}
	for _, b := range f.bodies {
		for _, w := range b.wells {
			f.box(nwell, w.Min.X, w.Min.Y, w.Max.X, top+railWidth+3)
			mid := (w.Min.X + w.Max.X) / 2
			f.tap(diff, mid-3, top+1, mid+3, top+5)
		}
		for _, p := range b.ports {
			f.lead(p, b, bottom, top)
		}
	}
}

// tap draws diffusion beneath a rail, with contacts.
func (f *floor) tap(layer string, x0, y0, x1, y1 int) {
	f.box(layer, x0, y0, x1, y1)
	f.contacts(contact, x0, y0, x1, y1)
}

// lead takes a port to the rail that it belongs to, to a pad, or to an end with a label.
func (f *floor) lead(p port, b body, bottom, top int) {
	end, inward, rail, rim := bottom, 4, ground, b.low
	if p.up {
		end, inward, rail, rim = top, -4, supply, b.high
	}
	middle := (p.x0 + p.x1) / 2
	switch {
	case p.net == rail && f.onVia && f.has(metal2):
		f.box(metal2, p.x0, min(p.y, end-inward), p.x1, max(p.y, end-inward))
		f.landing(p.x0, p.y, p.x1, p.y+inward)
		f.landing(p.x0, end-inward, p.x1, end)
		f.box(metal2, p.x0, min(p.y, p.y+inward), p.x1, max(p.y, p.y+inward))
		f.on(metal2, middle, (p.y+end)/2, p.net)
	case p.net == rail:
		from, to := p.y+inward/2, end-inward/2
		f.box(metal1, p.x0, min(from, to), p.x1, max(from, to))
		f.on(metal1, middle, (p.y+end)/2, p.net)
	case isPad(p.net):
		from, away := p.y+inward/2, rim-inward
		far := away - padSize*inward/4
		f.box(metal1, p.x0, min(from, away-inward), p.x1, max(from, away-inward))
		f.box(metal1, p.x0, min(away, far), p.x0+padSize, max(away, far))
		f.label(metal1, p.x0+padSize/2, (away+far)/2, p.net)
	default:
		from, away := p.y+inward/2, p.y-inward
		f.box(metal1, p.x0, min(from, away), p.x1, max(from, away))
		f.label(metal1, middle, away+inward/4, p.net)
	}
}

// landing draws first metal with a via.
func (f *floor) landing(x0, y0, x1, y1 int) {
	y0, y1 = min(y0, y1), max(y0, y1)
	f.box(metal1, x0, y0, x1, y1)
	f.box(via1, (x0+x1)/2-1, (y0+y1)/2-1, (x0+x1)/2+1, (y0+y1)/2+1)
}

// gateColumn is where the metal of a gate lies, left of a structure: from x = -12 to -8.
const gateColumn = -12

// gate draws the contact of a gate at the left of a structure, from the poly that begins at x0 and is y0 to y0+4 high. A
// supply is reached by a port; a signal gets a stub with its label, or none if an inverter drives it.
func (s *sheet) gate(x0, y0 int, net string, driven bool) []port {
	s.box(poly, gateColumn, y0, x0, y0+4)
	s.plug(gateColumn, y0, gateColumn+4, y0+4, net)
	s.on(poly, gateColumn+5, y0+2, net)
	return s.gateMetal(y0, net, driven)
}

// gateMetal leads the metal of a gate on that is at gateColumn already.
func (s *sheet) gateMetal(y0 int, net string, driven bool) []port {
	switch {
	case net == ground:
		return []port{{ground, gateColumn, gateColumn + 4, y0, false}}
	case net == supply:
		return []port{{supply, gateColumn, gateColumn + 4, y0 + 4, true}}
	case isPad(net): // the pad lies to the right of its port, above the structure
		return []port{{net, gateColumn, gateColumn + 4, y0 + 4, true}}
	case driven:
		s.driven, s.gateY = true, y0
	default:
		s.box(metal1, gateColumn-4, y0, gateColumn+4, y0+4)
		s.label(metal1, gateColumn-2, y0+2, net)
	}
	return nil
}

// invert draws an inverter at the right end of the row. Its output gets a label unless the next structure's gate is driven by it.
func (f *floor) invert(wn, wp int, in, out string, drives bool) {
	f.add(7, func() body {
		b, top := f.inverter(wn, wp, in, out)
		if !drives {
			f.output(wn, out)
		}
		f.out, f.outTop, f.outNet = f.x+outLeft, top, out
		return b
	})
}

// drive leads the output of the inverter on the left to the gate of the structure that was drawn just now.
func (f *floor) drive() {
	y := min(f.gateY, f.outTop-4)
	f.box(metal1, f.out-f.x, y, gateColumn+4, y+4)
	f.box(metal1, gateColumn, y, gateColumn+4, f.gateY+4)
	f.on(metal1, gateColumn+2, y+2, f.outNet)
	f.driven = false
}

// result makes a case of what was drawn, turned one of eight ways; asked is the structure in question.
func (f *floor) result(name string, asked, turn int) Case {
	c := Case{Name: name, Stack: f.st, Top: f.cell, Nets: f.nets, FeatureNm: 2 * f.unit,
		Library: &layout.Library{Name: "AMBIGUOUS", Layers: f.st.LayerNames(), Cells: []*layout.Cell{f.cell}}}
	t := geom.NewTransform(turn&4 != 0, 1, float64(90*(turn&3)), geom.Point{})
	for i := range f.done {
		st := &f.done[i]
		st.Place.At, st.Box = t.Apply(st.Place.At), t.Bounds(st.Box)
		for k := range st.Channels {
			st.Channels[k].Place.At = t.Apply(st.Channels[k].Place.At)
		}
		if i == asked {
			c.Structure = *st
		} else {
			c.Beside = append(c.Beside, *st)
		}
	}
	for i := range f.cell.Shapes {
		f.cell.Shapes[i].Polygon = t.ApplyPolygon(f.cell.Shapes[i].Polygon)
	}
	for i := range f.cell.Labels {
		f.cell.Labels[i].At = t.Apply(f.cell.Labels[i].At)
	}
	for i := range c.Nets {
		for k := range c.Nets[i].Places {
			c.Nets[i].Places[k].At = t.Apply(c.Nets[i].Places[k].At)
		}
	}
	return c
}
