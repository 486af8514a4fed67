package recognise

import (
	"cmp"
	"context"
	"errors"
	"runtime"
	"slices"
	"sync"

	"golang.org/x/sync/errgroup"

	"undermetal/netlist"
	"undermetal/recognise/library"
	"undermetal/recognise/logic"
	"undermetal/recognise/parts"
)

// Find lays every pattern of opt on the circuit c, which must be flat, wherever it fits, and adds the gates, latches and rings
// that package logic finds. A pattern that cannot be searched for is an error; library.Load takes none.
//
// The result is the same whatever the number of workers is, and the same for devices in another order but for the order of equals and for
// which fits of patterns in CutShort are told.
func Find(ctx context.Context, c *netlist.Circuit, opt Options) (*Result, error) {
	if len(c.Instances) > 0 {
		return nil, errors.New("recognition takes a flat circuit; this one holds instances of others")
	}
	if opt.Patterns == nil {
		opt.Patterns = library.Embedded()
	}
	if opt.Workers <= 0 {
		opt.Workers = runtime.GOMAXPROCS(0)
	}
	f := &finder{opt: opt, ix: newIndex(parts.New(c, parts.Known{Supply: opt.Supply, Ground: opt.Ground}))}
	f.tell(0.1)
	return f.find(ctx)
}

// find lays the patterns on the circuit of the index.
func (f *finder) find(ctx context.Context) (*Result, error) {
	all, err := f.fullFits(ctx)
	if err != nil {
		return nil, err
	}
	in := cover(all, len(f.ix.g.Parts))
	f.tell(0.8)
	r := &Result{CutShort: f.cut}
	for n, rail := range f.ix.g.Rails {
		switch rail {
		case parts.Supply:
			r.Supply = append(r.Supply, netlist.Net(n))
		case parts.Ground:
			r.Ground = append(r.Ground, netlist.Net(n))
		}
	}
	for i := range all {
		if in[i] {
			r.Fits = append(r.Fits, f.fit(&all[i]))
		} else {
			r.Others = append(r.Others, f.fit(&all[i]))
		}
	}
	sortFits(r.Fits)
	slices.SortStableFunc(r.Others, func(a, b Fit) int { return cmp.Compare(b.Weight, a.Weight) })
	if f.opt.Missing > 0 {
		if r.Partial, err = f.partialFits(ctx, all, in); err != nil {
			return nil, err
		}
	}
	f.tell(1)
	return r, nil
}

// finder is one search.
type finder struct {
	opt  Options
	ix   *index
	cut  []string // patterns of which not all placements were looked at
	mu   sync.Mutex
	told float64
	idle [][]bool // marks by part, all of them false
}

// borrow returns marks by part, for one search at a time.
func (f *finder) borrow() []bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	if n := len(f.idle); n > 0 {
		marks := f.idle[n-1]
		f.idle = f.idle[:n-1]
		return marks
	}
	return make([]bool, len(f.ix.g.Parts))
}

func (f *finder) giveBack(marks []bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.idle = append(f.idle, marks)
}

func (f *finder) tell(done float64) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.opt.Progress != nil && done > f.told {
		f.told = done
		f.opt.Progress(done)
	}
}

// fullFits returns all placements of all patterns, pattern by pattern.
func (f *finder) fullFits(ctx context.Context) ([]candidate, error) {
	bags := make([]*bag, len(f.opt.Patterns))
	cut := make([]int, len(f.opt.Patterns))
	var found []candidate
	done := 0
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(f.opt.Workers)
	g.Go(func() error {
		var err error
		found, err = f.logicFits(ctx)
		return err
	})
	for i, p := range f.opt.Patterns {
		g.Go(func() error {
			b := newBag()
			plans, err := plansOf(p)
			if err != nil {
				return err
			}
			used := f.borrow()
			for _, pl := range plans {
				n, err := f.ix.run(ctx, pl, used, b.take)
				if err != nil {
					return err
				}
				cut[i] += n
			}
			f.giveBack(used)
			b.seen, b.often = nil, nil
			cut[i] += b.full
			bags[i] = b
			f.mu.Lock()
			done++
			share := float64(done) / float64(len(f.opt.Patterns))
			f.mu.Unlock()
			f.tell(0.1 + 0.6*share)
			return nil
		})
	}
	if err := g.Wait(); err != nil {
		return nil, err
	}
	var all []candidate
	for i, b := range bags {
		all = append(all, b.all...)
		if cut[i] > 0 {
			f.cut = append(f.cut, f.opt.Patterns[i].Name)
		}
	}
	all = f.levelsOnly(all, found)
	return addLogic(all, found), nil
}

// bareStage is up to how many parts a stage may have for its bias to tell it from a driver of logic.
const bareStage = 3

