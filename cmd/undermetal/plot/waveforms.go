package plot

import (
	"math"
	"strings"

	"undermetal/spice/simulate"
)

// Waveforms makes a figure of what an analysis gave, of the vectors that are named, or of all where none is: voltages in one
// panel, currents in the next, then everything else by its type. What is complex becomes two panels, magnitude in dB and phase
// in degrees without jumps. Frequencies go along a logarithmic axis. A plot of one point (an operating point) has
// nothing to show: ErrNothing comes when it is written.
func Waveforms(title string, p *simulate.Plot, names ...string) *Figure {
	f := &Figure{Title: title}
	if p == nil || len(p.Vectors) == 0 || len(p.Vectors[0].Re) < 2 {
		return f
	}
	scale := &p.Vectors[0]
	x := Axis{Label: scaleLabel(scale), Unit: unit(scale.Type), Log: scale.Type == "frequency"}
	var vectors []*simulate.Vector
	for _, n := range names {
		if v := p.Vector(n); v != nil {
			vectors = append(vectors, v)
		}
	}
	for i := range p.Vectors[1:] {
		if len(names) == 0 && len(p.Vectors[i+1].Re) == len(scale.Re) {
			vectors = append(vectors, &p.Vectors[i+1])
		}
	}
	order := []string{"voltage", "current"}
	for _, v := range vectors {
		known := false
		for _, o := range order {
			known = known || o == v.Type
		}
		if !known {
			order = append(order, v.Type)
		}
	}
	for _, kind := range order {
		real := Panel{X: x, Y: Axis{Label: strings.ReplaceAll(kind, "-", " "), Unit: unit(kind)}}
		size := Panel{X: x, Y: Axis{Label: kind, Unit: "dB"}}
		phase := Panel{X: x, Y: Axis{Label: "phase", Unit: "°"}}
		for _, v := range vectors {
			switch {
			case v.Type != kind:
			case v.Im == nil:
				real.Series = append(real.Series, Series{v.Name, scale.Re, v.Re})
			default:
				m, d := polar(v)
				size.Series = append(size.Series, Series{v.Name, scale.Re, m})
				phase.Series = append(phase.Series, Series{v.Name, scale.Re, d})
			}
		}
		for _, panel := range []Panel{real, size, phase} {
			if len(panel.Series) > 0 {
				f.Panels = append(f.Panels, panel)
			}
		}
	}
	return f
}

// scaleLabel says what is along the x axis.
func scaleLabel(v *simulate.Vector) string {
	switch v.Type {
	case "time", "frequency":
		return v.Type
	}
	return "swept " + v.Type
}

// unit is that of a simulator's type of vector.
func unit(kind string) string {
	switch kind {
	case "time":
		return "s"
	case "frequency":
		return "Hz"
	case "voltage":
		return "V"
	case "current":
		return "A"
	case "voltage-density":
		return "V/√Hz"
	case "current-density":
		return "A/√Hz"
	case "admittance":
		return "S"
	case "capacitance":
		return "F"
	case "charge":
		return "C"
	case "power":
		return "W"
	case "impedance", "resistance":
		return "Ω"
	case "temperature", "temp-sweep":
		return "°C"
	}
	return ""
}

// polar returns magnitude in dB, NaN where it is 0, and phase in degrees, continued across ±180°.
func polar(v *simulate.Vector) (db, degrees []float64) {
	turns := 0.0
	for i, re := range v.Re {
		m := 20 * math.Log10(math.Hypot(re, v.Im[i]))
		d := math.Atan2(v.Im[i], re) * 180 / math.Pi
		if math.IsInf(m, 0) {
			m, d = math.NaN(), math.NaN()
		}
		for i > 0 && d+turns-degrees[i-1] > 180 {
			turns -= 360
		}
		for i > 0 && d+turns-degrees[i-1] < -180 {
			turns += 360
		}
		db, degrees = append(db, m), append(degrees, d+turns)
	}
	return db, degrees
}
