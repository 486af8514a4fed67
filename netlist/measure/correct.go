package measure

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// Correct takes into account what is known of biases (Bias.OutNm, here e): it moves the edges of res.Outlines out by the e of
// their layers, and gives devices the sizes that these then have. Of a straight channel
//
//	W + 2·e(diffusion)    L + 2·e(gate)
//
// and of what is bent, closed or tapered what the rules for W and L, and Solve after it, make of the moved outline; likewise
// squares and values of resistors, and areas, perimeters and values of capacitors and diodes. The drawing stays as it is, and
// so do areas and perimeters of sources and drains. It is for results with Options.Outlines, before Solve, and once.
//
// What cannot be corrected keeps all its sizes, and makes a warning of res, `not-corrected`: where shapes over photographs with
// different biases lie on each other, or an edge would vanish.
func Correct(res *extract.Result, st *stack.Stack, from Sources) {
	c := &corrector{newUncertainty(res, st, from), make([]*moved, len(res.Outlines)), make([]error, len(res.Circuit.Devices))}
	of := make([][]int, len(res.Circuit.Devices))
	for k := range res.Outlines {
		var err error
		if c.moved[k], err = c.outline(&res.Outlines[k]); err != nil {
			c.keep(&res.Outlines[k], err)
		}
		for _, i := range res.Outlines[k].Devices {
			of[i] = append(of[i], k)
		}
	}
	sizes := make([]netlist.Device, len(of))
	for i := range sizes {
		var err error
		if sizes[i], err = c.device(i, of[i]); err != nil && c.why[i] == nil {
			c.why[i] = err
		}
	}
	c.keepTogether()
	for i := range sizes {
		if c.why[i] == nil {
			res.Circuit.Devices[i] = sizes[i]
		}
	}
	for k, m := range c.moved {
		if o := &res.Outlines[k]; m != nil && c.why[o.Devices[0]] == nil {
			o.Rings, o.Edges, o.W, o.L = m.rings, m.edges, m.w, m.l
		}
	}
	c.warn()
}

// corrector is Correct under way.
type corrector struct {
	*uncertainty
	moved []*moved // by outline; nil where nothing moves
	why   []error  // by device: it keeps its sizes
}

// moved is an outline after its edges have moved.
type moved struct {
	rings [][]geom.Vec
	edges [][]extract.Border
	w, l  float64
}

// out returns by how much the edges of a layer really lie further out of a device. Where the layer does not cover the device, it
// ends it from outside: then they lie further in.
func (c *corrector) out(device int, l layout.Layer) (float64, error) {
	if int(l) >= len(c.st.Layers) { // nobody drew it
		return 0, nil
	}
	if k, ok := c.layers[device][l]; ok {
		if k.differ {
			return 0, fmt.Errorf("shapes of %s lie on each other there that were traced over photographs with different biases", c.st.Layers[l].Name)
		}
		return k.out, nil
	}
	shots := c.shots(device)
	e := c.from.bias(shots[0], l).OutNm
	for _, n := range shots[1:] {
		if c.from.bias(n, l).OutNm != e {
			return 0, fmt.Errorf("over which photograph %s was traced is not plain there, and its biases in them differ", c.st.Layers[l].Name)
		}
	}
	if c.res.Circuit.Devices[device].Kind.IsMOS() && (c.st.Layers[l].Role == stack.Diffusion || l == c.res.Layer(device)) {
		return e, nil
	}
	return -e, nil
}

var errVanishes = errors.New("what is known of biases would leave nothing of it, or of an edge of it")

// outline returns an outline with its edges moved, nil where none moves.
func (c *corrector) outline(o *extract.Outline) (*moved, error) {
	offs, any := make([][]float64, len(o.Edges)), false
	for r, edges := range o.Edges {
		offs[r] = make([]float64, len(edges))
		for k, e := range edges {
			off, err := c.out(o.Devices[0], e.Layer)
			if err != nil {
				return nil, err
			}
			offs[r][k], any = off, any || off != 0
		}
	}
	switch {
	case !any:
		return nil, nil
	case o.Broken:
		return nil, errors.New("its outline does not close, so that biases cannot be corrected")
	}
	m := &moved{w: o.W, l: o.L}
	for r := range o.Rings {
		ring, edges, ok := movedOut(o.Rings[r], o.Edges[r], offs[r])
		if !ok {
			return nil, errVanishes
		}
		m.rings, m.edges = append(m.rings, ring), append(m.edges, edges)
	}
	area := areaOf(m.rings)
	if !(area > 0) {
		return nil, errVanishes
	}
	if before := borderOf(o.Rings, o.Edges, conducts); before > 0 && o.W > 0 {
		m.w *= borderOf(m.rings, m.edges, conducts) / before
		m.l = area / m.w
	}
	return m, nil
}

