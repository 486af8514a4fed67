package bench

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"undermetal/netlist"
	"undermetal/spice"
	"undermetal/spice/simulate"
)

// usualOptions are tighter than a simulator's own: figures are held against formulas to 1 %. GMIN lies across every junction,
// and by its default of 1e-12 S leaks more than a pixel's photocurrent.
const usualOptions = ".options gmin=1e-15 reltol=1e-5 abstol=1e-15 vntol=1e-9"

// Deck returns the deck of a circuit in the bench. Errors are phrases: of Bind, of spice.List.
func (b *Bench) Deck(setup Setup) (*simulate.Deck, error) {
	d, _, err := b.prepare(setup)
	return d, err
}

// Notes returns what the deck assumes, in sentences without an end.
func (b *Bench) Notes(setup Setup) ([]string, error) {
	_, s, err := b.prepare(setup)
	if err != nil {
		return nil, err
	}
	notes := append([]string(nil), s.list.Notes...)
	if s.left > 0 {
		notes = append(notes, fmt.Sprintf("%d devices beside these are left out", s.left))
	}
	if s.Models != nil {
		notes = append(notes, "expected figures are by level 1 with the figures of preset "+s.Process.Name+", not by the model file")
	}
	if loose := s.floating(); len(loose) > 0 {
		words := s.names(loose[:min(len(loose), 8)])
		if len(loose) > 8 {
			words += fmt.Sprintf(" and %d more", len(loose)-8)
		}
		notes = append(notes, "driven by nothing, held at ground: "+words)
	}
	return notes, nil
}

// Figures measures on a result of the bench's deck. What a complaint spoilt may be NaN.
func (b *Bench) Figures(setup Setup, r *simulate.Result) ([]Figure, error) {
	_, s, err := b.prepare(setup)
	if err != nil {
		return nil, err
	}
	return b.figures(s, r)
}

// Shows returns the analysis whose waveforms are worth a plot, and which of them; nothing where none is.
func (b *Bench) Shows(setup Setup) (analysis string, vectors []string, err error) {
	_, s, err := b.prepare(setup)
	if err != nil {
		return "", nil, err
	}
	values, err := b.values(s)
	if err != nil {
		return "", nil, err
	}
	values.set("vdd", s.Process.SupplyV)
	for _, r := range b.text.runs {
		for _, v := range r.show {
			if v, left := put(v, s.node, values); !left {
				analysis, vectors = r.name, append(vectors, strings.Fields(v)...)
			}
		}
		if analysis != "" {
			break
		}
	}
	return analysis, vectors, nil
}

// prepare makes the deck, always the same of the same setup.
func (b *Bench) prepare(setup Setup) (*simulate.Deck, *stage, error) {
	s, err := b.stage(setup)
	if err != nil {
		return nil, nil, err
	}
	if b.part != nil {
		s.keepOnly(b.part(s.view, s.ports))
	}
	if s.list, err = spice.List(s.c, spice.ListOptions{Ground: s.vss, Process: s.Process, Models: s.Models}); err != nil {
		return nil, nil, err
	}
	var rails strings.Builder
	s.rails(&rails)
	values, err := b.values(s)
	if err != nil {
		return nil, nil, err
	}
	values.set("vdd", s.Process.SupplyV)
	lines, runs := b.text.fill(s.node, values)
	s.rename(lines, runs)
	options := usualOptions
	if b.options != "" {
		options = b.options
	}
	var body strings.Builder
	fmt.Fprintf(&body, "* The circuit.\n%s* Models.\n%s* Supplies and ties.\n%s", s.list.Text, s.list.Cards, rails.String())
	fmt.Fprintf(&body, "* The bench %s.\n%s\n%s\n", b.Name(), strings.Join(lines, "\n"), options)
	return &simulate.Deck{Title: b.About(), Body: body.String(), Analyses: runs, Places: s.places()}, s, nil
}

// keepOnly leaves out all devices that are on none of some nets.
func (s *stage) keepOnly(nets []netlist.Net) {
	c := *s.c
	c.Devices = nil
	for i := range s.c.Devices {
		d := s.device(i)
		for k, n := range d.Terminals {
			if n != netlist.NoNet && contains(nets, n) && !(d.Kind.IsMOS() && k == netlist.Bulk) {
				c.Devices = append(c.Devices, *d)
				c.Devices[len(c.Devices)-1].Name = spice.DeviceName(d, i)
				break
			}
		}
	}
	s.left = len(s.c.Devices) - len(c.Devices)
	s.view = newView(&c, s.ports)
	s.Circuit = &c
}

