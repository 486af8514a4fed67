package schematic

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"undermetal/netlist"
)

// boxPin is a pin of a box that is to be.
type boxPin struct {
	name string
	net  netlist.Net
	side Side
}

// newBox makes an instance a box: what it drives on the right, all else on the left, supplies first and grounds last.
func (p *plan) newBox(i int32) *part {
	in := &p.c.Instances[i]
	var pins []boxPin
	for j, n := range in.Nets {
		name := in.Of.Nets[in.Of.Ports[j]].Name
		if name == "" {
			name = strconv.Itoa(j + 1)
		}
		q := boxPin{shortened(name), n, Left}
		if p.role[n] == Output || p.role[n] == NoRole && p.drives(in.Of, in.Of.Ports[j], 0) {
			q.side = Right
		}
		pins = append(pins, q)
	}
	slices.SortStableFunc(pins, func(a, b boxPin) int { return p.rank(a.net) - p.rank(b.net) })
	return shapeBox(&part{device: -1, instance: i, shape: BoxShape, texts: []string{shortened(in.Name), shortened(in.Of.Name)}}, pins)
}

func (p *plan) rank(n netlist.Net) int {
	switch p.role[n] {
	case Supply:
		return 0
	case Ground:
		return 2
	}
	return 1
}

const deepest = 8 // levels of hierarchy that are looked into for what drives a port

// drives reports whether a circuit has a channel, or another end that is no gate and no bulk, on one of its nets.
func (p *plan) drives(c *netlist.Circuit, n netlist.Net, depth int) bool {
	for i := range c.Devices {
		d := &c.Devices[i]
		for t, m := range d.Terminals {
			if m == n && (!d.Kind.IsMOS() || t == netlist.Drain || t == netlist.Source) && d.Kind != netlist.Capacitor {
				return true
			}
		}
	}
	for i := range c.Instances {
		for j, m := range c.Instances[i].Nets {
			if m == n && depth < deepest && p.drives(c.Instances[i].Of, c.Instances[i].Of.Ports[j], depth+1) {
				return true
			}
		}
	}
	return false
}

// shapeBox gives a part its pins and its size.
func shapeBox(k *part, pins []boxPin) *part {
	var sides [2][]boxPin
	for _, q := range pins {
		sides[q.side] = append(sides[q.side], q)
	}
	widest := [2]int{1, 1}
	for s, of := range sides {
		for _, q := range of {
			widest[s] = max(widest[s], textWidth(q.name))
		}
	}
	rows := max(len(sides[0]), len(sides[1]))
	k.height = rows + 1 // half of it; pins are two units apart
	k.width = max(3, (widest[0]+widest[1]+3)/2)
	for _, t := range k.texts {
		k.width = max(k.width, (textWidth(t)+2)/2)
	}
	for s, of := range sides {
		for r, q := range of {
			x := -k.width
			if s == 1 {
				x = k.width
			}
			k.pins = append(k.pins, Pin{Terminal: q.name, Net: q.net, At: Point{x, 2*r - rows + 1}, Side: Side(s)})
		}
	}
	return k
}

// hideArrays returns the devices that are not drawn because one cell of an array stands for all, and makes that cell a group.
func (p *plan) hideArrays() map[int32]bool {
	hidden := map[int32]bool{}
	p.opt.Groups = slices.Clone(p.opt.Groups)
	for i := range p.opt.Arrays {
		a := &p.opt.Arrays[i]
		for _, d := range a.Devices {
			hidden[d] = true
		}
		for _, d := range a.Unit {
			delete(hidden, d)
		}
		for g := range p.opt.Groups {
			p.opt.Groups[g].Devices = slices.DeleteFunc(slices.Clone(p.opt.Groups[g].Devices), func(d int32) bool { return slices.Contains(a.Unit, d) })
		}
		p.opt.Groups = append(p.opt.Groups, Group{Name: "cell of " + a.Name, Devices: a.Unit})
	}
	return hidden
}

// addArrays adds a box for each array, with pins for the nets that anything else on the drawing has.
func (p *plan) addArrays() {
	drawn, ends := map[netlist.Net]bool{}, map[netlist.Net]bool{}
	for _, k := range p.parts {
		k.nets(func(n netlist.Net) { drawn[n] = true })
		if k.shape != BoxShape {
			p.eachEnd(k, func(n netlist.Net) { ends[n] = true })
		}
	}
	for i := range p.opt.Arrays {
		a := &p.opt.Arrays[i]
		k := &part{device: -1, instance: -1, array: a, shape: BoxShape, texts: []string{shortened(a.Name), fmt.Sprintf("%d × %d", a.Rows, a.Columns)}}
		var pins []boxPin
		for _, n := range a.Nets {
			if p.rail(n) { // goes without saying
				continue
			}
			if !drawn[n] {
				k.unseen = append(k.unseen, n)
				continue
			}
			q := boxPin{p.names[n], n, Left}
			if ends[n] && p.role[n] != Input {
				q.side = Right
			}
			pins = append(pins, q)
		}
		slices.SortStableFunc(pins, func(a, b boxPin) int { return p.rank(a.net) - p.rank(b.net) })
		p.parts = append(p.parts, shapeBox(k, pins))
	}
}

const mostUnseen = 16 // nets that a note names

// arrayNotes tells what an array is, and which of its nets lead to nothing that is drawn.
func (p *plan) arrayNotes(k *part) []string {
	a, name := k.array, k.texts[0]
	out := []string{fmt.Sprintf("%s: rows × columns %d × %d, all one cell, which is drawn once", name, a.Rows, a.Columns)}
	if len(k.unseen) > 0 {
		var names []string
		for _, n := range k.unseen[:min(len(k.unseen), mostUnseen)] {
			names = append(names, p.names[n])
		}
		if len(k.unseen) > mostUnseen {
			names = append(names, fmt.Sprintf("… (%d nets)", len(k.unseen)))
		}
		out = append(out, fmt.Sprintf("%s, nets without a pin here: %s", name, strings.Join(names, ", ")))
	}
	return out
}