// device returns a device with the sizes that it has after its outlines have moved.
func (c *corrector) device(i int, outlines []int) (netlist.Device, error) {
	d := c.res.Circuit.Devices[i]
	if err := c.oneEnd(i); err != nil {
		return d, err
	}
	switch w, l := c.sides(i); {
	case d.Kind == netlist.Capacitor || d.Kind == netlist.Diode:
		c.plate(&d, outlines)
	case w < 0 || d.W == 0:
	case len(outlines) < max(1, int(d.Fingers)): // rectangles, whatever else there is
		ew, err := c.out(i, layout.Layer(w))
		if err != nil {
			return d, err
		}
		el, err := c.out(i, layout.Layer(l))
		if err != nil {
			return d, err
		}
		straight := float64(max(1, int(d.Fingers)) - len(outlines))
		d.W, d.L = d.W+2*ew*straight+c.wider(&d, outlines), d.L+2*el
	default:
		area, width := 0.0, 0.0
		for _, k := range outlines {
			o, m := &c.res.Outlines[k], c.moved[k]
			if m == nil {
				m = &moved{o.Rings, o.Edges, o.W, o.L}
			}
			area, width = area+m.w*m.l, width+m.w
		}
		if grown := c.wider(&d, outlines); grown != 0 || area != 0 && c.any(outlines) {
			d.W, d.L = d.W+grown, area/width
		}
	}
	if before := &c.res.Circuit.Devices[i]; before.W > 0 {
		if !(d.W > 0 && d.L > 0) {
			return d, errVanishes
		}
		if d.Kind == netlist.Resistor { // as long as it is not solved for
			d.Value *= d.L / d.W * before.W / before.L
			d.Area *= d.L * d.W / before.W / before.L
		}
	}
	return d, nil
}

// oneEnd returns an error where a resistor's body may end at edges of several layers, of which outlines do not say which it is, and
// these are not moved alike.
func (c *corrector) oneEnd(i int) error {
	d := &c.res.Circuit.Devices[i]
	if d.Kind != netlist.Resistor {
		return nil
	}
	first, e := layout.Layer(0), math.NaN()
	for k := range c.st.Resistors {
		r := &c.st.Resistors[k]
		if r.Model != d.Model || r.Body != c.res.Layer(i) {
			continue
		}
		for _, cond := range r.Where {
			off, err := c.out(i, cond.Layer)
			switch {
			case err != nil:
				return err
			case math.IsNaN(e):
				first, e = cond.Layer, off
			case off != e:
				return fmt.Errorf("it ends at %s or at %s, whose biases differ", c.st.Layers[first].Name, c.st.Layers[cond.Layer].Name)
			}
		}
	}
	return nil
}

func (c *corrector) any(outlines []int) bool {
	return slices.ContainsFunc(outlines, func(k int) bool { return c.moved[k] != nil })
}

// wider returns by how much W grows with the outlines of a device: as its part of their borders with source and drain, or the ends,
// does. By the rule W is a half of these, or the whole where that is one stretch.
func (c *corrector) wider(d *netlist.Device, outlines []int) float64 {
	ends := d.Terminals[:2]
	if d.Kind.IsMOS() {
		ends = []netlist.Net{d.Terminals[netlist.Drain], d.Terminals[netlist.Source]}
	}
	its := func(b extract.Border) bool { return b.Net != netlist.NoNet && slices.Contains(ends, b.Net) }
	grown := 0.0
	for _, k := range outlines {
		o, m := &c.res.Outlines[k], c.moved[k]
		if m == nil {
			continue
		}
		before, all := borderOf(o.Rings, o.Edges, its), borderOf(o.Rings, o.Edges, conducts)
		part := 0.5
		if all > 0 && before == all {
			part = o.W / all
		}
		grown += part * (borderOf(m.rings, m.edges, its) - before)
	}
	return grown
}

// plate gives a capacitor or a diode its area, perimeter and value.
func (c *corrector) plate(d *netlist.Device, outlines []int) {
	for _, k := range outlines {
		o, m := &c.res.Outlines[k], c.moved[k]
		if m == nil {
			continue
		}
		all := func(extract.Border) bool { return true }
		area, perimeter := areaOf(m.rings)-areaOf(o.Rings), borderOf(m.rings, m.edges, all)-borderOf(o.Rings, o.Edges, all)
		d.Area, d.Perim = d.Area+area, d.Perim+perimeter
		d.Value += (o.AreaAF*area/1e6 + o.EdgeAF*perimeter/1e3) / 1e18 // which stays NaN where it is
	}
}

