package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/netlist"
	"undermetal/spice"
	"undermetal/spice/bench"
	"undermetal/spice/simulate"
)

// eitherReading is a circuit with something in it read in one way, and what its bench measured.
type eitherReading struct {
	name    string
	circuit *netlist.Circuit
	setup   bench.Setup
	deck    *simulate.Deck
	figures []bench.Figure
	same    string // the reading before it that gives the same deck
	none    error  // why it has no figures
}

// doEither runs one bench on the readings of devices, or of a question, and prints the figures side by side.
func doEither(c *cobra.Command, s *simulation, f *simulateFlags) error {
	about, readings, err := s.readingsOf(c, f)
	if err != nil {
		return err
	}
	if err := s.settleReadings(f, readings); err != nil {
		return err
	}
	for k, r := range readings {
		if r.none != nil {
			continue
		}
		for _, before := range readings[:k] {
			if before.deck != nil && r.same == "" && before.deck.Text() == r.deck.Text() {
				r.same, r.figures, r.none = before.name, before.figures, before.none
			}
		}
		if r.same != "" {
			continue
		}
		result, err := runDeck(c, f, r.deck)
		if c.Context().Err() != nil {
			return err
		}
		if result != nil {
			if err := printComplaints(c.ErrOrStderr(), result.Complaints); err != nil {
				return err
			}
		}
		if r.none = err; err == nil {
			r.figures, r.none = s.bench.Figures(r.setup, result)
		}
	}
	if !slices.ContainsFunc(readings, func(r *eitherReading) bool { return r.none == nil }) {
		return fmt.Errorf("%s: bench %s: %s: %w", s.name, s.bench.Name(), readings[0].name, readings[0].none)
	}
	return printEither(&printer{w: c.OutOrStdout()}, s, about, readings)
}

// readingsOf finds what --either names: devices, else a question.
func (s *simulation) readingsOf(c *cobra.Command, f *simulateFlags) (about string, readings []*eitherReading, err error) {
	var devices []int
	var words []string
	for _, name := range strings.Split(f.either, ",") {
		name = strings.TrimSpace(name)
		i := slices.IndexFunc(s.devices(), func(d string) bool { return strings.EqualFold(d, name) })
		switch {
		case i >= 0 && slices.Contains(devices, i):
			return "", nil, usagef("--either %s: %s is there twice", f.either, name)
		case i >= 0:
			devices = append(devices, i)
			words = append(words, spice.DeviceWords(&s.circuit.Devices[i], i))
		case len(devices) == 0 && s.drawing != nil: // an ID may have a comma in it
			return s.readingsOfQuestion(c, f)
		default:
			return "", nil, usagef("--either %s: there is no device of that name\n    extract --spice - lists them with their places", harmless(name, ""))
		}
	}
	capacitor := s.circuit
	for _, i := range devices {
		if capacitor, err = bench.AsCapacitor(capacitor, i, s.setup.Process); err != nil {
			return "", nil, fmt.Errorf("%s: %w", s.name, err)
		}
	}
	if len(words) > 4 {
		words = append(words[:4], fmt.Sprintf("and %d more", len(devices)-4))
	}
	return strings.Join(words, ", "), []*eitherReading{{name: "if transistor", circuit: s.circuit}, {name: "if capacitor", circuit: capacitor}}, nil
}

// devices are the names of the circuit's devices.
func (s *simulation) devices() []string {
	var names []string
	for i := range s.circuit.Devices {
		names = append(names, spice.DeviceName(&s.circuit.Devices[i], i))
	}
	return names
}

// settleReadings takes the bench that is named, or the first that fits a reading, and binds the same ports in all of them: as the first
// reading that it fits has them, as far as the others have these nets.
func (s *simulation) settleReadings(f *simulateFlags, readings []*eitherReading) error {
	benches := bench.All()
	if f.bench != "" {
		b, err := bench.Named(f.bench)
		if err != nil {
			return usagef("--bench: %v", err)
		}
		benches = []*bench.Bench{b}
	}
	for _, r := range readings {
		if r.none != nil {
			continue
		}
		r.setup = s.setup
		r.setup.Circuit = r.circuit
		in := &loaded{name: s.name, circuit: r.circuit}
		if in.nets, r.none = spice.NetNames(r.circuit, ""); r.none == nil {
			r.setup.Ports, r.none = in.parsePorts(f.ports)
		}
	}
	var why error
	for _, b := range benches {
		var first *eitherReading
		for _, r := range readings {
			if r.none != nil {
				why = r.none
				continue
			}
			ports, _, err := b.Bind(r.circuit, r.setup.Ports)
			if err == nil {
				r.setup.Ports, first = ports, r
				break
			}
			why = fmt.Errorf("does not fit: %w", err)
		}
		if first == nil {
			continue
		}
		s.bench = b
		for _, r := range readings {
			if r != first && r.none == nil {
				if as := sameNets(first.circuit, r.circuit, first.setup.Ports); fits(b, r.circuit, as) {
					r.setup.Ports = as
				}
			}
			if r.none == nil {
				r.deck, r.none = b.Deck(r.setup)
			}
		}
		return nil
	}
	if f.bench == "" {
		return fmt.Errorf("%s: no bench fits\n    undermetal simulate %s --list says why", s.name, word(s.name))
	}
	return fmt.Errorf("%s: bench %s: %w", s.name, f.bench, why)
}

