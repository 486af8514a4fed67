package spice

import (
	"encoding/binary"
	"math"
	"slices"
	"strconv"
	"strings"

	"undermetal/netlist"
)

// maxDepth is how deep subcircuits may lie in each other. maxCopied is how many elements may be read again because an
// instance overrides parameters, besides eight times those of the file: a few lines could ask for more than fits a memory.
const (
	maxDepth  = 10_000
	maxCopied = 1 << 17
)

// build is a circuit while its elements are read.
type build struct {
	block    *block
	params   *scope
	times    float64 // how many of it lie in parallel
	circuit  *netlist.Circuit
	nets     map[string]netlist.Net // by folded name
	elements map[string]int         // by folded name: the line
	calls    []call                 // one for each of circuit.Instances
	shorts   []short
	words    []word // scratch
	folded   []byte // scratch
}

// call is where an instance stands, and what it is of.
type call struct {
	of   *block
	line int
}

// elaborate makes circuits of the blocks, in the order of the file but callees first, and of the file's own elements.
func (rd *reader) elaborate() (*netlist.Design, error) {
	rd.design = &netlist.Design{}
	rd.params = newScope(rd.top.params, nil)
	for _, b := range rd.blocks {
		if rd.varied[folded(b.name)] {
			continue // perhaps never wanted with the values of its header
		}
		if _, err := rd.circuit(b, b.line, nil, 1); err != nil {
			return nil, err
		}
	}
	if len(rd.top.cards) > 0 {
		if _, err := rd.circuit(rd.top, 1, nil, 1); err != nil {
			return nil, err
		}
	}
	for _, b := range rd.blocks { // those that only use each other
		if len(b.circuit) == 0 {
			if _, err := rd.circuit(b, b.line, nil, 1); err != nil {
				return nil, err
			}
		}
	}
	rd.prune()
	return rd.design, nil
}

// prune takes out the circuits that nothing uses though the file uses their subcircuit, always with other values.
func (rd *reader) prune() {
	used := map[*netlist.Circuit]bool{}
	kept := rd.design.Circuits[:0:0]
	for _, c := range slices.Backward(rd.design.Circuits) { // a circuit comes before those that use it
		if used[c] || !rd.blockOf[c].used {
			kept = append(kept, c)
			for i := range c.Instances {
				used[c.Instances[i].Of] = true
			}
		}
	}
	slices.Reverse(kept)
	rd.design.Circuits = kept
}

// newScope returns the parameters of a block. Later ones of a name count.
func newScope(params []param, up *scope) *scope {
	s := &scope{up: up}
	if len(params) > 0 {
		s.params = make(map[string]*param, len(params))
	}
	for i := range params {
		p := params[i]
		s.params[folded(p.name)] = &p
	}
	return s
}

// circuit returns the circuit of a block for the given values of its header's parameters and a multiplier; line is where
// it is asked for.
func (rd *reader) circuit(b *block, line int, given map[string]float64, times float64) (*netlist.Circuit, error) {
	if b.open {
		return nil, rd.fail(line, "a circuit cannot hold itself", "subcircuit %s contains itself: %s", b.name, rd.cycle(b))
	}
	if len(rd.path) == maxDepth {
		return nil, rd.fail(line, "", "subcircuits lie more than %d deep in each other", maxDepth)
	}
	params, key, err := rd.values(b, line, given, times)
	if err != nil {
		return nil, err
	}
	if c := b.circuit[key]; c != nil {
		return c, nil
	}
	if len(b.circuit) > 0 {
		if rd.copied += len(b.cards) + len(b.ports) + 1; rd.copied > maxCopied+8*rd.cards {
			return nil, rd.fail(line, "use fewer different values", "the values of parameters make more than %d further elements", maxCopied+8*rd.cards)
		}
	}
	c := &netlist.Circuit{Name: rd.unique(b)}
	bd := &build{block: b, params: params, times: times, circuit: c, nets: make(map[string]netlist.Net, len(b.ports)), elements: make(map[string]int, len(b.cards))}
	b.open = true
	rd.path = append(rd.path, b)
	err = rd.fill(bd)
	rd.path = rd.path[:len(rd.path)-1]
	b.open = false
	if err != nil {
		return nil, err
	}
	if b.circuit == nil {
		b.circuit = map[string]*netlist.Circuit{}
	}
	b.circuit[key] = c
	rd.blockOf[c] = b
	rd.design.Circuits = append(rd.design.Circuits, c)
	return c, nil
}