// node is the node of a port, or of a name of the bench's own.
func (s *stage) node(name string) string {
	if n, ok := s.ports[name]; ok {
		return s.list.Nodes[n]
	}
	if s.taken[name] == "" {
		s.taken[name] = s.list.Take(name)
	}
	return s.taken[name]
}

// rename gives the bench's elements names that the circuit has not.
func (s *stage) rename(lines []string, runs []simulate.Analysis) {
	type change struct {
		was *regexp.Regexp
		now string
	}
	var changes []change
	for _, block := range lines {
		for _, line := range strings.Split(block, "\n") {
			word, _, _ := strings.Cut(line, " ")
			if word == "" || word[0] == '.' || word[0] == '*' || word[0] == '+' {
				continue
			}
			if now := s.list.Take(word); now != word {
				changes = append(changes, change{regexp.MustCompile(`\b` + regexp.QuoteMeta(word) + `\b`), now})
			}
		}
	}
	for _, c := range changes {
		fix := func(list []string) {
			for i := range list {
				list[i] = c.was.ReplaceAllString(list[i], c.now)
			}
		}
		fix(lines)
		for i := range runs {
			fix(runs[i].Before)
			fix(runs[i].Save)
			runs[i].Command = c.was.ReplaceAllString(runs[i].Command, c.now)
		}
	}
}

// rails writes a source for each supply and each further ground, unless the circuit has one there, and holds what floats.
func (s *stage) rails(body *strings.Builder) {
	bound := map[netlist.Net]bool{}
	for name, n := range s.ports {
		bound[n] = bound[n] || name != "vdd" && name != "vss"
	}
	source := func(n netlist.Net, volts float64) {
		for _, p := range s.pins[n] {
			if s.device(p.device).Kind == netlist.VoltageSource {
				return
			}
		}
		if !bound[n] && s.list.Nodes[n] != "0" {
			name := s.list.Take("Vt_" + s.list.Nodes[n])
			s.taken["source of "+s.list.Nodes[n]] = name
			fmt.Fprintf(body, "%s %s 0 %s\n", name, s.list.Nodes[n], strconv.FormatFloat(volts, 'g', 6, 64))
		}
	}
	for _, n := range s.supplies {
		source(n, s.Process.SupplyV)
	}
	for _, n := range s.grounds {
		source(n, 0)
	}
	for _, n := range s.floating() {
		fmt.Fprintf(body, "%s %s 0 1g\n", s.list.Take("Rt_"+s.list.Nodes[n]), s.list.Nodes[n])
	}
}

// supplyCurrent is the vector of the current through the source of vdd; nothing where the bench has none there.
func (s *stage) supplyCurrent() string {
	if s.vdd == netlist.NoNet || s.taken["source of "+s.node("vdd")] == "" {
		return ""
	}
	return "i(" + s.taken["source of "+s.node("vdd")] + ")"
}

// floating returns the nets that gates and capacitors alone hang on, and nothing of the bench.
func (s *stage) floating() []netlist.Net {
	bound := map[netlist.Net]bool{}
	for _, n := range s.ports {
		bound[n] = true
	}
	var list []netlist.Net
	for i := range s.c.Nets {
		n := netlist.Net(i)
		if bound[n] || s.isRail(n) || len(s.pins[n]) == 0 {
			continue
		}
		held := false
		for _, p := range s.pins[n] {
			d := s.device(p.device)
			held = held || !(d.Kind.IsMOS() && p.terminal == netlist.Gate) && d.Kind != netlist.Capacitor
		}
		if !held {
			list = append(list, n)
		}
	}
	return list
}

// places says of every element and node of the circuit what it is.
func (s *stage) places() map[string]string {
	m := map[string]string{}
	for i, name := range s.list.Elements {
		m[strings.ToLower(name)] = spice.DeviceWords(s.device(i), i)
	}
	for i, node := range s.list.Nodes {
		if node != "0" {
			m[strings.ToLower(node)] = "net " + s.name(netlist.Net(i))
		}
	}
	return m
}
