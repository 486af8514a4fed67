package simulate

import (
	"strings"
	"time"
)

// Vector is one waveform. Im is nil where it is real, else as long as Re.
type Vector struct {
	Name   string // as the simulator calls it, lower case: "time", "v(out)", "i(vdd)"
	Type   string // "time", "voltage", "current", "frequency" …
	Re, Im []float64
}

// Plot is what one analysis gave. All its vectors are equally long; Vectors[0] is the scale (time, frequency, what was
// swept). An operating point has no scale: all its vectors have one value, and the first is like the others.
type Plot struct {
	Name    string // that of the analysis; of a raw file that was merely read, empty
	Title   string // the plot's kind, as the simulator says it: "Transient Analysis"
	Complex bool
	Vectors []Vector
}

// Vector returns the vector of that name, case ignored, or nil. "v(out)" and "out" are one node, "i(vdd)" and "vdd#branch"
// one current.
func (p *Plot) Vector(name string) *Vector {
	if p == nil {
		return nil
	}
	want := vectorName(name)
	for i := range p.Vectors {
		if vectorName(p.Vectors[i].Name) == want {
			return &p.Vectors[i]
		}
	}
	return nil
}

// vectorName brings the two ways in which a simulator writes a vector's name to one.
func vectorName(name string) string {
	name = strings.ToLower(strings.TrimSpace(name))
	if inner, ok := strings.CutSuffix(name, ")"); ok {
		if node, ok := strings.CutPrefix(inner, "v("); ok {
			return node
		}
		if source, ok := strings.CutPrefix(inner, "i("); ok {
			if strings.HasPrefix(source, "@") { // a device's current, which ngspice calls i(@m1[id])
				return source
			}
			return source + "#branch"
		}
	}
	return name
}

// Complaint is something that the simulator said and that somebody should know.
type Complaint struct {
	Text  string // one line
	What  string // the recovered device or net and its place, from Deck.Places, or empty
	Fatal bool   // no figure of the run is to be believed
}

// Result is what came out of a run.
type Result struct {
	Plots      []Plot // in the order of the analyses
	Complaints []Complaint
	Simulator  string // "ngspice 39.3"
	Elapsed    time.Duration
}

// Plot returns the plot of the analysis of that name, case ignored, or nil.
func (r *Result) Plot(name string) *Plot {
	if r == nil {
		return nil
	}
	for i := range r.Plots {
		if strings.EqualFold(r.Plots[i].Name, name) {
			return &r.Plots[i]
		}
	}
	return nil
}
