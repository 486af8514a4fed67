package logic

import (
	"fmt"
	"slices"
	"strings"
)

// form is what a static gate is called.
type form struct {
	name, title, what string
	inputs            []int32 // in canonical order
	net, pull         *tree   // pull-down and pull-up; nil where they are no series-parallel networks
}

// formOf names the static gate that drives a node, by its pull-down: digits are the sizes of the first-level groups, 1 a lone input
// (AOI22 = ¬(ab+cd), OAI31 = ¬((a+b+c)d): Weste & Harris, CMOS VLSI Design).
func (w *network) formOf(net int32, d *driver) form {
	var f form
	f.net, f.pull = w.networkTree(net, d.down), w.networkTree(net, d.up)
	t := f.net
	if t == nil {
		t = f.pull // its dual is the pull-down
	}
	if t == nil {
		f.inputs = d.inputs
		f.name, f.title = "static_gate_bridge", fmt.Sprintf("static gate of %d inputs, with a bridge", len(d.inputs))
		f.what = "pulls its output up or down, by two networks of which one holds where the other does not"
		return f
	}
	other := f.pull
	if f.net == nil {
		other = nil
	}
	t.leaves(other.ranks(), func(l *tree) {
		if !slices.Contains(f.inputs, l.gate) {
			f.inputs = append(f.inputs, l.gate)
		}
	})
	for _, in := range d.inputs { // what only the other network has
		if !slices.Contains(f.inputs, in) {
			f.inputs = append(f.inputs, in)
		}
	}
	shape := t.shape()
	if f.net == nil {
		shape = strings.NewReplacer("s", "p", "p", "s").Replace(shape)
	}
	f.name, f.title = nameShape(shape)
	if strings.Count(shape, "1") > len(d.inputs) { // an input counts twice: no form of that name
		f.name, f.title = "static_gate_"+plain(shape), fmt.Sprintf("static gate of %d inputs", len(d.inputs))
		if len(d.inputs) == 3 && w.isMinority(d) {
			f.name, f.title = "minority", "minority gate (inverted carry)"
		}
	}
	f.what = "output = not " + f.expression(t, f.net == nil)
	return f
}

// nameShape names a pull-down network.
func nameShape(shape string) (name, title string) {
	if shape == "1" {
		return "inverter", "inverter"
	}
	body := shape[2 : len(shape)-1]
	series := shape[0] == 's'
	if strings.Trim(body, "1") == "" {
		if series {
			return fmt.Sprintf("nand%d", len(body)), fmt.Sprintf("NAND of %d inputs", len(body))
		}
		return fmt.Sprintf("nor%d", len(body)), fmt.Sprintf("NOR of %d inputs", len(body))
	}
	digits, ok := groups(body)
	switch {
	case !ok:
		return "static_gate_" + plain(shape), "static gate"
	case series:
		return "oai" + digits, "OR-AND-INVERT " + digits
	default:
		return "aoi" + digits, "AND-OR-INVERT " + digits
	}
}

// groups reads the sizes of the groups of a shape of two levels, the largest first.
func groups(body string) (digits string, ok bool) {
	for body != "" {
		if body[0] == '1' {
			digits, body = digits+"1", body[1:]
			continue
		}
		end := strings.IndexByte(body, ')')
		if in := body[2:end]; strings.Trim(in, "1") != "" || len(in) > 9 {
			return "", false
		}
		digits, body = digits+fmt.Sprint(end-2), body[end+1:]
	}
	return digits, true
}

// plain is a shape as a word.
func plain(shape string) string {
	return strings.Trim(strings.NewReplacer("(", "", ")", "_").Replace(shape), "_")
}

// expression is the function with inputs a, b, c …
func (f *form) expression(t *tree, dual bool) string {
	if t.op == 0 {
		return inputName(slices.Index(f.inputs, t.gate))
	}
	var kids []string
	for _, k := range t.distinct() {
		kids = append(kids, f.expression(k, dual))
	}
	if len(kids) == 1 {
		return kids[0]
	}
	if (t.op == 's') != dual {
		return strings.Join(kids, "·")
	}
	return "(" + strings.Join(kids, " + ") + ")"
}

func inputName(i int) string {
	if i < 26 {
		return string(rune('a' + i))
	}
	return fmt.Sprintf("in%d", i+1)
}

// isMinority reports whether a gate of three inputs is low where two or three are high.
func (w *network) isMinority(d *driver) bool {
	for i := range 8 {
		high := i&1 + i>>1&1 + i>>2&1
		if w.conducts(d.down, func(n int32) bool { return i>>slices.Index(d.inputs, n)&1 == 1 }) != (high >= 2) {
			return false
		}
	}
	return true
}

// networkTree is the series-parallel tree of paths to a rail; nil if they are none, or end on two rails of one kind.
func (w *network) networkTree(net int32, ps []path) *tree {
	var members []int32
	for _, p := range ps {
		if p.to != ps[0].to {
			return nil
		}
		for _, q := range p.parts {
			if !slices.Contains(members, q) {
				members = append(members, q)
			}
		}
	}
	slices.Sort(members)
	return seriesParallel(w.g, members, net, ps[0].to)
}
