package main

import (
	"fmt"
	"maps"

	"github.com/spf13/cobra"

	"undermetal/netlist"
	"undermetal/recognise"
	"undermetal/spice/bench"
)

// knownPorts are ports of a bench by a suggestion.
type knownPorts struct {
	ports map[string]netlist.Net
	what  string // the suggestion, for people
}

// recogniseLater returns what recognises the circuit, once somebody asks. Where it cannot, there is nothing recognised.
func recogniseLater(c *cobra.Command, l *loaded) func() []recognise.Suggestion {
	return func() []recognise.Suggestion {
		r := &recognised{name: l.name, circuit: l.circuit}
		if err := r.find(c, recognise.Options{}); err != nil {
			return nil
		}
		return r.all
	}
}

// fits reports whether a bench fits with the ports that were given, else with those that recognition knows, and why.
func (s *simulation) fits(b *bench.Bench) (bool, string) {
	ok, why := b.Fits(s.circuit, s.setup.Ports)
	if ok || s.recognised == nil {
		return ok, why
	}
	k, ports := s.portsOf(b)
	if k.ports == nil {
		return ok, why
	}
	if ok, found := b.Fits(s.circuit, ports); ok {
		return true, fmt.Sprintf("%s (as recognised: %s)", found, k.what)
	}
	return ok, why
}

// take takes a bench that fits.
func (s *simulation) take(b *bench.Bench, why string) {
	s.bench, s.why = b, why
	if ok, _ := b.Fits(s.circuit, s.setup.Ports); !ok {
		_, s.setup.Ports = s.portsOf(b)
	}
}

// portsOf returns the ports of the first suggestion that a bench is for, and these with those that were given, which come first.
func (s *simulation) portsOf(b *bench.Bench) (knownPorts, map[string]netlist.Net) {
	if s.known == nil {
		s.known = map[string]knownPorts{}
		all := s.recognised()
		for i := range all {
			if name, ports := all[i].Bench(); name != "" && all[i].Full() && s.known[name].ports == nil {
				s.known[name] = knownPorts{ports, all[i].Title() + ", " + all[i].ID}
			}
		}
	}
	k := s.known[b.Name()]
	ports := maps.Clone(k.ports)
	if ports == nil {
		ports = map[string]netlist.Net{}
	}
	maps.Copy(ports, s.setup.Ports)
	return k, ports
}
