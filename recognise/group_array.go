package recognise

import (
	"fmt"
	"slices"

	"undermetal/netlist"
	"undermetal/recognise/library"
)

// array makes a circuit of an array, and an instance of it; ok: it has two members at least that can be instances.
func (g *grouper) array(a *Array) (in netlist.Instance, ok bool) {
	name := fmt.Sprintf("%s_%dx%d", a.Pattern.Name, a.Rows, a.Columns)
	if a.Mirror {
		name = fmt.Sprintf("%s_p_%dx%d", a.Pattern.Name, a.Rows, a.Columns)
	}
	to := newFormals(name)
	a.formals(to)
	on := map[netlist.Net]int32{}
	for i, f := range a.Members {
		if f == nil || !f.Full() || !g.claim(f) {
			continue
		}
		m := g.instance(f)
		m.Name = fmt.Sprintf("r%d_c%d", i/a.Columns, i%a.Columns)
		for k, n := range m.Nets {
			to.add(n, fmt.Sprintf("%s_%s", m.Of.Nets[m.Of.Ports[k]].Name, m.Name))
		}
		for _, d := range f.Devices() {
			for _, n := range g.nets(d) {
				on[n]++
			}
		}
		to.circuit.Instances = append(to.circuit.Instances, m)
	}
	if len(to.circuit.Instances) == 0 {
		return in, false
	}
	to.drop(on)
	for i := range to.circuit.Instances {
		for k, n := range to.circuit.Instances[i].Nets {
			to.circuit.Instances[i].Nets[k] = to.of[n]
		}
	}
	actual := to.ports(func(n netlist.Net) bool { return g.keep[n] || g.pins[n] > on[n] })
	g.named(to.circuit)
	return netlist.Instance{Of: to.circuit, Nets: actual}, true
}

// formals names the nets of an array: what all members have in common first, then those of rows, then of columns.
func (a *Array) formals(to *formals) {
	for i := range a.Pattern.Ports {
		p := &a.Pattern.Ports[i]
		n, ok := a.Common[p.Name]
		if p.Role == library.Supply || p.Role == library.Ground {
			if k := slices.IndexFunc(a.Members, func(f *Fit) bool { return f != nil && f.Full() }); k >= 0 {
				n, ok = a.Members[k].Ports[i], true
			}
		}
		if ok {
			to.add(n, p.Name)
		}
	}
	for _, lines := range [][]map[string]netlist.Net{a.RowNets, a.ColumnNets} {
		for i := range a.Pattern.Ports {
			for l, nets := range lines {
				if n, ok := nets[a.Pattern.Ports[i].Name]; ok {
					to.add(n, fmt.Sprintf("%s<%d>", a.Pattern.Ports[i].Name, l))
				}
			}
		}
	}
}

// drop leaves out nets that nothing is on.
func (f *formals) drop(on map[netlist.Net]int32) {
	actual, nets := f.actual, f.circuit.Nets
	f.of, f.actual, f.circuit.Nets = map[netlist.Net]netlist.Net{}, nil, nil
	for k, n := range actual {
		if on[n] > 0 {
			f.of[n] = netlist.Net(len(f.actual))
			f.actual = append(f.actual, n)
			f.circuit.Nets = append(f.circuit.Nets, nets[k])
		}
	}
}
