package bench

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"undermetal/netlist"
	"undermetal/spice"
	"undermetal/spice/simulate"
)

// Bench is a test bench.
type Bench struct {
	text *template
	// bind finds the ports that are not given yet, and says why; the error says what is missing.
	bind func(v *view, ports map[string]netlist.Net) (why string, err error)
	// part, if any, returns the nets of which all devices are simulated, and nothing else: what is large beside them is left out.
	part func(v *view, ports map[string]netlist.Net) []netlist.Net
	// values computes what the template wants.
	values func(s *stage) (texts, error)
	// figures measures.
	figures   func(s *stage, r *simulate.Result) ([]Figure, error)
	anySupply bool   // it does without one
	options   string // what of the simulator's options differs from those of deck.go
}

// Setup is a circuit in a bench.
type Setup struct {
	Circuit *netlist.Circuit       // flat
	Ports   map[string]netlist.Net // as far as they are known; vdd and vss too
	Process *spice.Process         // must be there: level-1 cards, and expected figures
	Models  *spice.ModelFile       // the user's own models, or nil
	Device  int                    // of the bench "readings": the device in question
}

// Figure is something that was measured.
type Figure struct {
	Name, Unit string
	// Measured is NaN where nothing could be measured, Expected where no formula says anything. Tolerance is how far the formula
	// itself may be off, as a part of Expected, or of the unit where 0 is expected.
	Measured, Expected, Tolerance float64
	Formula, Source               string
}

// Agrees reports whether what was measured is what was expected. Of what nothing is expected it is true.
func (f *Figure) Agrees() bool {
	of := math.Abs(f.Expected)
	if of == 0 {
		of = 1
	}
	return math.IsNaN(f.Expected) || math.Abs(f.Measured-f.Expected) <= f.Tolerance*of
}

// Where formulas come from.
const (
	fromShichman = "Shichman and Hodges, IEEE JSSC 3 (1968) 285, level 1"
	fromText     = "textbook, by level 1"
	fromPhysics  = "definition"
	fromPractice = "common practice"
)

var all = []*Bench{pixelBench, pixel4Bench, followerBench, inverterBench, gateBench, clockedBench, oscillatorBench, amplifierBench,
	mirrorBench, pumpBench, switchBench, operatingBench, readingsBench}

// All returns the benches, the more special ones first.
func All() []*Bench { return slices.Clone(all) }

// Named returns the bench of that name. The error says which there are.
func Named(name string) (*Bench, error) {
	var names []string
	for _, b := range all {
		if strings.EqualFold(b.Name(), name) {
			return b, nil
		}
		names = append(names, b.Name())
	}
	return nil, fmt.Errorf("there is no bench %q\n    there are %s", name, strings.Join(names, ", "))
}

// Name is what the bench is called.
func (b *Bench) Name() string { return b.text.name }

// General reports whether it is for circuits of any kind, so that its fitting says nothing of one: the operating point, and the readings
// of whatever has the largest gate.
func (b *Bench) General() bool { return b == operatingBench || b == readingsBench }

// About says in a line what it does.
func (b *Bench) About() string { return b.text.about }

// Ports returns its ports, vdd and vss left out. The benches "gate" and "clocked" number theirs: in1, in2 …, out1 …
func (b *Bench) Ports() []Port { return slices.Clone(b.text.ports) }

// Template returns its text.
func (b *Bench) Template() string {
	text, err := templateFiles.ReadFile("templates/" + b.text.name + ".bench")
	if err != nil {
		panic("bench: " + err.Error())
	}
	return string(text)
}

// Fits reports whether the bench can drive a circuit, and why, or why not. ports are those that are known.
func (b *Bench) Fits(c *netlist.Circuit, ports map[string]netlist.Net) (ok bool, why string) {
	_, why, err := b.Bind(c, ports)
	if err != nil {
		return false, err.Error()
	}
	return true, why
}

// Bind returns all ports, those given among them, vdd and vss too, and how they were found. The error says in a phrase what
// is missing.
func (b *Bench) Bind(c *netlist.Circuit, given map[string]netlist.Net) (map[string]netlist.Net, string, error) {
	s, err := b.stage(Setup{Circuit: c, Ports: given})
	if err != nil {
		return nil, "", err
	}
	return s.ports, s.why, nil
}

// stage is a circuit in a bench with all that is known of it.
type stage struct {
	Setup
	*view
	ports map[string]netlist.Net
	why   string
	left  int // devices that are left out
	list  *spice.Listing
	taken map[string]string // nodes of the bench's own
	// renamed has the elements of the template that are called otherwise in the deck.
	renamed map[string]string
}

var errNoSupply = errors.New("no supply is found\n    name it with a label such as VDD, or say --port vdd=NET")
var errNoGround = errors.New("no ground is found\n    name it with a label such as VSS, or say --port vss=NET")

func (b *Bench) stage(setup Setup) (*stage, error) {
	for name, n := range setup.Ports {
		if n < 0 || int(n) >= len(setup.Circuit.Nets) {
			return nil, fmt.Errorf("port %s is on no net", name)
		}
		if !b.HasPort(name) {
			return nil, fmt.Errorf("has no port %q\n    it has %s", name, strings.Join(b.portNames(), ", "))
		}
	}
	if len(setup.Circuit.Instances) > 0 {
		return nil, errors.New("the circuit holds others\n    flatten it first")
	}
	s := &stage{Setup: setup, view: newView(setup.Circuit, setup.Ports), ports: map[string]netlist.Net{}, taken: map[string]string{}}
	maps.Copy(s.ports, setup.Ports)
	if s.vss == netlist.NoNet {
		return nil, errNoGround
	}
	if s.vdd == netlist.NoNet && !b.anySupply {
		return nil, errNoSupply
	}
	why, err := b.bind(s.view, s.ports)
	if err != nil {
		return nil, err
	}
	s.ports["vss"] = s.vss
	if s.vdd != netlist.NoNet {
		s.ports["vdd"] = s.vdd
	}
	for _, p := range b.text.ports {
		if _, ok := s.ports[p.Name]; !ok && !p.Optional {
			return nil, fmt.Errorf("port %s is on no net (%s)\n    say --port %s=NET", p.Name, p.Meaning, p.Name)
		}
	}
	s.why = why
	return s, nil
}

// HasPort reports whether the bench has a port of that name; all have vdd and vss.
func (b *Bench) HasPort(name string) bool {
	base := strings.TrimRight(name, "0123456789")
	for _, p := range b.text.ports {
		if p.Name == name || p.Name == base+"1" && base != name {
			return true
		}
	}
	return name == "vdd" || name == "vss"
}

func (b *Bench) portNames() []string {
	names := []string{"vdd", "vss"}
	for _, p := range b.text.ports {
		names = append(names, p.Name)
	}
	return names
}

// usual gives ports that are not bound yet nets of candidates by their names; earlier ports and earlier names first.
func usual(v *view, ports map[string]netlist.Net, t *template, candidates []netlist.Net) {
	used := map[netlist.Net]bool{}
	for _, n := range ports {
		used[n] = true
	}
	for _, p := range t.ports {
		if _, ok := ports[p.Name]; ok {
			continue
		}
		for _, name := range p.Usual {
			k := slices.IndexFunc(candidates, func(n netlist.Net) bool { return !used[n] && called(v.c.Nets[n].Name, []string{name}) })
			if k >= 0 {
				ports[p.Name], used[candidates[k]] = candidates[k], true
				break
			}
		}
	}
}
