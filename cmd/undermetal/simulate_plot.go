package main

import (
	"errors"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/cmd/undermetal/plot"
	"undermetal/spice/simulate"
)

// The size of a plot on standard output, in letters.
const plotColumns, plotLines = 100, 16

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

// figure is what of a result is worth a plot, or nil.
func (s *simulation) figure(r *simulate.Result) (*plot.Figure, error) {
	analysis, vectors, err := s.bench.Shows(s.setup)
	if err != nil || analysis == "" {
		return nil, err
	}
	p := r.Plot(analysis)
	if p == nil {
		return nil, nil
	}
	return plot.Waveforms(s.bench.About(), p, vectors...), nil
}

// writeWaves writes the waveforms to the files that were asked for.
func writeWaves(c *cobra.Command, f *simulateFlags, s *simulation, r *simulate.Result) error {
	if f.plot == "" && f.csv == "" {
		return nil
	}
	figure, err := s.figure(r)
	if err != nil {
		return err
	}
	if figure == nil {
		return errors.New("the bench " + s.bench.Name() + " gives no waveforms to draw\n    leave --plot and --csv out")
	}
	if f.plot != "" {
		draw := plot.SVG
		if strings.EqualFold(filepath.Ext(f.plot), ".png") {
			draw = plot.PNG
		}
		if err := writeTo(c, f.plot, func(w io.Writer) error { return draw(w, figure) }); err != nil {
			return err
		}
	}
	if f.csv != "" {
		return writeTo(c, f.csv, func(w io.Writer) error { return plot.CSV(w, figure) })
	}
	return nil
}

// printPlot draws the waveforms as text.
func (s *simulation) printPlot(w io.Writer, r *simulate.Result) error {
	figure, err := s.figure(r)
	if err != nil || figure == nil {
		return err
	}
	if _, err := io.WriteString(w, "\n"); err != nil {
		return err
	}
	return plot.Text(w, figure, plotColumns, plotLines)
}
