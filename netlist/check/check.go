package check

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
)

// The codes of findings.
const (
	NearMiss        = "near-miss"         // two pieces of one conductor on different nets, closer than the tolerance
	NearOverlap     = "near-overlap"      // two shapes that are one net only by a strip narrower than the tolerance
	Sliver          = "sliver"            // a piece of a layer that is narrower than the tolerance everywhere
	ContactOnOne    = "contact-on-one"    // a contact over one conductor of those that it could join
	ContactOnNone   = "contact-on-none"   // a contact over none
	CrossesItself   = "crosses-itself"    // an outline that crosses itself
	OddOutline      = "odd-outline"       // an outline with another fault
	OffShot         = "off-shot"          // a shape beyond the photograph that it was traced over
	PadWithoutLabel = "pad-without-label" // a bond pad on a net that has no label
	GateEndsInside  = "gate-ends-inside"  // a gate that does not split the diffusion
	ShortEndCap     = "short-end-cap"     // a gate that passes the edge of the diffusion by less than the tolerance

	// Those of netlist/extract about labels, at the place of the label.
	EqualLabels    = "equal-labels"     // equal labels on nets that nothing joins
	LabelOnNothing = "label-on-nothing" // a label that lies on no net of its layer
	TwoNames       = "two-names"        // different labels on one net
)

// Codes lists all codes in the order in which findings come.
var Codes = []string{ContactOnNone, ContactOnOne, CrossesItself, EqualLabels, GateEndsInside, LabelOnNothing, NearMiss, NearOverlap, OddOutline, OffShot, PadWithoutLabel, ShortEndCap, Sliver, TwoNames}

// Shot is a photograph that shapes may be traced over.
type Shot struct {
	Name    string
	Outline geom.Polygon // in the frame; convex, or nearly so
}

// Options say what to look for.
type Options struct {
	ToleranceNm int                  // lengths up to this are suspicious; at least 1
	Layers      []layout.Layer       // those to look at; none: all
	Shots       []Shot               // photographs whose place is known
	Over        func(shape int) int  // the index in Shots of what a shape of the top cell was traced over; -1: none; -2: one whose place is not known. May be nil
	Healed      func(shape int) bool // whether a shape of the top cell was made to close a gap: what it overlaps by little is meant. May be nil
	Progress    func(done, total int)
	Workers     int // how many goroutines work; 0: as many as there are processors. What is found does not depend on it

	strips int // for tests: the number of strips of each sweep; 0: by the amount of shapes
}

// Finding is something that deserves a look.
type Finding struct {
	Code   string
	Text   string       // what was found, and what to do
	Layer  layout.Layer // stack.SubstrateLayer where it is about the substrate
	At     geom.Point   // in the frame; of the first where Count is more than 1
	Gap    int          // nm; the length that is too small, where HasGap
	HasGap bool
	Path   string         // of the instance that it lies in whole, empty for the top cell
	Count  int            // how many places look the same, in placements of the same cell
	All    bool           // is about all of a layer, At being the first of Count places, which the text tells
	Nets   [2]string      // of a near miss: the names of the nets on both sides, empty where a net has none
	On     []layout.Place // of a near miss: where the circuit has both nets, what it calls them by (netlist.NetInfo.Layer and At)
	Dead   bool           // of a near miss: the net of at least one side has no device, no label, and is not open

	other  geom.Point   // what it lies between, At being one side; At again where there is no other
	layer2 layout.Layer // of other
	folded bool         // counts all its places already
	pieces [2]int32     // of a near miss
	gaps   []gap        // of a near miss: where it could be closed, the best first
}

// Run looks at a cell with all that it places. Layers of the library mean what the stack says of the layer of the same
// index. Errors: a tolerance below 1 nm, those of extraction, or ctx ended.
func Run(ctx context.Context, lib *layout.Library, top *layout.Cell, st *stack.Stack, opt Options) ([]Finding, error) {
	d, err := newDrawing(ctx, lib, top, st, opt)
	if err != nil {
		return nil, err
	}
	for _, look := range []func() error{d.contacts, d.outlines, d.gates, d.nearMisses, d.nearOverlaps, d.offShots, d.pads, d.slivers, d.labels} {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := look(); err != nil {
			return nil, err
		}
		d.step()
	}
	return d.fold(), ctx.Err()
}

// sortFindings puts findings in the order of code, layer and place.
func sortFindings(all []Finding) {
	slices.SortFunc(all, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(a.Code, b.Code), cmp.Compare(a.Layer, b.Layer), comparePoints(a.At, b.At), comparePoints(a.other, b.other), cmp.Compare(a.Gap, b.Gap), cmp.Compare(a.Text, b.Text))
	})
}

func comparePoints(a, b geom.Point) int { return cmp.Or(cmp.Compare(a.Y, b.Y), cmp.Compare(a.X, b.X)) }

// um writes a length in nm as µm.
func um(nm int) string { return string(geom.AppendUm(nil, nm)) + " µm" }

// checked reports whether a layer is to be looked at.
func (d *drawing) checked(l layout.Layer) bool {
	return len(d.opt.Layers) == 0 || slices.Contains(d.opt.Layers, l)
}

func (d *drawing) name(l layout.Layer) string { return d.st.Layers[l].Name }

func (d *drawing) add(f Finding) {
	if f.Count == 0 {
		f.Count = 1
	}
	d.findings = append(d.findings, f)
}

// at makes a finding about one place.
func at(code string, l layout.Layer, p geom.Point, format string, args ...any) Finding {
	return Finding{Code: code, Layer: l, At: p, other: p, layer2: l, Text: fmt.Sprintf(format, args...)}
}
