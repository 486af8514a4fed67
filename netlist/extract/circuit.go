package extract

import (
	"cmp"
	"fmt"
	"slices"

	"undermetal/layout"
	"undermetal/netlist"
)

// circuit numbers the nets and names them.
func (j *joiner) circuit(name string, flat *layout.Flat) *Result {
	c := &netlist.Circuit{Name: name}
	diodes := j.takeDiodes() // before their areas are divided among transistors
	parts := j.parts()
	var facts *Facts
	if j.observed != nil {
		facts = j.facts(parts, flat)
		parts = j.applyVerdicts(parts, diodes, facts)
	}
	n := &numbering{joiner: j, circuit: c, number: map[node]netlist.Net{}, taken: map[string]int{}}
	n.labelled()
	res := &Result{Circuit: c, flat: flat}
	unknownBulk := 0
	for i := range parts {
		p := &parts[i]
		for t := range p.dev.Terminals {
			p.dev.Terminals[t] = netlist.NoNet
		}
		for t := range p.dev.Kind.TerminalNames() {
			if p.nets[t] != 0 {
				p.dev.Terminals[t] = n.net(p.nets[t])
			} else {
				p.dev.Terminals[t] = n.unknownBulk()
				unknownBulk++
			}
		}
		c.Devices = append(c.Devices, p.dev)
		res.Questions = append(res.Questions, p.code)
		res.places = append(res.places, layout.Place{Layer: p.layer, At: j.within(p.of)})
	}
	if unknownBulk > 0 {
		j.warnings = append(j.warnings, Warning{Code: "bulk-unknown", Text: fmt.Sprintf(
			"no well or substrate is drawn for the bulk of some devices (%d); it is given as the net %s", unknownBulk, c.Nets[n.unknownBulk()].Name)})
	}
	j.warnUntied(parts)
	n.ports()
	j.number = n.number
	if facts != nil {
		j.numberFacts(facts)
	}
	if j.tellFacts {
		res.Facts = facts
	}
	res.Pads = j.pads()
	res.Crossings, res.LeftOut = j.tally()
	if j.tellOutlines {
		res.Outlines = j.outlines(parts)
		if j.tellJunctions {
			res.Junctions = j.junctions(parts)
		}
		numberDrawn(res, flat)
	}
	placed := func(w Warning) int { // those without a place come first, wherever the drawing lies
		if w.Layer == "" || w.Layer == substrateName {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(j.warnings, func(a, b Warning) int {
		return cmp.Or(cmp.Compare(a.Code, b.Code), placed(a)-placed(b), cmp.Compare(a.Y, b.Y), cmp.Compare(a.X, b.X), cmp.Compare(a.Text, b.Text))
	})
	res.Warnings = j.warnings
	return res
}

// tally counts the crossings, and the nets of conductors that the circuit does without.
func (j *joiner) tally() (crossings, leftOut int) {
	counted := map[node]bool{}
	for i := node(1); int(i) < len(j.parent); i++ {
		if i == j.substrate {
			continue
		}
		switch j.regionKind(i) {
		case channel:
			if j.root[i] == i {
				crossings++
			}
		case conductor, junction:
			r := j.find(i)
			if _, kept := j.number[r]; !kept && !counted[r] {
				counted[r] = true
				leftOut++
			}
		}
	}
	return crossings, leftOut
}

// warnUntied tells of wells that are some device's bulk and that no tap ties to anything.
func (j *joiner) warnUntied(parts []part) {
	tied := j.tiedBodies()
	seen := map[node]bool{}
	for i := range parts {
		b := parts[i].nets[netlist.Bulk]
		if !parts[i].dev.Kind.IsMOS() || b == 0 || seen[b] || !j.untied(b, tied) {
			continue
		}
		seen[b] = true
		if b == j.find(j.substrate) {
			j.warnings = append(j.warnings, Warning{Code: "bulk-unknown", Text: "no tap ties the substrate: it is a net of its own"})
		} else if j.regionKind(b) == well {
			j.warn("bulk-unknown", b, "no tap ties this %s: it is a net of its own", j.layerOf(b))
		}
	}
}

// tiedBodies returns the nets of wells and substrate that taps tie.
func (j *joiner) tiedBodies() map[node]bool {
	tied := map[node]bool{}
	for _, t := range j.ties {
		tied[j.find(j.wellRoot(t.well))] = true
	}
	return tied
}

// untied reports whether a bulk's net is a well or the substrate that no tap ties to anything, and that has no label.
func (j *joiner) untied(b node, tied map[node]bool) bool {
	return !tied[b] && j.names[b] == nil && j.softTies[b] == nil && (b == j.find(j.substrate) || j.regionKind(b) == well)
}

// Names of what has none in the drawing.
const (
	unknownBulkName = "bulk_unknown"
	substrateName   = "substrate"
)

// numbering gives numbers to the nets that are kept: those with a label, those that are open, those of devices.
type numbering struct {
	*joiner
	circuit *netlist.Circuit
	number  map[node]netlist.Net
	unknown netlist.Net
	own     []bool           // by net: named by a label of the top cell
	taken   map[string]int   // by name: the number that it was last given, 1 for none, 0 for a free one
	onNet   map[node][]int32 // by root: the top cell's own labels; made when it is needed
}

func (n *numbering) net(root node) netlist.Net {
	if k, ok := n.number[root]; ok {
		return k
	}
	k := netlist.Net(len(n.circuit.Nets))
	info := netlist.NetInfo{}
	if low := n.lowest[root]; low != 0 {
		info.Layer, info.At = n.layerOf(low), n.at(low)
	} else {
		info.Layer = substrateName
	}
	n.circuit.Nets = append(n.circuit.Nets, info)
	n.own = append(n.own, false)
	n.number[root] = k
	return k
}

func (n *numbering) unknownBulk() netlist.Net {
	if n.unknown == 0 {
		n.circuit.Nets = append(n.circuit.Nets, netlist.NetInfo{Name: n.free(unknownBulkName)})
		n.own = append(n.own, false)
		n.unknown = netlist.Net(len(n.circuit.Nets)) // plus 1: 0 says that there is none yet
	}
	return n.unknown - 1
}

// labelled numbers the labelled and the open nets, in the order of place, and names them.
func (n *numbering) labelled() {
	open := map[node]bool{}
	for i := range n.pieces {
		if n.pieces[i].open {
			open[n.find(node(i))] = true
		}
	}
	var roots []node
	for r, nm := range n.names {
		if nm != nil {
			roots = append(roots, node(r))
		}
	}
	for r := range open {
		if n.names[r] == nil {
			roots = append(roots, r)
		}
	}
	slices.SortFunc(roots, n.netsByPlace)
	var several []node       // nets with different labels
	var again, placed []node // equal labels, labels of placed cells: they get what names are left
	for _, r := range roots {
		k := n.net(r)
		info := &n.circuit.Nets[k]
		info.Open = open[r]
		nm := n.names[r]
		switch {
		case nm == nil:
			continue
		case len(nm.own) == 0:
			placed = append(placed, r)
			continue
		case n.taken[nm.own[0]] > 0:
			again = append(again, r)
		default:
			info.Name = n.free(nm.own[0])
		}
		n.own[k] = true
		if len(nm.own) > 1 {
			info.Labels = nm.own
			several = append(several, r)
		}
	}
	for _, r := range again {
		label := n.names[r].own[0]
		name := n.free(label)
		n.circuit.Nets[n.net(r)].Name = name
		n.warnAt("equal-labels", r, n.names[r].own, "another net is labelled %s too; nothing joins them here, this one becomes %s", label, name)
	}
	for _, r := range several {
		own := n.names[r].own
		n.warnAt("two-names", r, own[1:], "one net carries the labels %s: it is called %s", listNames(own), n.circuit.Nets[n.net(r)].Name)
	}
	for _, r := range placed {
		n.circuit.Nets[n.net(r)].Name = n.free(n.names[r].placed)
	}
	n.lostLabels()
}

// free returns a name that no net has yet: with #2, #3 … where need be.
func (n *numbering) free(name string) string {
	s := name
	for k := n.taken[name]; n.taken[s] > 0; {
		k++
		n.taken[name] = k
		s = fmt.Sprintf("%s#%d", name, k)
	}
	n.taken[s] = 1
	return s
}

// netsByPlace orders nets by their place; a substrate that is joined to nothing comes first.
func (n *numbering) netsByPlace(a, b node) int {
	if p, q := n.lowest[a], n.lowest[b]; p != 0 && q != 0 {
		return n.byPlace(p, q)
	}
	return cmp.Compare(n.lowest[a], n.lowest[b])
}

// warnAt warns of a net at the place of the first label on it that has one of the texts; where none has, as where the stack
// names the substrate, at the net's own.
func (n *numbering) warnAt(code string, r node, texts []string, format string, args ...any) {
	w := Warning{Code: code, Text: fmt.Sprintf(format, args...), Layer: substrateName}
	if low := n.lowest[r]; low != 0 {
		w.Layer, w.X, w.Y = n.layerOf(low), int(n.pieces[low].x), int(n.pieces[low].y)
	}
	if l := n.labelOn(r, texts); l != nil && l.layer != n.plan.st.SubstrateLayer() {
		w.Layer, w.X, w.Y = n.plan.st.Layers[l.layer].Name, l.at.X, l.at.Y
	}
	n.warnings = append(n.warnings, w)
}

// labelOn returns the lowest, then leftmost label on a net that has one of the texts; nil: there is none.
func (n *numbering) labelOn(r node, texts []string) (first *label) {
	if n.onNet == nil {
		n.onNet = map[node][]int32{}
		for _, f := range n.found {
			if l := &n.labels[f.probe]; !l.asked && l.path == "" {
				root := n.find(f.node)
				n.onNet[root] = append(n.onNet[root], f.probe)
			}
		}
	}
	for _, k := range n.onNet[r] {
		l := &n.labels[k]
		if slices.Contains(texts, l.text) && (first == nil || cmp.Or(cmp.Compare(l.at.Y, first.at.Y), cmp.Compare(l.at.X, first.at.X), cmp.Compare(l.layer, first.layer)) < 0) {
			first = l
		}
	}
	return first
}

// lostLabels warns of the top cell's labels that lie on nothing.
func (n *numbering) lostLabels() {
	hit := make([]bool, len(n.labels))
	for _, f := range n.found {
		hit[f.probe] = true
	}
	for i, l := range n.labels {
		if hit[i] || l.path != "" || l.asked {
			continue
		}
		layer := n.plan.st.Layers[l.layer].Name
		text := fmt.Sprintf("label %s lies on no %s", l.text, layer)
		if n.plan.groupOf[l.layer] == nil {
			text = fmt.Sprintf("label %s is on %s, whose shapes are no nets", l.text, layer)
		}
		n.warnings = append(n.warnings, Warning{"label-on-nothing", text, layer, l.at.X, l.at.Y})
	}
}

// ports makes the open nets and those with a label of the top cell's own the circuit's ports, in natural order.
func (n *numbering) ports() {
	for i := range n.circuit.Nets {
		if n.own[i] || n.circuit.Nets[i].Open {
			n.circuit.Ports = append(n.circuit.Ports, netlist.Net(i))
		}
	}
	slices.SortStableFunc(n.circuit.Ports, func(a, b netlist.Net) int {
		return naturalOrder(n.circuit.Nets[a].Name, n.circuit.Nets[b].Name)
	})
}