// keep lets the devices of an outline keep their sizes.
func (c *corrector) keep(o *extract.Outline, err error) {
	for _, i := range o.Devices {
		if c.why[i] == nil {
			c.why[i] = err
		}
	}
}

// keepTogether lets all devices keep their sizes that share an outline with one that does.
func (c *corrector) keepTogether() {
	for again := true; again; {
		again = false
		for k := range c.res.Outlines {
			o := &c.res.Outlines[k]
			kept := slices.IndexFunc(o.Devices, func(i int) bool { return c.why[i] != nil })
			if kept >= 0 && slices.ContainsFunc(o.Devices, func(i int) bool { return c.why[i] == nil }) {
				c.keep(o, c.why[o.Devices[kept]])
				again = true
			}
		}
	}
}

// warn tells of what kept its sizes.
func (c *corrector) warn() {
	for i, err := range c.why {
		if err == nil {
			continue
		}
		d := &c.res.Circuit.Devices[i]
		c.res.Warnings = append(c.res.Warnings, extract.Warning{Code: "not-corrected", Text: fmt.Sprintf("the sizes of this %s stay as drawn: %v", d.Kind, err),
			Layer: c.res.LayerName(c.res.Layer(i)), X: d.At.X, Y: d.At.Y})
	}
	slices.SortStableFunc(c.res.Warnings, func(a, b extract.Warning) int { return cmp.Compare(a.Code, b.Code) })
}

func conducts(b extract.Border) bool { return b.Net != netlist.NoNet }

// borderOf returns how long some edges are together.
func borderOf(rings [][]geom.Vec, edges [][]extract.Border, which func(extract.Border) bool) (length float64) {
	for r, ring := range rings {
		for i, p := range ring {
			if q := ring[(i+1)%len(ring)]; which(edges[r][i]) {
				length += math.Hypot(q.X-p.X, q.Y-p.Y)
			}
		}
	}
	return length
}

// areaOf is the area inside an outline: holes turn the other way.
func areaOf(rings [][]geom.Vec) (area float64) {
	for _, r := range rings {
		area += ringArea(r)
	}
	return area
}

// movedOut moves the edges of a ring to the right by off each. Corners lie where the lines then meet; where two are nearly one line and
// move by different lengths, there is a step, which conducts nothing. It is not ok where an edge would turn round.
func movedOut(ring []geom.Vec, edges []extract.Border, off []float64) (out []geom.Vec, borders []extract.Border, ok bool) {
	const straight = 0.05 // sine of the angle up to which two edges are nearly one line
	n := len(ring)
	normal := func(i int) geom.Vec {
		p, q := ring[i], ring[(i+1)%n]
		return geom.Vec{X: q.Y - p.Y, Y: p.X - q.X}.Scale(1 / math.Hypot(q.X-p.X, q.Y-p.Y))
	}
	first := make([]int, n) // of out: where the edge from corner i begins
	for i, p := range ring {
		a, b := normal((i+n-1)%n), normal(i)
		s, t := off[(i+n-1)%n], off[i]
		cross, dot := a.X*b.Y-a.Y*b.X, a.X*b.X+a.Y*b.Y
		switch {
		case s == t: // along the line that halves the angle
			if 1+dot < 1e-6 {
				return nil, nil, false
			}
			out = append(out, geom.Vec{X: p.X + (a.X+b.X)*s/(1+dot), Y: p.Y + (a.Y+b.Y)*s/(1+dot)})
		case dot > 0 && math.Abs(cross) < straight:
			out = append(out, geom.Vec{X: p.X + a.X*s, Y: p.Y + a.Y*s}, geom.Vec{X: p.X + b.X*t, Y: p.Y + b.Y*t})
			borders = append(borders, extract.Border{Net: netlist.NoNet, Layer: edges[i].Layer})
		case math.Abs(cross) < 1e-6:
			return nil, nil, false
		default:
			out = append(out, geom.Vec{X: p.X + (s*b.Y-t*a.Y)/cross, Y: p.Y + (t*a.X-s*b.X)/cross})
		}
		first[i] = len(out) - 1
		borders = append(borders, edges[i])
	}
	for i, p := range ring {
		q, from, to := ring[(i+1)%n], out[first[i]], out[(first[i]+1)%len(out)]
		if (q.X-p.X)*(to.X-from.X)+(q.Y-p.Y)*(to.Y-from.Y) <= 0 {
			return nil, nil, false
		}
	}
	return out, borders, true
}
