package recognise

import (
	"context"
	"fmt"
	"slices"

	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/recognise/library"
	"undermetal/recognise/parts"
)

// How much of a circuit lies around something.
const (
	aroundNets    = 4  // as far as a partial fit begins from what nothing explains
	aroundDevices = 80 // and no more, the nearest: flip-flops have some thirty
	aroundStubs   = 16 // pins that a net has beyond, at most
)

// Around is a circuit of which only what lies around a few nets is recognised, in readings of the caller's choice: so a question about
// one device of a million costs no more than one of ten, and what it says hangs on no reading of that device that is in force. It is for
// one caller at a time.
type Around struct {
	Looked func(geom.Point) bool // as in Options

	c     *netlist.Circuit
	rails []parts.Rail
	first []int32        // by net: where its pins begin
	pins  []int32        // devices, once for each terminal; bulks are left out
	open  []bool         // by net: it goes on beyond the circuit
	most  [3]netlist.Net // by rail: the net of it that most pins are on; NoNet: there is none

	met map[string]*Result // full fits by likeness, in the numbers of the part

	turn        int32   // how many parts were cut out
	seen, taken []int32 // by net, by device: the last turn in which it was reached
}

// Reading is what is otherwise than in the circuit.
type Reading struct {
	Without []int            // devices that are not there
	With    []netlist.Device // devices that are, on nets of the circuit; NoNet: a net that has nothing else
	Join    []netlist.Net    // nets that are one; in what is returned the lowest stands for all
}

// NewAround takes a flat circuit, which must not change afterwards.
func NewAround(c *netlist.Circuit) *Around {
	a := &Around{c: c, rails: parts.Rails(c), first: make([]int32, len(c.Nets)+1), open: make([]bool, len(c.Nets)), seen: make([]int32, len(c.Nets)), taken: make([]int32, len(c.Devices))}
	for n := range c.Nets {
		a.open[n] = c.Nets[n].Open
	}
	for _, n := range c.Ports {
		a.open[n] = true
	}
	each := func(f func(n netlist.Net, device int32)) {
		for i := range c.Devices {
			for _, n := range ends(&c.Devices[i]) {
				if n != netlist.NoNet {
					f(n, int32(i))
				}
			}
		}
	}
	each(func(n netlist.Net, _ int32) { a.first[n+1]++ })
	for n := range c.Nets {
		a.first[n+1] += a.first[n]
	}
	a.pins = make([]int32, a.first[len(c.Nets)])
	at := slices.Clone(a.first)
	each(func(n netlist.Net, i int32) {
		a.pins[at[n]] = i
		at[n]++
	})
	a.most = [3]netlist.Net{netlist.NoNet, netlist.NoNet, netlist.NoNet}
	for n, r := range a.rails {
		if best := &a.most[r]; *best == netlist.NoNet || len(a.on(netlist.Net(n))) > len(a.on(*best)) {
			*best = netlist.Net(n)
		}
	}
	return a
}

// ends are the terminals of a device that count: a bulk does not.
func ends(d *netlist.Device) []netlist.Net { return d.Terminals[:terminals(d.Kind)] }

// Rail returns the supply of a kind that most pins are on; NoNet: there is none.
func (a *Around) Rail(kind parts.Rail) netlist.Net { return a.most[kind] }

func (a *Around) on(n netlist.Net) []int32 { return a.pins[a.first[n]:a.first[n+1]] }

// Find is Find for what lies around some nets in a reading, with all patterns of the library. In what it returns, nets and devices have
// the circuit's numbers; the devices of Reading.With come after these, in their order. Boxes are not told.
func (a *Around) Find(ctx context.Context, near []netlist.Net, r Reading, missing int) (*Result, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	l := a.around(near, &r)
	if missing == 0 {
		beyond := l.beyond()
		like := l.likeness(beyond)
		known := a.met[like]
		if known == nil {
			var err error
			if known, err = l.find(ctx, parts.Known{Beyond: beyond}, 0); err != nil {
				return nil, err
			}
			if a.met == nil || len(a.met) == mostMet {
				a.met = map[string]*Result{}
			}
			a.met[like] = known
		}
		return l.translate(known), nil
	}
	l.stubs()
	res, err := l.find(ctx, parts.Known{}, missing)
	if err != nil {
		return nil, err
	}
	return l.translate(res), nil
}

// local is a part of a circuit.
type local struct {
	of      *Around
	r       *Reading
	c       *netlist.Circuit
	rails   []parts.Rail
	device  []int32       // by its own devices
	net     []netlist.Net // by its own nets; NoNet: it is the circuit's no net
	number  map[netlist.Net]netlist.Net
	without map[int]bool
}

