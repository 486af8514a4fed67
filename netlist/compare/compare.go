package compare

import (
	"context"
	"errors"
	"fmt"
	"math"

	"undermetal/layout/geom"
	"undermetal/netlist"
)

// Options say what counts as the same.
type Options struct {
	// ToleranceNm and ToleranceRel: W and L agree when they are within so many nm of each other, or within that
	// fraction of the larger one. Both zero stand for 1 nm. Values, and areas and perimeters of diodes, agree within
	// 1e-3 of the larger one, or within ToleranceRel if that is more.
	ToleranceNm, ToleranceRel float64
	// Series also accepts another order of the transistors in a series stack.
	Series bool
	// BulkByName takes every bulk for an ordinary terminal: its net must be the mapped one, one to one.
	BulkByName bool
}

// DefaultOptions returns a tolerance of 1 nm, stacks in their order, bulk by structure.
func DefaultOptions() Options { return Options{ToleranceNm: 1} }

// Result is the outcome of a comparison.
type Result struct {
	Same    bool
	Matched int // devices of A that have a counterpart
	// Devices holds for every device of A the index of its counterpart in B, -1 where there is none. Parallel devices
	// are matched as a whole: where B lists fewer, several devices of A share a counterpart.
	Devices []int32
	// Nets holds for every net of A its counterpart in B; NoNet where there is none or no device touches it.
	Nets        []netlist.Net
	Differences []Difference // empty if Same; the nearest matches first
	Renamed     []Renamed    // if Same: nets that are labelled in both, but not alike
	Bare        []Bare       // if Same: names that lie on no device in one circuit, and on some in the other
}

// Difference is one line of the account of what differs.
type Difference struct {
	Kind string      // "terminal", "model", "net", "device", "size", "bulk", "count", "more"
	Text string      // the whole finding; places in µm
	A, B string      // the device or net of either circuit that the text is about; empty: there is none
	At   *geom.Point // its place in A, else in B, in nm; nil: not known
}

// ErrUndecided says that the search for a mapping was given up; nothing was found out then.
var ErrUndecided = errors.New("undecided: the circuits look alike, but too many ways of mapping them are left to try; " +
	"give more nets or wells a name, or compare parts of them")

// Compare decides whether two flat circuits are the same up to names, and says where not; doc.go has the rules.
//
// Errors: a circuit that holds instances or a device with a terminal on a net that does not exist, a tolerance that is
// negative or no number, ErrUndecided, and the context's error when it is cancelled.
func Compare(ctx context.Context, a, b *netlist.Circuit, opt Options) (*Result, error) {
	if err := checkOptions(opt); err != nil {
		return nil, err
	}
	if opt.ToleranceNm == 0 && opt.ToleranceRel == 0 {
		opt.ToleranceNm = DefaultOptions().ToleranceNm
	}
	for i, c := range []*netlist.Circuit{a, b} {
		if err := checkCircuit(c, "AB"[i:i+1]); err != nil {
			return nil, err
		}
	}
	res, err := compareSeries(ctx, a, b, opt)
	if err == nil && res.Same {
		res.Renamed = renamings(a, b, res.Nets)
		res.Bare = append(bareIn(a, b, "A", res.Nets), bareIn(b, a, "B", inverse(res.Nets, len(b.Nets)))...)
	}
	return res, err
}

// compareSeries compares as asked for, and again without Options.Series where that finds a difference.
func compareSeries(ctx context.Context, a, b *netlist.Circuit, opt Options) (*Result, error) {
	res, err := compareOnce(ctx, a, b, opt)
	if err != nil || res.Same || !opt.Series {
		return res, err
	}
	// Where a tolerance lets two transistors count as one stack on one side only, the drawn order may still agree.
	plain := opt
	plain.Series = false
	if r, err := compareOnce(ctx, a, b, plain); err != nil || r.Same {
		return r, err
	}
	return res, nil
}

func checkOptions(opt Options) error {
	for _, t := range []float64{opt.ToleranceNm, opt.ToleranceRel} {
		if !(t >= 0) || math.IsInf(t, 1) {
			return fmt.Errorf("tolerance %v: it must be zero or more, in nm or as a fraction", t)
		}
	}
	return nil
}

// maxDevices keeps all indices within int32, those of edges too: four a device, from both of their ends, in two circuits.
const maxDevices = 1 << 26

func checkCircuit(c *netlist.Circuit, side string) error {
	if c == nil {
		return fmt.Errorf("circuit %s is missing", side)
	}
	name := fmt.Sprintf("circuit %s (%s)", side, c.Name)
	if len(c.Instances) > 0 {
		return fmt.Errorf("%s holds instances, %s is the first; flatten it before comparing", name, c.Instances[0].Name)
	}
	if err := checkSize(c, side, maxDevices); err != nil {
		return err
	}
	for i := range c.Devices {
		d := &c.Devices[i]
		if d.Kind < netlist.NMOS || d.Kind > netlist.CurrentSource {
			return fmt.Errorf("%s: device %d (%s) is of unknown kind %d", name, i, d.Name, uint8(d.Kind))
		}
		for t, n := range d.Terminals[:len(d.Kind.TerminalNames())] {
			if n < netlist.NoNet || int(n) >= len(c.Nets) {
				return fmt.Errorf("%s: device %d (%s) has its %s on net %d, there are only %d nets", name, i, d.Name,
					d.Kind.TerminalNames()[t], n, len(c.Nets))
			}
		}
	}
	return nil
}

func checkSize(c *netlist.Circuit, side string, most int) error {
	if len(c.Devices) > most || len(c.Nets) > most {
		return fmt.Errorf("circuit %s (%s) has %d devices and %d nets, at most %d of each can be compared", side, c.Name,
			len(c.Devices), len(c.Nets), most)
	}
	return nil
}

// compareOnce builds the reduced graph of both circuits, looks for a mapping, and turns the outcome into a result.
func compareOnce(ctx context.Context, a, b *netlist.Circuit, opt Options) (*Result, error) {
	p := reduce(a, b, opt)
	g := newGraph(p)
	out, err := decide(ctx, p, g)
	if err != nil {
		return nil, err
	}
	if out.match == nil {
		ac, err := nearest(ctx, p, g)
		if err != nil {
			return nil, err
		}
		return ac.result(), nil
	}
	return verified(newAccount(p, g, out.match).result(), out.same)
}

// verified returns res, which was made by looking at every terminal and size under the mapping, if it confirms what the
// search said.
func verified(res *Result, same bool) (*Result, error) {
	if res.Same != same {
		return nil, fmt.Errorf("%w (the mapping that was found does not hold)", ErrUndecided)
	}
	return res, nil
}
