package logic

import (
	"slices"

	"undermetal/recognise/parts"
)

// source is one thing that a node may be driven by.
type source struct {
	down, up []path // of a driver
	pass     []path // from another node, all between the same two
	from     int32  // that node; -1: a driver
}

// cell is a node that keeps its level, with what it keeps it by.
type cell struct {
	state   int32
	sources []source
	loop    []int32 // nodes driven by static gates that lead back to the state
	clock   int32   // the net that the clock comes from
	level   bool    // of the clock while the cell takes in data
	data    []int32 // nets that it then depends on, without those of clears and presets
	forced  []force
	high    bool // the state that high data lead to
	mux     bool // one of three data nets chooses between the others
	parts   []int32
}

// force is an input that sets the state whatever else there is.
type force struct {
	net   int32
	level bool // at which it does
	value bool // of the state then
	set   bool // the level that a high data input would lead to
}

const (
	maxLoop  = 4  // static gates from a state to where it is fed back
	maxFan   = 24 // gates on a net beyond which it is not followed forward: a clock or reset, no feedback
	maxFeeds = 4  // passes in series before a node
)

// cell reads a node that keeps its level; nil if it is none.
func (w *network) cell(net int32) *cell {
	d := w.drivers[net]
	if d == nil || d.static || w.g.Degree(net) > bigNet {
		return nil
	}
	c := &cell{state: net, sources: w.sources(net)}
	if len(c.sources) == 0 {
		return nil
	}
	reach := w.forward(net)
	if len(reach) == 0 && !w.feedsItself(c.sources, net) {
		return nil
	}
	f := w.functionOf(c, reach, nil)
	if f == nil {
		return nil
	}
	next, back, fight := f.next(c)
	if fight { // perhaps by levels that the gates before the switches never have together
		if f = w.functionOf(c, reach, w.gatesBefore(c)); f == nil {
			return nil
		}
		next, back, fight = f.next(c)
	}
	if fight || !back || !c.read(f, next) {
		return nil
	}
	c.loop = f.used
	c.collectParts(w)
	return c
}

// sources lists what drives a node: its own paths to the rails, and the nodes beyond switches.
func (w *network) sources(net int32) []source {
	d := w.drivers[net]
	var all []source
	if len(d.down) > 0 || len(d.up) > 0 {
		all = append(all, source{down: d.down, up: d.up, from: -1})
	}
	for _, p := range d.pass {
		i := slices.IndexFunc(all, func(s source) bool { return s.from == p.to })
		if i < 0 {
			i = len(all)
			all = append(all, source{from: p.to})
		}
		all[i].pass = append(all[i].pass, p)
	}
	return all
}

// functionOf finds the inputs of a cell's next state; nil if there are too many. Gates in open are looked into.
func (w *network) functionOf(c *cell, reach, open []int32) *function {
	f := &function{w: w, state: c.state, reach: reach, open: open, index: map[int32]int{c.state: 0}, inputs: []int32{c.state}}
	for _, s := range c.sources {
		f.collect(s)
	}
	if len(f.inputs) > maxInputs || f.deep {
		return nil
	}
	return f
}

// next is the next state, whether the state is driven by itself (what nothing drives stays as it is, but that is no latch), and
// whether something pulls up while something else pulls down.
func (f *function) next(c *cell) (next table, back, fight bool) {
	ups := newTable(len(f.inputs))
	next = tableOf(len(f.inputs), func(i int) bool {
		up, down := false, false
		for _, s := range c.sources {
			u, d := f.pulls(s, i)
			up, down = up || u, down || d
		}
		fight = fight || up && down
		if up {
			ups.set(i)
		}
		return up || !down && i&1 == 1
	})
	return next, ups.depends(0), fight
}

// gatesBefore returns the nodes beyond switches that static gates drive.
func (w *network) gatesBefore(c *cell) []int32 {
	var all []int32
	for _, s := range c.sources {
		if s.from >= 0 && w.drivers[s.from] != nil && w.drivers[s.from].static {
			all = append(all, s.from)
		}
	}
	return all
}

func (w *network) feedsItself(all []source, net int32) bool {
	for _, s := range all {
		for _, ps := range [][]path{s.down, s.up} {
			for _, p := range ps {
				for _, q := range p.parts {
					if w.g.Parts[q].Nets[parts.Gate] == net {
						return true
					}
				}
			}
		}
	}
	return false
}

// forward returns the nodes that a level of net reaches through few static gates.
func (w *network) forward(net int32) []int32 {
	var reach []int32
	layer := []int32{net}
	for range maxLoop {
		var next []int32
		for _, n := range layer {
			if w.g.Degree(n) > maxFan {
				continue
			}
			for _, pin := range w.g.On(n) {
				p := &w.g.Parts[pin.Part()]
				if !p.Kind.IsMOS() || pin.Terminal() != parts.Gate {
					continue
				}
				for _, out := range w.gateOf[pin.Part()] {
					if out != net && !slices.Contains(reach, out) {
						reach, next = append(reach, out), append(next, out)
					}
				}
			}
		}
		layer = next
	}
	return reach
}

// function is what a state becomes, as a function of itself (input 0) and of nets that nothing near leads back from.
type function struct {
	w      *network
	state  int32
	reach  []int32
	open   []int32 // more static gates to look into
	used   []int32 // of reach: those that the function is made of
	index  map[int32]int
	inputs []int32
	deep   bool
}

// collect finds the inputs that a source depends on.
func (f *function) collect(s source) {
	for _, ps := range [][]path{s.down, s.up, s.pass} {
		for _, p := range ps {
			for _, q := range p.parts {
				f.collectNet(f.w.g.Parts[q].Nets[parts.Gate], 0)
			}
		}
	}
	if s.from >= 0 {
		f.collectNet(s.from, 0)
	}
}