// cycle names the blocks that lead from b to itself, the first of many.
func (rd *reader) cycle(b *block) string {
	var names []string
	for _, p := range rd.path[slices.Index(rd.path, b):] {
		if len(names) == 20 {
			names = append(names, "…")
			break
		}
		names = append(names, p.name)
	}
	return strings.Join(append(names, b.name), " → ")
}

// values returns the parameters of a block with the given ones in place, and a key that tells different values apart.
func (rd *reader) values(b *block, line int, given map[string]float64, times float64) (*scope, string, error) {
	up := rd.params
	if b == rd.top {
		return up, "", nil
	}
	if len(b.header)+len(b.params) == 0 && times == 1 {
		return up, "", nil
	}
	s := newScope(append(b.header[:len(b.header):len(b.header)], b.params...), up)
	key := binary.LittleEndian.AppendUint64(nil, math.Float64bits(times))
	for _, p := range b.header {
		own := s.params[folded(p.name)]
		if v, ok := given[folded(p.name)]; ok {
			own.value, own.state = v, known
		}
		if err := own.compute(s, 0); err != nil {
			return nil, "", rd.fail(line, "", "subcircuit %s: %v", b.name, err)
		}
		key = binary.LittleEndian.AppendUint64(key, math.Float64bits(own.value))
	}
	return s, string(key), nil
}

// unique returns a name for the next circuit of a block: the block's, then with #2, #3 …
func (rd *reader) unique(b *block) string {
	if b.plain && len(b.circuit) == 0 {
		return b.name
	}
	name := b.name
	for rd.names[folded(name)] {
		b.copies = max(b.copies+1, 2)
		name = b.name + "#" + strconv.Itoa(b.copies)
	}
	rd.names[folded(name)] = true
	return name
}

// fill reads the elements of a block into a circuit.
func (rd *reader) fill(b *build) error {
	c := b.circuit
	c.Ports = make([]netlist.Net, 0, len(b.block.ports))
	b.block.globalPorts = b.block.globalPorts[:0]
	for k, p := range b.block.ports {
		n := rd.net(b, p)
		if int(n) < k {
			return rd.fail(b.block.line, "give each port its own name", "subcircuit %s has port %s twice", c.Name, p)
		}
		c.Ports = append(c.Ports, n)
		if c.Nets[n].Global {
			b.block.globalPorts = append(b.block.globalPorts, k)
		}
	}
	for _, k := range b.block.cards {
		if err := rd.element(b, k); err != nil {
			return err
		}
	}
	if err := rd.join(b); err != nil {
		return err
	}
	return rd.checkGlobalPorts(b)
}

// net returns the net of that name.
func (rd *reader) net(b *build, name string) netlist.Net {
	b.folded = fold(b.folded[:0], name)
	global := rd.globals[string(b.folded)]
	if global == "0" {
		b.folded = append(b.folded[:0], '0')
	}
	if n, ok := b.nets[string(b.folded)]; ok {
		return n
	}
	n := netlist.Net(len(b.circuit.Nets))
	b.nets[string(b.folded)] = n
	info := netlist.NetInfo{Name: name}
	if global != "" {
		info.Name, info.Global = global, true
	}
	b.circuit.Nets = append(b.circuit.Nets, info)
	return n
}

// checkGlobalPorts refuses an instance that gives a port with the name of a global net another net than that: in ngspice-39
// the global net wins, and what the instance gives is joined to nothing.
func (rd *reader) checkGlobalPorts(b *build) error {
	for i, call := range b.calls {
		in := &b.circuit.Instances[i]
		for _, k := range call.of.globalPorts {
			global := rd.globals[folded(call.of.ports[k])]
			if own := &b.circuit.Nets[in.Nets[k]]; !own.Global || own.Name != global {
				return rd.fail(call.line, "give it that net, or rename the port", "element %s: gives net %s to port %s of subcircuit %s, but %s is the same net everywhere",
					in.Name, own.Name, call.of.ports[k], call.of.name, global)
			}
		}
	}
	return nil
}

// model returns the card of the model of that name that can be seen from b's block.
func (b *build) model(name string) (model, bool) {
	b.folded = fold(b.folded[:0], name)
	for k := b.block; k != nil; k = k.up {
		if m, ok := k.models[string(b.folded)]; ok {
			return m, true
		}
	}
	return model{}, false
}

// sub returns the subcircuit of that name that can be seen from b's block, or nil.
func (b *build) sub(name string) *block {
	b.folded = fold(b.folded[:0], name)
	for k := b.block; k != nil; k = k.up {
		if s := k.subs[string(b.folded)]; s != nil {
			return s
		}
	}
	return nil
}
