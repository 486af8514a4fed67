package main

import (
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/spice"
	"undermetal/spice/bench"
	"undermetal/spice/simulate"
)

// printBenches says which benches fit, why, and what ports they have.
func printBenches(w io.Writer, s *simulation) error {
	p := &printer{w: w}
	for _, fits := range []bool{true, false} {
		said := false
		for _, b := range bench.All() {
			ok, why := s.fits(b)
			if ok != fits {
				continue
			}
			switch {
			case said:
			case fits:
				p.f("fits\n")
			default:
				p.f("\ndoes not fit\n")
			}
			said = true
			p.f("  %-11s %s\n", b.Name(), b.About())
			p.f("  %-11s %s\n", "", strings.ReplaceAll(why, "\n    ", "; "))
			for _, q := range b.Ports() {
				optional := ""
				if q.Optional {
					optional = "may be left out: "
				}
				p.f("  %-11s   %-5s %s%s\n", "", q.Name, optional, q.Meaning)
			}
		}
	}
	return p.err
}

// mostComplaints is how many of the simulator's complaints are printed.
const mostComplaints = 12

func printComplaints(w io.Writer, list []simulate.Complaint) error {
	p := &printer{w: w}
	for i, x := range list {
		if i == mostComplaints {
			p.f("ngspice: %d more complaints\n", len(list)-i)
			break
		}
		where := ""
		if x.What != "" {
			where = " (" + x.What + ")"
		}
		p.f("ngspice: %s%s\n", x.Text, where)
	}
	return p.err
}

// mostTable is how many entries of a truth table are printed that are as expected.
const mostTable = 16

// printSimulation prints what was bound, figures and a plot.
func printSimulation(c *cobra.Command, s *simulation, figures []bench.Figure, r *simulate.Result) error {
	p := &printer{w: c.OutOrStdout()}
	p.f("%s: %s\n", s.bench.Name(), s.bench.About())
	p.f("    %s\n", s.why)
	models := "level-1 models of preset " + s.preset
	if s.setup.Models != nil {
		models = "your own models; expected figures by preset " + s.preset
	}
	p.f("    %s; supply %g V\n", models, s.setup.Process.SupplyV)
	for _, n := range s.notes {
		p.f("    %s\n", n)
	}
	if len(s.benches) > 0 {
		p.f("    others that fit: %s\n", strings.Join(s.benches, ", "))
	}
	p.f("\n")
	wide := 6
	for _, f := range figures {
		wide = max(wide, len([]rune(f.Name)))
	}
	wide = min(wide, 44)
	p.f("%-*s  %12s  %12s  %7s\n", wide, "figure", "measured", "expected", "off by")
	rows := 0
	for i := range figures {
		f := &figures[i]
		if f.Unit == "of the supply" {
			if rows++; rows > mostTable && f.Agrees() {
				continue
			}
		}
		printFigure(p, f, wide)
	}
	if rows > mostTable {
		p.f("%d entries of the table; those left out are as expected\n", rows)
	}
	printFormulas(p, figures)
	if p.err != nil {
		return p.err
	}
	return s.printPlot(c.OutOrStdout(), r)
}

// measured is what was measured, to five digits.
func measured(f *bench.Figure) string {
	switch {
	case math.IsNaN(f.Measured):
		return "nothing"
	case math.Abs(f.Measured) < 1e-12 && (f.Unit == "V" || f.Unit == "of the supply"):
		return "0"
	}
	return fmt.Sprintf("%.5g", f.Measured)
}

func printFigure(p *printer, f *bench.Figure, wide int) {
	expected, off := "", ""
	if !math.IsNaN(f.Expected) {
		expected = fmt.Sprintf("%.5g", f.Expected)
		if f.Expected != 0 && !math.IsNaN(f.Measured) {
			off = fmt.Sprintf("%+.2f %%", 100*(f.Measured-f.Expected)/math.Abs(f.Expected))
			if off == "-0.00 %" {
				off = "+0.00 %"
			}
		}
	}
	mark := ""
	if !f.Agrees() {
		mark = "  DIFFERS"
	}
	line := fmt.Sprintf("%s  %12s  %12s  %9s  %s%s", f.Name+strings.Repeat(" ", max(0, wide-len([]rune(f.Name)))), measured(f), expected, off, f.Unit, mark)
	p.f("%s", strings.TrimRight(line, " "))
	p.f("\n")
}