func (f *function) collectNet(net int32, depth int) {
	if f.w.g.Rails[net] != parts.Signal || net == f.state {
		return
	}
	if depth > 2*maxLoop+maxInverters {
		f.deep = true
		return
	}
	if slices.Contains(f.reach, net) {
		if !slices.Contains(f.used, net) {
			f.used = append(f.used, net)
		}
		for _, in := range f.w.drivers[net].inputs {
			f.collectNet(in, depth+1)
		}
		return
	}
	if slices.Contains(f.open, net) {
		for _, in := range f.w.drivers[net].inputs {
			f.collectNet(in, depth+1)
		}
		return
	}
	if in := f.w.invOf[net]; in >= 0 {
		f.collectNet(in, depth+1)
		return
	}
	if _, ok := f.index[net]; !ok {
		f.index[net] = len(f.inputs)
		f.inputs = append(f.inputs, net)
	}
}

// value is the level of a net under input number i.
func (f *function) value(net int32, i int) bool {
	if k, ok := f.index[net]; ok {
		return i>>k&1 == 1
	}
	if r := f.w.g.Rails[net]; r != parts.Signal {
		return r == parts.Supply
	}
	if slices.Contains(f.reach, net) || slices.Contains(f.open, net) {
		return f.w.conducts(f.w.drivers[net].up, func(n int32) bool { return f.value(n, i) })
	}
	return !f.value(f.w.invOf[net], i)
}

// pulls reports whether a source pulls up and whether it pulls down.
func (f *function) pulls(s source, i int) (up, down bool) {
	value := func(n int32) bool { return f.value(n, i) }
	if s.from < 0 {
		return f.w.conducts(s.up, value), f.w.conducts(s.down, value)
	}
	if !f.w.conducts(s.pass, value) {
		return false, false
	}
	v := f.value(s.from, i)
	return v, !v
}

// read looks for the clock: an input that at one level makes the state keep itself, at the other makes it something else, whatever
// it was. Inputs that force it are found where it keeps itself.
func (c *cell) read(f *function, next table) bool {
	for k := 1; k < next.n; k++ {
		for _, level := range []bool{true, false} {
			hold, take := next.with(k, !level), next.with(k, level)
			if !hold.depends(0) {
				continue
			}
			forced, free := forces(f, hold)
			for _, x := range forced {
				take = take.with(f.index[x.net], !x.level)
			}
			if !free.isInput(0) || take.depends(0) {
				continue
			}
			var data []int
			for j := 1; j < next.n; j++ {
				if j != k && take.depends(j) {
					data = append(data, j)
				}
			}
			if len(data) == 0 {
				continue
			}
			c.clock, c.level = f.inputs[k], level
			for _, j := range data {
				c.data = append(c.data, f.inputs[j])
			}
			high := tableValueAllData(take, data)
			for i := range forced {
				forced[i].set = forced[i].value == high
			}
			c.high = high
			c.forced, c.mux = forced, len(data) == 3 && isMux(take, data)
			return true
		}
	}
	return false
}

// tableValueAllData is what the state becomes where all data are high.
func tableValueAllData(take table, data []int) bool {
	i := 0
	for _, j := range data {
		i |= 1 << j
	}
	return take.at(i)
}

// forces returns the inputs that make a state constant that else keeps itself, and what is left of it without them.
func forces(f *function, hold table) (all []force, free table) {
	for range hold.n {
		found := false
		for j := 1; j < hold.n && !found; j++ {
			for _, level := range []bool{true, false} {
				if !hold.depends(j) {
					continue
				}
				if v, ok := hold.with(j, level).constant(); ok {
					all = append(all, force{net: f.inputs[j], level: level, value: v})
					hold, found = hold.with(j, !level), true
					break
				}
			}
		}
		if !found {
			break
		}
	}
	return all, hold
}

// isMux reports whether one of three inputs chooses between the others, straight or inverted.
func isMux(t table, in []int) bool {
	for s := range 3 {
		a, b := in[(s+1)%3], in[(s+2)%3]
		lo, hi := t.with(in[s], false), t.with(in[s], true)
		if lo.depends(a) != lo.depends(b) && hi.depends(a) != hi.depends(b) && lo.depends(a) != hi.depends(a) {
			return true
		}
	}
	return false
}

// collectParts lists the transistors of a cell: its sources and the gates that feed it back.
func (c *cell) collectParts(w *network) {
	add := func(q int32) {
		if !slices.Contains(c.parts, q) {
			c.parts = append(c.parts, q)
		}
	}
	for _, s := range c.sources {
		for _, ps := range [][]path{s.down, s.up, s.pass} {
			for _, p := range ps {
				for _, q := range p.parts {
					add(q)
				}
			}
		}
	}
	for _, n := range c.loop {
		for _, q := range w.drivers[n].parts {
			add(q)
		}
	}
}

// levelOf is the level of the one of nets that shows what the cell keeps, while that is what high data lead to. Every gate of the
// loop inverts.
func (c *cell) levelOf(w *network, nets []int32) bool {
	for _, n := range nets {
		if n == c.state {
			return c.high
		}
		if slices.Contains(c.loop, n) {
			level := c.high
			for range maxLoop {
				level = !level
				in := w.drivers[n].inputs
				if slices.Contains(in, c.state) {
					return level
				}
				k := slices.IndexFunc(in, func(x int32) bool { return slices.Contains(c.loop, x) })
				if k < 0 {
					return level
				}
				n = in[k]
			}
		}
	}
	return true
}
