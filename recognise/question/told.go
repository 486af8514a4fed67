package question

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/check"
	"undermetal/netlist/extract"
)

// The roles of devices and of structures that make no device.
const (
	Protection = "protection" // between a pad and a supply: it carries current only when the pad leaves the supplies
	Dummy      = "dummy"      // there so that its neighbours look alike
	Fuse       = "fuse"       // a resistor that is meant to be blown
	Sensor     = "photodiode" // takes light; only of structures, since a device's model says it
)

// Told is what a drawing tells of its devices beside what they are.
type Told struct {
	Roles      []string    // by device; empty where it is there for what it is
	Odds       []float64   // by device: in decibans, those of the reading that its role hangs on, while that is an open question; else 0
	Fills      []Fill      // by device; of what is no photodiode, or has no pitch, zero
	Structures []Structure // that make no device, in the order of place
	Protects   []Protects  // by extract.Result.Pads: what protects each
}

// Structure is a piece of the drawing that has a role, and makes no device.
type Structure struct {
	Role  string
	Layer layout.Layer
	At    geom.Point  // within it
	Path  string      // the instance that it is drawn in, empty for the top cell
	Net   netlist.Net // NoNet where the circuit does without
	Area  float64     // nm²
	Fill  Fill        // of a photodiode
	Odds  float64     // of what the leading reading of a question says: that reading's, in decibans; else 0
}

// Protects is what protects a pad.
type Protects struct {
	Devices    []int // of the circuit, ascending
	Structures []int // in Told.Structures, ascending
}

// AskAndTell is Ask, and tells the roles of devices. Questions about plates and about junctions are looked at for these whatever
// Options.Kinds says.
func AskAndTell(ctx context.Context, res *extract.Result, st *stack.Stack, checks []check.Finding, opt Options) ([]Question, *Told, error) {
	v := newView(res, st, checks, opt).until(ctx)
	all, err := v.askAll()
	if err != nil {
		return nil, nil, err
	}
	told, err := v.tellRoles(all)
	if err != nil {
		return nil, nil, err
	}
	if !opt.All {
		all = slices.DeleteFunc(all, func(q Question) bool { return !q.Listed() })
	}
	sortQuestions(all)
	return all, told, nil
}

// tellRoles finds the roles of devices and structures. all are the questions that are asked.
func (v *view) tellRoles(all []Question) (*Told, error) {
	t := &Told{Roles: make([]string, len(v.c.Devices)), Odds: make([]float64, len(v.c.Devices)), Fills: make([]Fill, len(v.c.Devices)), Protects: make([]Protects, len(v.res.Pads))}
	if v.res.Facts == nil {
		return t, nil
	}
	var more []string
	for _, k := range []string{TransistorOrCapacitor, Photodiode} {
		if !v.asks(k) {
			more = append(more, k)
		}
	}
	if len(more) > 0 {
		w := *v
		w.opt.Kinds = more
		others, err := w.askAll()
		if err != nil {
			return nil, err
		}
		all = append(slices.Clip(all), others...)
	}
	for i := range v.c.Devices {
		if d := &v.c.Devices[i]; d.Kind == netlist.Resistor && strings.Contains(strings.ToLower(d.Model), "fuse") {
			t.Roles[i] = Fuse
		}
	}
	photo := v.photodiodes(all)
	v.tellProtection(t, photo)
	v.tellDummies(t, all)
	v.tellFills(t, photo)
	return t.inOrder(), nil
}

// inOrder puts structures in the order of place.
func (t *Told) inOrder() *Told {
	order := make([]int, len(t.Structures))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		p, q := &t.Structures[a], &t.Structures[b]
		return cmp.Or(cmp.Compare(p.At.Y, q.At.Y), cmp.Compare(p.At.X, q.At.X), cmp.Compare(p.Layer, q.Layer), cmp.Compare(p.Role, q.Role))
	})
	sorted, now := make([]Structure, len(order)), make([]int, len(order))
	for to, from := range order {
		sorted[to], now[from] = t.Structures[from], to
	}
	t.Structures = sorted
	for i := range t.Protects {
		for k, s := range t.Protects[i].Structures {
			t.Protects[i].Structures[k] = now[s]
		}
		slices.Sort(t.Protects[i].Structures)
	}
	return t
}