// printFormulas prints each formula once, with the figures that it is about.
func printFormulas(p *printer, figures []bench.Figure) {
	seen := map[string]bool{}
	for i := range figures {
		f := &figures[i]
		key := f.Formula + f.Source
		if f.Formula == "" || math.IsNaN(f.Expected) || seen[key] {
			continue
		}
		if len(seen) == 0 {
			p.f("\nexpected by\n")
		}
		seen[key] = true
		tolerance := "exact"
		if f.Tolerance > 0 {
			tolerance = fmt.Sprintf("good to %g %%", 100*f.Tolerance)
		}
		p.f("  %s: %s (%s; %s)\n", f.Name, f.Formula, f.Source, tolerance)
	}
}

// printPresets lists all figures with their sources.
func printPresets(w io.Writer) error {
	p := &printer{w: w}
	for _, name := range spice.PresetNames() {
		process, err := spice.Preset(name)
		if err != nil {
			return err
		}
		p.f("%s\n", name)
		for _, f := range process.Figures() {
			p.f("  %-16s %-18s %s\n", f.Name, f.Value, f.Source)
		}
	}
	return p.err
}

type jsonSimulation struct {
	Version    int               `json:"version"`
	Bench      string            `json:"bench"`
	Why        string            `json:"why"`
	Preset     string            `json:"preset"`
	SupplyV    float64           `json:"supply_v"`
	Simulator  string            `json:"simulator"`
	Ports      map[string]string `json:"ports"`
	Figures    []jsonFigure      `json:"figures"`
	Notes      []string          `json:"notes"`
	Complaints []jsonComplaint   `json:"complaints"`
}

type jsonFigure struct {
	Name      string   `json:"name"`
	Unit      string   `json:"unit"`
	Measured  *float64 `json:"measured"`
	Expected  *float64 `json:"expected"`
	Tolerance float64  `json:"tolerance"`
	Agrees    bool     `json:"agrees"`
	Formula   string   `json:"formula"`
	Source    string   `json:"source"`
}

type jsonComplaint struct {
	Text  string `json:"text"`
	What  string `json:"what"`
	Fatal bool   `json:"fatal"`
}

func printSimulationJSON(w io.Writer, s *simulation, figures []bench.Figure, r *simulate.Result) error {
	out := jsonSimulation{Version: jsonVersion, Bench: s.bench.Name(), Why: s.why, Preset: s.setup.Process.Name, SupplyV: s.setup.Process.SupplyV, Simulator: r.Simulator,
		Ports: map[string]string{}, Figures: []jsonFigure{}, Notes: append([]string{}, s.notes...), Complaints: []jsonComplaint{}}
	ports, _, err := s.bench.Bind(s.circuit, s.setup.Ports)
	if err != nil {
		return err
	}
	for _, port := range slices.Sorted(maps.Keys(ports)) {
		out.Ports[port] = s.nets[ports[port]]
	}
	number := func(v float64) *float64 {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil
		}
		return &v
	}
	for i := range figures {
		f := &figures[i]
		out.Figures = append(out.Figures, jsonFigure{f.Name, f.Unit, number(f.Measured), number(f.Expected), f.Tolerance, f.Agrees(), f.Formula, f.Source})
	}
	for _, x := range r.Complaints {
		out.Complaints = append(out.Complaints, jsonComplaint{x.Text, x.What, x.Fatal})
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", " ")
	if err := enc.Encode(out); err != nil {
		return fmt.Errorf("standard output: %w", err)
	}
	return nil
}