// around cuts a part out of the circuit. Where a net goes on beyond, beyond or stubs must stand for what is left out, so that it is never
// taken for one that ends.
func (a *Around) around(near []netlist.Net, r *Reading) *local {
	r = &Reading{r.Without, r.With, slices.DeleteFunc(slices.Compact(slices.Sorted(slices.Values(r.Join))), func(n netlist.Net) bool { return n == netlist.NoNet })}
	l := &local{of: a, r: r, c: &netlist.Circuit{Name: a.c.Name}, number: map[netlist.Net]netlist.Net{}, without: map[int]bool{}}
	for _, i := range r.Without {
		l.without[i] = true
	}
	for _, n := range r.Join {
		near = append(slices.Clip(near), n)
	}
	for i := range r.With {
		near = append(slices.Clip(near), ends(&r.With[i])...)
	}
	l.reach(near)
	for _, rail := range []parts.Rail{parts.Ground, parts.Supply} { // that there is one must be known
		if n := a.Rail(rail); n != netlist.NoNet {
			l.local(n)
		}
	}
	l.c.Devices = make([]netlist.Device, 0, len(l.device)+len(r.With))
	for _, i := range l.device {
		l.add(a.c.Devices[i])
	}
	for k := range r.With {
		l.device = append(l.device, int32(len(a.c.Devices)+k))
		l.add(r.With[k])
	}
	for n := range l.net {
		if slices.ContainsFunc(l.joined(l.net[n]), func(m netlist.Net) bool { return m != netlist.NoNet && a.open[m] }) {
			l.c.Ports = append(l.c.Ports, netlist.Net(n))
		}
	}
	return l
}

// reach finds the devices around some nets, those that are fewer nets away first.
func (l *local) reach(near []netlist.Net) {
	a := l.of
	a.turn++
	want := func(n netlist.Net, to []netlist.Net) []netlist.Net {
		for _, m := range l.joined(n) {
			if m != netlist.NoNet && a.seen[m] != a.turn && a.rails[m] == parts.Signal {
				a.seen[m] = a.turn
				to = append(to, m)
			}
		}
		return to
	}
	var layer []netlist.Net
	for _, n := range near {
		layer = want(n, layer)
	}
	for range aroundNets {
		var next []netlist.Net
		for _, n := range layer {
			if len(a.on(n)) > smallNet {
				continue
			}
			for _, i := range a.on(n) {
				if a.taken[i] == a.turn || l.without[int(i)] || len(l.device) == aroundDevices {
					continue
				}
				a.taken[i] = a.turn
				l.device = append(l.device, i)
				for _, m := range ends(&a.c.Devices[i]) {
					next = want(m, next)
				}
			}
		}
		layer = next
	}
	slices.Sort(l.device)
}

// joined returns a net with those that are one with it in the reading, the first of which stands for all.
func (l *local) joined(n netlist.Net) []netlist.Net {
	if n != netlist.NoNet && slices.Contains(l.r.Join, n) {
		return l.r.Join
	}
	return []netlist.Net{n}
}

// local returns the part's number of a net, a new one for NoNet.
func (l *local) local(n netlist.Net) netlist.Net {
	all := l.joined(n)
	if k, ok := l.number[all[0]]; ok && n != netlist.NoNet {
		return k
	}
	k := netlist.Net(len(l.net))
	l.net = append(l.net, all[0])
	if n == netlist.NoNet {
		l.c.Nets, l.rails = append(l.c.Nets, netlist.NetInfo{}), append(l.rails, parts.Signal)
		return k
	}
	l.number[all[0]] = k
	info, rail := l.of.c.Nets[all[0]], parts.Signal
	for _, m := range all {
		rail = max(rail, l.of.rails[m])
	}
	l.c.Nets, l.rails = append(l.c.Nets, info), append(l.rails, rail)
	return k
}

// add adds a device, its nets in the part's numbers.
func (l *local) add(d netlist.Device) {
	for t := range d.Terminals {
		if t < terminals(d.Kind) {
			d.Terminals[t] = l.local(d.Terminals[t])
		} else {
			d.Terminals[t] = netlist.NoNet
		}
	}
	l.c.Devices = append(l.c.Devices, d)
}

