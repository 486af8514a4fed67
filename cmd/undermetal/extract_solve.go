package main

import (
	"github.com/spf13/cobra"

	"undermetal/netlist/extract"
	"undermetal/netlist/measure"
)

// solving says what is done about channels and resistors that their W and L do not say all of.
type solving int

const (
	solveNothing solving = iota // nothing
	solveSizes                  // they are solved for
	solveSigmas                 // and it is found how uncertain that leaves them
)

// wanted says what is wanted of a drawing beside its circuit.
type wanted struct {
	solve solving
	facts bool // questions are going to be asked about it
}

// runExtract extracts a drawing, corrects its sizes by known biases, and solves, with progress bars. The solution is nil where nothing was to be solved.
func runExtract(c *cobra.Command, d *drawing, how wanted) (*extract.Result, *measure.Solution, error) {
	b := newBar(c, "extracting "+d.top.Name)
	res, err := extract.Run(c.Context(), d.lib, d.top, d.stack, extract.Options{Progress: b.set, Outlines: how.solve != solveNothing || d.corrects(), Facts: how.facts})
	b.end()
	if err == nil && d.corrects() {
		measure.Correct(res, d.stack, d.sources())
	}
	if err != nil || how.solve == solveNothing {
		return res, nil, err
	}
	b = newBar(c, "solving for W/L")
	defer b.end()
	opt := measure.SolveOptions{Progress: b.set}
	if how.solve == solveSigmas { // far less than any tracing leaves open, and several times faster
		opt.Gradient, opt.Tolerance = true, 1e-4
	}
	sol, err := measure.Solve(c.Context(), res, opt)
	return res, sol, err
}