func fits(b *bench.Bench, c *netlist.Circuit, ports map[string]netlist.Net) bool {
	ok, _ := b.Fits(c, ports)
	return ok
}

// sameNets finds the nets of ports in another reading of the same drawing: by name or label, else by place. Those that are not there
// are left out.
func sameNets(from, to *netlist.Circuit, ports map[string]netlist.Net) map[string]netlist.Net {
	out := map[string]netlist.Net{}
	for port, n := range ports {
		was := &from.Nets[n]
		k := slices.IndexFunc(to.Nets, func(now netlist.NetInfo) bool {
			return was.Name != "" && (now.Name == was.Name || slices.Contains(now.Labels, was.Name))
		})
		if k < 0 {
			k = slices.IndexFunc(to.Nets, func(now netlist.NetInfo) bool {
				return was.Layer != "" && now.Layer == was.Layer && now.At == was.At
			})
		}
		if k < 0 && len(from.Nets) == len(to.Nets) && was.Layer == "" {
			k = int(n) // of a netlist
		}
		if k >= 0 {
			out[port] = netlist.Net(k)
		}
	}
	return out
}

// fitting are the other benches that fit a reading.
func (s *simulation) fitting(readings []*eitherReading) []string {
	var names []string
	for _, b := range bench.All() {
		if b != s.bench && slices.ContainsFunc(readings, func(r *eitherReading) bool { return r.circuit != nil && fits(b, r.circuit, nil) }) {
			names = append(names, b.Name())
		}
	}
	return names
}

// alike reports whether all readings were measured, and show the same figures.
func alike(values []map[string]string, readings []*eitherReading) bool {
	for k, r := range readings {
		if r.none != nil || !maps.Equal(values[k], values[0]) {
			return false
		}
	}
	return true
}

// printEither prints a column a reading. Figures go by their names.
func printEither(p *printer, s *simulation, about string, readings []*eitherReading) error {
	p.f("%s: %s\n    %s, read in %s ways; preset %s; supply %g V\n", s.bench.Name(), s.bench.About(), about,
		[...]string{"no", "one", "two", "three", "four", "five"}[min(len(readings), 5)], s.preset, s.setup.Process.SupplyV)
	var names []string
	units, values := map[string]string{}, make([]map[string]string, len(readings))
	for k, r := range readings {
		values[k] = map[string]string{}
		switch {
		case r.none != nil:
			first, _, _ := strings.Cut(r.none.Error(), "\n")
			p.f("    %s: %s\n", r.name, first)
		case r.same != "":
			p.f("    %s: the same circuit as %s\n", r.name, r.same)
		}
		for i := range r.figures {
			g := &r.figures[i]
			if _, seen := units[g.Name]; !seen {
				names = append(names, g.Name)
				units[g.Name] = g.Unit
			}
			values[k][g.Name] = measured(g)
		}
	}
	if alike(values, readings) {
		p.f("    no figure hangs on the reading; --bench NAME takes another: %s\n", strings.Join(s.fitting(readings), ", "))
	}
	wide := 6
	for _, n := range names {
		wide = max(wide, len([]rune(n)))
	}
	p.f("\n%-*s", wide, "figure")
	for _, r := range readings {
		p.f("  %*s", max(14, len(r.name)), r.name)
	}
	p.f("\n")
	for _, n := range names {
		p.f("%s", n+strings.Repeat(" ", wide-len([]rune(n))))
		for k, r := range readings {
			p.f("  %*s", max(14, len(r.name)), values[k][n])
		}
		p.f("%s\n", strings.TrimRight("  "+units[n], " "))
	}
	return p.err
}