// levelsOnly leaves out small stages whose bias is driven by a gate or a latch: that is no level, and two or three transistors around it are
// what drives a bus, not an amplifier. Larger patterns say enough by themselves: the tail of a comparator may well be clocked.
func (f *finder) levelsOnly(all, found []candidate) []candidate {
	driven := make([]bool, len(f.ix.g.Rails))
	for i := range found {
		for k, p := range found[i].pattern.Ports {
			if p.Role == library.Output {
				driven[found[i].nets[found[i].pattern.Circuit.Ports[k]]] = true
			}
		}
	}
	return slices.DeleteFunc(all, func(c candidate) bool {
		if c.plan.size > bareStage || len(c.pattern.Context) > 0 {
			return false
		}
		for k, p := range c.pattern.Ports {
			if net := c.nets[c.pattern.Circuit.Ports[k]]; p.Role == library.Bias && net >= 0 && driven[net] {
				return true
			}
		}
		return false
	})
}

// logicFits turns what package logic finds into candidates.
func (f *finder) logicFits(ctx context.Context) ([]candidate, error) {
	groups, err := logic.Find(ctx, f.ix.g)
	if err != nil {
		return nil, err
	}
	all := make([]candidate, 0, len(groups))
	for i := range groups {
		gr := &groups[i]
		c := candidate{pattern: gr.Pattern, parts: gr.Parts, nets: gr.Nets}
		pins := make([]int, len(gr.Nets))
		for d := range gr.Pattern.Circuit.Devices {
			for t, n := range gr.Pattern.Circuit.Devices[d].Terminals {
				if n != netlist.NoNet && !(t == netlist.Bulk && gr.Pattern.Circuit.Devices[d].Kind.IsMOS()) {
					pins[n]++
				}
			}
		}
		for n, k := range pins {
			c.weight += f.ix.weighNet(gr.Nets[n], k)
		}
		c.weight = rounded(c.weight)
		all = append(all, c)
	}
	return all, nil
}

// addLogic adds the candidates of package logic to those of the patterns, unless one of the same name lies on the same parts.
func addLogic(all, found []candidate) []candidate {
	byPart := map[int32][]int32{}
	names := map[string]bool{}
	for i := range found {
		names[found[i].pattern.Name] = true
	}
	for i := range all {
		if names[all[i].pattern.Name] {
			first := sortedParts(nil, all[i].parts)[0]
			byPart[first] = append(byPart[first], int32(i))
		}
	}
	for i := range found {
		key := sortedParts(nil, found[i].parts)
		if !slices.ContainsFunc(byPart[key[0]], func(k int32) bool {
			return all[k].pattern.Name == found[i].pattern.Name && slices.Equal(sortedParts(nil, all[k].parts), key)
		}) {
			all = append(all, found[i])
		}
	}
	return all
}

// sortFits orders fits by their first devices.
func sortFits(fits []Fit) {
	slices.SortFunc(fits, func(a, b Fit) int {
		return cmp.Or(cmp.Compare(firstDevice(&a), firstDevice(&b)), cmp.Compare(a.Pattern.Name, b.Pattern.Name), cmp.Compare(b.Weight, a.Weight))
	})
}

func firstDevice(f *Fit) int32 {
	first := f.Members[0].Device
	for _, m := range f.Members {
		first = min(first, m.Device)
	}
	return first
}

// fit tells a candidate in full.
func (f *finder) fit(c *candidate) Fit {
	g := f.ix.g
	p := c.pattern
	fit := Fit{Pattern: p, Mirror: c.mirror, Weight: c.weight}
	on := filled(len(p.Circuit.Devices)) // parts by the pattern's devices
	for i, q := range c.parts {
		switch {
		case q < 0 || c.context(i):
		case c.plan != nil:
			on[c.plan.parts[i].device] = q
		default:
			on[i] = q
		}
	}
	for d, q := range on {
		if q < 0 {
			continue
		}
		ds := g.Devices(q)
		fit.Members = append(fit.Members, Member{Device: ds[0], Role: p.Circuit.Devices[d].Name, Fingers: ds[1:len(ds):len(ds)]})
		for _, k := range ds {
			if at := g.Circuit.Devices[k].At; len(fit.Members) == 1 && k == ds[0] {
				fit.Box.Min, fit.Box.Max = at, at
			} else {
				fit.Box = fit.Box.Extend(at)
			}
		}
	}
	port := make([]bool, len(p.Circuit.Nets))
	fit.Ports = portsOf(c)
	for _, n := range p.Circuit.Ports {
		port[n] = true
	}
	fit.Loose = f.loosePorts(c, p)
	for n := range p.Circuit.Nets {
		if !port[n] {
			fit.Inner = append(fit.Inner, netlist.Net(c.nets[n]))
		}
	}
	return fit
}

// loosePorts returns the ports of a candidate that lead nowhere.
func (f *finder) loosePorts(c *candidate, p *library.Pattern) []int {
	var all []int
	g := f.ix.g
	for i, n := range p.Circuit.Ports {
		net := c.nets[n]
		if net < 0 || g.Rails[net] != parts.Signal || g.Port[net] || g.Circuit.Nets[net].Open {
			continue
		}
		own := 0
		for _, q := range c.parts {
			if q < 0 {
				continue
			}
			for _, m := range g.Parts[q].Nets {
				if m == net {
					own++
				}
			}
		}
		if own > 0 && own == g.Degree(net) {
			all = append(all, i)
		}
	}
	return all
}
