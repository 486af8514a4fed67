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
	solve   solving
	asDrawn bool // no leading reading of an open question is followed

	junctions bool // and how uncertain areas and perimeters of sources and drains are, with solveSigmas
}

// extractOnly extracts a drawing and corrects its sizes by known biases, with a progress bar.
func extractOnly(c *cobra.Command, d *drawing, opt extract.Options) (*extract.Result, error) {
	b := newBar(c, "extracting "+d.top.Name)
	defer b.end()
	opt.Progress = b.set
	opt.Outlines = opt.Outlines || d.corrects()
	res, err := extract.Run(c.Context(), d.lib, d.top, d.stack, opt)
	if err == nil && d.corrects() {
		d.corrected = measure.Correct(res, d.stack, d.sources())
	}
	return res, err
}

func solveAll(c *cobra.Command, res *extract.Result, how solving) (*measure.Solution, error) {
	b := newBar(c, "solving for W/L")
	defer b.end()
	opt := measure.SolveOptions{Progress: b.set}
	if how == solveSigmas { // far less than any tracing leaves open, and several times faster
		opt.Gradient, opt.Tolerance = true, 1e-4
	}
	return measure.Solve(c.Context(), res, opt)
}
