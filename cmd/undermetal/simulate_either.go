package main

import (
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/spice"
	"undermetal/spice/bench"
	"undermetal/spice/simulate"
)

// eitherReading is a circuit with one device read in one way, and what its bench measured; none where the bench does not fit, or failed.
type eitherReading struct {
	name    string
	figures []bench.Figure
	none    error
}

// doEither runs one bench on both readings of a device, and prints the figures side by side.
func doEither(c *cobra.Command, s *simulation, f *simulateFlags) error {
	i := -1
	for k := range s.circuit.Devices {
		if strings.EqualFold(spice.DeviceName(&s.circuit.Devices[k], k), f.either) {
			i = k
		}
	}
	if i < 0 {
		return usagef("--either %s: there is no device of that name\n    extract --spice - lists them with their places", f.either)
	}
	ports, _, err := s.bench.Bind(s.circuit, s.setup.Ports)
	if err != nil {
		return err
	}
	s.setup.Ports = ports
	capacitor, err := bench.AsCapacitor(s.circuit, i, s.setup.Process)
	if err != nil {
		return fmt.Errorf("%s: %w", s.name, err)
	}
	readings := []*eitherReading{{name: "if transistor"}, {name: "if capacitor"}}
	for k, r := range readings {
		setup := s.setup
		if k == 1 {
			setup.Circuit = capacitor
		}
		var result *simulate.Result
		if r.figures, result, r.none = runReading(c, s.bench, setup, f); r.none != nil && c.Context().Err() != nil {
			return r.none
		}
		if result != nil {
			if err := printComplaints(c.ErrOrStderr(), result.Complaints); err != nil {
				return err
			}
		}
	}
	if a, b := readings[0].none, readings[1].none; a != nil && b != nil {
		return fmt.Errorf("%s: bench %s: if transistor: %w", s.name, s.bench.Name(), a)
	}
	return printEither(&printer{w: c.OutOrStdout()}, s, spice.DeviceWords(&s.circuit.Devices[i], i), readings)
}

func runReading(c *cobra.Command, b *bench.Bench, setup bench.Setup, f *simulateFlags) ([]bench.Figure, *simulate.Result, error) {
	deck, err := b.Deck(setup)
	if err != nil {
		return nil, nil, err
	}
	result, err := runDeck(c, f, deck)
	if err != nil {
		return nil, result, err
	}
	figures, err := b.Figures(setup, result)
	return figures, result, err
}

// printEither prints two columns. Figures go by their names.
func printEither(p *printer, s *simulation, device string, readings []*eitherReading) error {
	p.f("%s: %s\n    %s, read in two ways; preset %s; supply %g V\n", s.bench.Name(), s.bench.About(), device, s.preset, s.setup.Process.SupplyV)
	var names []string
	units, values := map[string]string{}, [2]map[string]string{{}, {}}
	for k, r := range readings {
		if r.none != nil {
			first, _, _ := strings.Cut(r.none.Error(), "\n")
			p.f("    %s: %s\n", r.name, first)
		}
		for i := range r.figures {
			g := &r.figures[i]
			if _, seen := units[g.Name]; !seen {
				names = append(names, g.Name)
				units[g.Name] = g.Unit
			}
			values[k][g.Name] = "nothing"
			if !math.IsNaN(g.Measured) {
				values[k][g.Name] = fmt.Sprintf("%.5g", g.Measured)
			}
		}
	}
	wide := 6
	for _, n := range names {
		wide = max(wide, len([]rune(n)))
	}
	p.f("\n%-*s  %14s  %14s\n", wide, "figure", readings[0].name, readings[1].name)
	for _, n := range names {
		p.f("%s  %14s  %14s  %s\n", n+strings.Repeat(" ", wide-len([]rune(n))), values[0][n], values[1][n], units[n])
	}
	return p.err
}
