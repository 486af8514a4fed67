package desk

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/layout/geom"
	"undermetal/layout/shot"
	"undermetal/layout/stack"
	"undermetal/netlist"
)

func sortFloats(xs []float64) { slices.Sort(xs) }

// conducts reports whether a net can have a piece on a layer.
func (d *Desk) conducts(name string) bool {
	l, ok := d.stack.LayerNamed(name)
	if !ok {
		return false
	}
	r := d.stack.Layers[l].Role
	return r == stack.Diffusion || r == stack.Gate || r == stack.Metal
}

// lit is the net that is lit: it is known by a place, so that edits do not put it out.
type lit struct {
	pinned bool
	layer  string
	at     geom.Point
	number int // in live; 0: none
	shown  *picture.Drawing
	of     *live
	ofNet  int
}

// pieceAt is the piece at a point: on the layer to draw on, else the topmost that is seen; -1 where there is none.
func (d *Desk) pieceAt(p geom.Point) int {
	if d.live == nil {
		return -1
	}
	return d.below(p).piece
}

// level orders layers from below to above, as contacts join them; those of which nothing is known by their place in the stack.
func (d *Desk) level(i int) int {
	switch st := d.live.stack; st.Layers[i].Role {
	case stack.Diffusion:
		return i
	case stack.Gate:
		return 1000 + i
	case stack.Contact:
		return 2000 + i
	default:
		return 3000 + i
	}
}

// pinNet lights the net under the cursor until told otherwise; a second time, it is let go.
func (d *Desk) pinNet() {
	k := d.pieceAt(d.inDie())
	switch {
	case k < 0:
		d.net = lit{}
		d.say("no net lies here")
	case d.net.pinned && d.net.number == d.live.pieces[k].net:
		d.net = lit{}
		d.say("the net is let go")
	default:
		d.lightPiece(k)
		d.say("net %s: E lists where it ends, z lets it go", d.netTitle(d.net.number))
	}
	d.refresh()
}

func (d *Desk) lightPiece(k int) {
	p := d.live.pieces[k]
	d.net = lit{pinned: true, layer: d.layerName(int(p.layer)), at: p.at, number: p.net}
}

// keepNet finds the lit net again in a new circuit, by its place.
func (d *Desk) keepNet() {
	if !d.net.pinned || d.live == nil {
		return
	}
	d.net.number = 0
	if l, ok := d.live.stack.LayerNamed(d.net.layer); ok {
		for _, p := range d.live.pieces {
			if p.layer == l && p.net > 0 && p.box.Contains(d.net.at) && p.pg.Locate(d.net.at) != geom.Outside {
				d.net.number = p.net
			}
		}
	}
	if d.net.number == 0 {
		d.net = lit{}
	}
}

// litNumber is the net that is to be seen: the pinned one, else the one under the cursor.
func (d *Desk) litNumber() int {
	if d.net.pinned {
		return d.net.number
	}
	if d.tool != nil || d.carry != nil || d.station == registering || d.eye != 0 || d.station == looking {
		return 0
	}
	if k := d.pieceAt(d.inDie()); k >= 0 {
		return d.live.pieces[k].net
	}
	return 0
}

// litDrawing is all that the lit net covers, on all layers.
func (d *Desk) litDrawing() *picture.Drawing {
	n := d.litNumber()
	if n == 0 || d.live == nil {
		return nil
	}
	if d.net.of != d.live || d.net.ofNet != n {
		byLayer := make([][]geom.Polygon, len(d.live.stack.Layers))
		for _, k := range d.live.byNet[n] {
			p := d.live.pieces[k]
			byLayer[p.layer] = append(byLayer[p.layer], p.pg)
		}
		d.net.shown, d.net.of, d.net.ofNet = picture.NewSet(byLayer), d.live, n
	}
	return d.net.shown
}

// netTitle names a net by its number.
func (d *Desk) netTitle(n int) string {
	if d.live == nil || len(d.live.byNet[n]) == 0 {
		return "?"
	}
	p := d.live.pieces[d.live.byNet[n][0]]
	for _, k := range d.live.byNet[n] {
		if d.live.pieces[k].named != netlist.NoNet {
			p = d.live.pieces[k]
			break
		}
	}
	if p.named == netlist.NoNet {
		return fmt.Sprintf("without device, at %s µm", place(vec(p.at)))
	}
	return d.netName(p.named)
}

// netName names a net of the circuit; one without a label by its place.
func (d *Desk) netName(n netlist.Net) string {
	if d.live == nil || n < 0 || int(n) >= len(d.live.res.Circuit.Nets) {
		return "none"
	}
	i := d.live.res.Circuit.Nets[n]
	switch {
	case len(i.Labels) > 1:
		return strings.Join(i.Labels, " = ")
	case i.Name != "":
		return i.Name
	}
	return fmt.Sprintf("at %s µm", place(vec(i.At)))
}

// lightNet lights a net of the circuit.
func (d *Desk) lightNet(n netlist.Net) bool {
	for k, p := range d.live.pieces {
		if p.named == n && n != netlist.NoNet && d.conducts(d.layerName(int(p.layer))) {
			d.lightPiece(k)
			return true
		}
	}
	return false
}

// netBox is the box around all of a net.
func (d *Desk) netBox(number int) geom.Rect {
	box := geom.EmptyRect()
	for _, k := range d.live.byNet[number] {
		box = box.Union(d.live.pieces[k].box)
	}
	return box
}

// findDevice is the device whose channel lies under a point; -1 where none does.
func (d *Desk) findDevice(p geom.Point) int {
	if d.live == nil || d.live.res.Facts == nil {
		return -1
	}
	best, size := -1, math.Inf(1)
	for i := range d.live.res.Facts.Channels {
		c := &d.live.res.Facts.Channels[i]
		if c.Device >= 0 && c.Box.Contains(p) && area(c.Box) < size {
			best, size = c.Device, area(c.Box)
		}
	}
	return best
}

// sizeText is W/L of a device with how well they are known.
func (d *Desk) sizeText(i int) string {
	v := d.live.res.Circuit.Devices[i]
	length := func(nm, sigma float64) string {
		if sigma <= 0 {
			return um(nm)
		}
		return shot.Uncertain(nm/1000, sigma/1000)
	}
	switch {
	case v.W > 0 && v.L > 0:
		var w, l float64
		if i < len(d.live.sizes) {
			w, l = d.live.sizes[i].W.Combined(), d.live.sizes[i].L.Combined()
		}
		return fmt.Sprintf("W %s µm, L %s µm", length(v.W, w), length(v.L, l))
	case v.Area > 0:
		return fmt.Sprintf("area %.4g µm²", v.Area/1e6)
	}
	return ""
}

// deviceTitle is what a device is.
func (d *Desk) deviceTitle(i int) string {
	v := d.live.res.Circuit.Devices[i]
	return strings.TrimSpace(fmt.Sprintf("%s %s", v.Kind, v.Model))
}
