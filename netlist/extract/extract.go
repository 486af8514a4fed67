package extract

import (
	"context"
	"fmt"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
)

// Options are what a caller may choose. None of them but Leading changes the circuit.
type Options struct {
	Workers  int                   // how many strips are swept at a time; 0: one a processor
	Progress func(done, total int) // called now and then, from one goroutine at a time; may be nil
	Strips   int                   // for tests: the number of strips of each group; 0: by the amount of shapes
	Ask      []layout.Place        // places of conductors of which the net is wanted
	Facts    bool                  // Result.Facts is wanted
	Outlines bool                  // Result.Outlines are wanted

	Junctions bool // Result.Junctions are wanted, too; it takes Outlines to have an effect

	// Leading are readings of open questions, of kind polarity or photodiode, at places of the frame. They are followed where no
	// verdict of the drawing speaks of the same, a polarity for its channel alone, and are no verdicts: nobody has settled on them.
	Leading []layout.Verdict
}

// Warning is something in the drawing that deserves a look.
type Warning struct {
	Code  string // stable, for programs: see DEVELOPERS.md
	Text  string
	Layer string
	X, Y  int // nm
}

// Result is a circuit and what was noticed while it was read.
type Result struct {
	Circuit   *netlist.Circuit
	Questions []string // for each device: the code of its warning, or empty
	Warnings  []Warning
	Asked     []Asked       // for each place of Options.Ask
	Facts     *Facts        // where Options.Facts asked for them
	Verdicts  []UsedVerdict // each verdict of the drawing in each of its places, in the order of place
	Leading   []UsedVerdict // what became of Options.Leading, in the order of place
	Outlines  []Outline     // where Options.Outlines asked for them, in the order of devices
	Junctions []Junction    // where Options.Junctions asked for them
	Pads      []Pad         // openings in the passivation, in the order of place
	Crossings int           // connected places where gate crosses diffusion, whether devices came of them or not
	LeftOut   int           // nets of gates, diffusions and metals that touch no device, have no label and are not open

	flat   *layout.Flat
	places []layout.Place // for each device: a point within, on the layer of its gate, of a diode its body

	askedNets []netlist.Net // for each of Asked

	layerNames []string // of the stack
}

// LayerName returns the name of a layer of the stack.
func (r *Result) LayerName(l layout.Layer) string { return r.layerNames[l] }

// Layer returns the layer that a device is drawn on: of its gate, its body, its upper plate.
func (r *Result) Layer(device int) layout.Layer { return r.places[device].Layer }

// Paths returns, for each device, the instance whose drawing makes its gate, empty for the top cell.
func (r *Result) Paths() []string { return r.flat.PathsAt(r.places) }

// ChannelShapes calls found for each shape that covers a place within the channel of a transistor, on the layer of its gate
// or on one of diffusions; device is its number in the circuit.
func (r *Result) ChannelShapes(diffusions []layout.Layer, found func(device int, s *layout.Shape, t geom.Transform)) {
	r.DeviceShapes(func(i int) []layout.Layer {
		if !r.Circuit.Devices[i].Kind.IsMOS() {
			return nil
		}
		return append([]layout.Layer{r.places[i].Layer}, diffusions...)
	}, found)
}

// DeviceShapes calls found for each shape that covers a place within a device, on the layers that are asked for.
func (r *Result) DeviceShapes(layers func(device int) []layout.Layer, found func(device int, s *layout.Shape, t geom.Transform)) {
	var places []layout.Place
	var of []int
	for i, p := range r.places {
		for _, l := range layers(i) {
			places, of = append(places, layout.Place{Layer: l, At: p.At}), append(of, i)
		}
	}
	r.flat.ShapesAt(places, func(k int, s *layout.Shape, t geom.Transform) { found(of[k], s, t) })
}

// Run extracts the circuit of one cell and all that it places. Layers of the library mean what the stack says of the
// layer of the same index; a label on the layer after these names the substrate. Errors: more layers than the engine has bits, shapes outside the frame, or ctx ended.
func Run(ctx context.Context, lib *layout.Library, top *layout.Cell, st *stack.Stack, opt Options) (*Result, error) {
	if err := lib.CheckCycles(); err != nil {
		return nil, err
	}
	flat, err := layout.Flatten(top)
	if err != nil {
		return nil, fmt.Errorf("flatten: %w", err)
	}
	cut := cutWires(flat, top, st)
	bare := cutPlates(flat, cut, st)
	if cut.top != top {
		if flat, err = layout.Flatten(cut.top); err != nil {
			return nil, fmt.Errorf("flatten: %w", err)
		}
	}
	pl, err := newPlan(cut.st, lib.Traced)
	if err != nil {
		return nil, err
	}
	pl.substrate = st.SubstrateLayer()
	s := pl.newScene(lib, flat, opt)
	if opt.Facts || len(s.verdicts) > 0 {
		pl.observe()
		pl.lookFor(s.verdicts)
	}
	if opt.Outlines {
		pl.keepWalls(opt.Junctions)
	}
	f := newForest()
	strips, err := pl.sweepAll(ctx, f, s, opt)
	if err != nil {
		return nil, err
	}
	j := &joiner{forest: f, strips: strips, plan: pl, labels: s.labels, verdicts: s.verdicts, firstVerdict: s.firstVerdict, cut: cut, bare: bare, tellFacts: opt.Facts, tellOutlines: opt.Outlines, tellJunctions: opt.Outlines && opt.Junctions}
	if opt.Facts || len(s.verdicts) > 0 {
		j.observed = &observed{}
	}
	j.warnGone(lib.Lost)
	res, err := j.run(ctx, top.Name, flat)
	if err == nil {
		res.layerNames = st.LayerNames()
		res.Verdicts, res.Leading = j.usedVerdicts(lib.Lost)
		res.Asked, res.askedNets = j.asked(len(opt.Ask))
	}
	return res, err
}