// beyond returns by net how many pins more it has in the circuit, as far as that matters.
func (l *local) beyond() []int32 {
	have := make([]int, len(l.net))
	for i := range l.c.Devices {
		for _, n := range ends(&l.c.Devices[i]) {
			have[n]++
		}
	}
	more := make([]int32, len(have))
	for n := range have {
		if l.net[n] == netlist.NoNet || l.rails[n] != parts.Signal {
			continue
		}
		all := 0
		for _, m := range l.joined(l.net[n]) {
			for _, i := range l.of.on(m) {
				if !l.without[int(i)] {
					all++
				}
				if all > have[n]+aroundStubs {
					break
				}
			}
		}
		for i := range l.r.With {
			for _, m := range ends(&l.r.With[i]) {
				if m != netlist.NoNet && l.local(m) == netlist.Net(n) {
					all++
				}
			}
		}
		more[n] = int32(max(0, min(all-have[n], aroundStubs)))
	}
	return more
}

// stubs puts devices that no pattern has where nets go on beyond: what is a piece too many may be one of these.
func (l *local) stubs() {
	wanted, sum := l.beyond(), 0
	for _, n := range wanted {
		sum += int(n)
	}
	l.device, l.c.Devices = slices.Grow(l.device, sum), slices.Grow(l.c.Devices, sum)
	l.net, l.c.Nets, l.rails = slices.Grow(l.net, sum), slices.Grow(l.c.Nets, sum), slices.Grow(l.rails, sum)
	stub := netlist.Device{Kind: netlist.VoltageSource, Terminals: [4]netlist.Net{netlist.NoNet, netlist.NoNet, netlist.NoNet, netlist.NoNet}}
	for n, stubs := range wanted {
		for range stubs {
			stub.Terminals[0], stub.Terminals[1] = netlist.Net(n), l.local(netlist.NoNet)
			l.device = append(l.device, -1)
			l.c.Devices = append(l.c.Devices, stub)
		}
	}
}

// find recognises the part.
func (l *local) find(ctx context.Context, known parts.Known, missing int) (*Result, error) {
	known.All = l.rails // of stubs, too
	f := &finder{opt: Options{Patterns: library.Embedded(), Missing: missing, Looked: l.of.Looked, Workers: 1}, ix: newIndex(parts.New(l.c, known))}
	return f.find(ctx)
}

// translate returns a result in the circuit's numbers, in memory of its own: r may be remembered.
func (l *local) translate(r *Result) *Result {
	t := &Result{Supply: l.nets(r.Supply), Ground: l.nets(r.Ground), CutShort: slices.Clone(r.CutShort)}
	t.Fits, t.Others, t.Partial = l.fits(r.Fits), l.fits(r.Others), l.fits(r.Partial)
	return t
}

func (l *local) fits(all []Fit) []Fit {
	all = slices.Clone(all)
	for i := range all {
		f := &all[i]
		f.Members, f.Ports, f.Inner, f.Loose = slices.Clone(f.Members), l.nets(f.Ports), l.nets(f.Inner), slices.Clone(f.Loose)
		for k := range f.Members {
			m := &f.Members[k]
			m.Device, m.Fingers = l.device[m.Device], slices.Clone(m.Fingers)
			for n := range m.Fingers {
				m.Fingers[n] = l.device[m.Fingers[n]]
			}
		}
		f.Missing, f.Extra = l.pieces(f.Missing), l.pieces(f.Extra)
		f.Box = geom.Rect{} // of what is remembered, it is another place's
	}
	return all
}

func (l *local) pieces(all []Piece) []Piece {
	all = slices.Clone(all)
	for i := range all {
		p := &all[i]
		if p.Device >= 0 {
			p.Device = l.device[p.Device]
		}
		p.Between = l.nets(p.Between)
	}
	return all
}

func (l *local) nets(all []netlist.Net) []netlist.Net {
	all = slices.Clone(all)
	for i, n := range all {
		if n != netlist.NoNet {
			all[i] = l.net[n]
		}
	}
	return all
}

// NotIn returns the fits of the cover that are none in another reading, in its cover or beside it. What each weighs does not count: on a
// longer net the same joints weigh less, so that another cover may be the best.
func (r *Result) NotIn(other *Result) []*Fit {
	key := func(f *Fit) string { return fmt.Sprint(f.Pattern.Title, f.Mirror, f.Devices()) }
	there := map[string]bool{}
	for _, fits := range [][]Fit{other.Fits, other.Others} {
		for i := range fits {
			there[key(&fits[i])] = true
		}
	}
	var out []*Fit
	for i := range r.Fits {
		if f := &r.Fits[i]; !there[key(f)] {
			out = append(out, f)
		}
	}
	return out
}
