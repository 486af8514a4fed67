package extract

import (
	"context"
	"fmt"

	"undermetal/layout"
	"undermetal/layout/stack"
	"undermetal/netlist"
)

// Options are what a caller may choose. None of them changes the circuit.
type Options struct {
	Workers  int                   // how many strips are swept at a time; 0: one a processor
	Progress func(done, total int) // called now and then, from one goroutine at a time; may be nil
	Strips   int                   // for tests: the number of strips of each group; 0: by the amount of shapes
}

// Warning is something in the drawing that deserves a look.
type Warning struct {
	Code  string // stable, for programs: see DEVELOPERS.md
	Text  string
	Layer string
	X, Y  int // nm
}

// Place is where a device or net of the result comes from.
type Place struct {
	Path string // the instance whose shape makes the device's gate; empty: the top cell
	Code string // the code of the device's warning, if it has one
}

// Result is a circuit and what was noticed while it was read.
type Result struct {
	Circuit  *netlist.Circuit
	Places   []Place // one for each device
	Warnings []Warning
}

// Run extracts the circuit of one cell and all that it places. Layers of the library mean what the stack says of the
// layer of the same index. Errors: more layers than the engine has bits, shapes outside the frame, or ctx ended.
func Run(ctx context.Context, lib *layout.Library, top *layout.Cell, st *stack.Stack, opt Options) (*Result, error) {
	if err := lib.CheckCycles(); err != nil {
		return nil, err
	}
	pl, err := newPlan(st, lib.Traced)
	if err != nil {
		return nil, err
	}
	flat, err := layout.Flatten(top)
	if err != nil {
		return nil, fmt.Errorf("flatten: %w", err)
	}
	labels := pl.collectLabels(flat)
	f := newForest()
	if err := pl.sweepAll(ctx, f, flat, lib.Traced, labels, opt); err != nil {
		return nil, err
	}
	j := &joiner{forest: f, plan: pl, labels: labels}
	j.run()
	return j.circuit(top.Name, flat), nil
}
