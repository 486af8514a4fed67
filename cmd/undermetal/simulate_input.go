package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/spice"
	"undermetal/spice/bench"
)

// loaded is a circuit to simulate, with the stack that it was extracted by, or nil.
type loaded struct {
	name    string
	circuit *netlist.Circuit
	stack   *stack.Stack
	nets    []string // as a netlist of it calls them
	drawing *drawing // that it was extracted from, or nil
	dossier bool     // it is that of a dossier
}

// loadForSimulation reads a dossier, a drawing or a netlist as one flat circuit.
func loadForSimulation(c *cobra.Command, name string, f *simulateFlags) (*loaded, error) {
	in, err := openInput(name)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	l := &loaded{name: name}
	if in.format == spiceFormat {
		if f.stackName != "" {
			if l.stack, err = stack.Load(f.stackName); err != nil {
				return nil, err
			}
		}
		if l.circuit, err = loadCircuit(c, name, &f.inputFlags, f.top); err != nil {
			return nil, err
		}
	} else {
		d, err := loadDrawing(c, in, &f.inputFlags, f.top)
		if err != nil {
			return nil, err
		}
		read, err := followReadings(c, d, wanted{solve: solveSizes})
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		if err := printWarnings(c.ErrOrStderr(), read.res.Warnings); err != nil {
			return nil, err
		}
		l.circuit, l.stack = read.res.Circuit, d.stack
		l.drawing, l.dossier = d, in.format == dossierFormat
	}
	if err := f.checkUsed(c); err != nil {
		return nil, err
	}
	if len(l.circuit.Devices) == 0 {
		return nil, fmt.Errorf("%s: holds no device, so there is nothing to simulate", name)
	}
	l.nets, err = spice.NetNames(l.circuit, "")
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return l, nil
}

// maxSupplyV is more than any process on silicon stands (common practice); a larger figure is a slip.
const maxSupplyV = 1000

// prepareSimulation reads all that is named, and binds the ports that were given.
func prepareSimulation(c *cobra.Command, name string, f *simulateFlags) (*simulation, error) {
	models, err := readModelFile(f.modelFile)
	if err != nil {
		return nil, err
	}
	if f.preset != "" {
		if _, err := spice.Preset(f.preset); err != nil {
			return nil, usagef("--preset: %v", err)
		}
	}
	if c.Flags().Changed("supply") && !(f.supply > 0 && f.supply <= maxSupplyV) {
		return nil, usagef("--supply %g: give a voltage above 0, up to %d V, as in 3.3", f.supply, maxSupplyV)
	}
	l, err := loadForSimulation(c, name, f)
	if err != nil {
		return nil, err
	}
	s := &simulation{loaded: l, recognised: recogniseLater(c, l)}
	process, why := choosePreset(l.circuit, f.preset)
	s.preset = why
	s.setup = bench.Setup{Circuit: l.circuit, Process: process.With(l.stack), Models: models}
	if f.supply > 0 {
		s.setup.Process.SupplyV, s.setup.Process.Sources["supply_v"] = f.supply, "as given"
	}
	s.setup.Ports, err = l.parsePorts(f.ports)
	return s, err
}

// choosePreset takes the named preset, or that nearest to the shortest gate.
func choosePreset(c *netlist.Circuit, name string) (*spice.Process, string) {
	why := "as given"
	if name == "" {
		shortest := math.Inf(1)
		for i := range c.Devices {
			if d := &c.Devices[i]; d.Kind.IsMOS() && d.L > 0 {
				shortest = min(shortest, d.L)
			}
		}
		if math.IsInf(shortest, 1) {
			name, why = "0.5um", "no gate tells which"
		} else {
			name, why = spice.Nearest(shortest), fmt.Sprintf("nearest to the shortest gate of %.3f µm", um(shortest))
		}
	}
	p, err := spice.Preset(name)
	if err != nil {
		panic(err) // it was looked at before
	}
	return p, p.Name + ", " + why
}

// parsePorts reads P=NET.
func (l *loaded) parsePorts(given []string) (map[string]netlist.Net, error) {
	ports := map[string]netlist.Net{}
	for _, s := range given {
		port, name, ok := strings.Cut(s, "=")
		if !ok || port == "" || name == "" {
			return nil, usagef("--port %s: write P=NET, such as in=A", s)
		}
		port = strings.ToLower(port)
		if _, twice := ports[port]; twice {
			return nil, usagef("--port %s is given twice", port)
		}
		n, err := l.net(name)
		if err != nil {
			return nil, err
		}
		ports[port] = n
	}
	return ports, nil
}

// net finds a net by its name or label, else by what a netlist calls it.
func (l *loaded) net(name string) (netlist.Net, error) {
	for _, same := range []func(a, b string) bool{func(a, b string) bool { return a == b }, strings.EqualFold} {
		for i := range l.circuit.Nets {
			info := &l.circuit.Nets[i]
			if info.Name != "" && same(info.Name, name) || slices.ContainsFunc(info.Labels, func(s string) bool { return same(s, name) }) {
				return netlist.Net(i), nil
			}
		}
		for i, s := range l.nets {
			if same(s, name) {
				return netlist.Net(i), nil
			}
		}
	}
	var names []string
	for i := range l.circuit.Nets {
		if s := l.circuit.Nets[i].Name; s != "" {
			names = append(names, s)
		}
	}
	return netlist.NoNet, usagef("%s: no net is called %q\n    it has %s; others go by the names of extract --spice -", l.name, name, someNames(names))
}

// choose takes the bench that is named, or the first that fits.
func (s *simulation) choose(file, name string) error {
	if name != "" {
		b, err := bench.Named(name)
		if err != nil {
			return usagef("--bench: %v", err)
		}
		ok, why := s.fits(b)
		if !ok {
			return fmt.Errorf("%s: bench %s does not fit: %s", file, b.Name(), why)
		}
		s.take(b, why)
		return nil
	}
	for port := range s.setup.Ports {
		if !slices.ContainsFunc(bench.All(), func(b *bench.Bench) bool { return b.HasPort(port) }) {
			return usagef("--port %s: no bench has a port of that name\n    undermetal simulate %s --list tells which they have", harmless(port, ""), word(file))
		}
	}
	var first error
	for _, b := range bench.All() {
		ok, why := s.fits(b)
		switch {
		case !ok && first == nil && hasAll(b, s.setup.Ports): // of others what they lack says nothing
			first = fmt.Errorf("%s: bench %s does not fit: %s", file, b.Name(), why)
		case !ok:
		case s.bench == nil:
			s.take(b, why)
		default:
			s.benches = append(s.benches, b.Name())
		}
	}
	if s.bench == nil {
		if first != nil {
			return fmt.Errorf("%s: no bench fits\n    undermetal simulate %s --list says why; %w", file, word(file), first)
		}
		return fmt.Errorf("%s: no bench has all the ports that are given\n    undermetal simulate %s --list tells which they have", file, word(file))
	}
	return nil
}

func hasAll(b *bench.Bench, ports map[string]netlist.Net) bool {
	for port := range ports {
		if !b.HasPort(port) {
			return false
		}
	}
	return true
}
