package spice

import "math"

// Level1 is the large-signal part of a level-1 transistor model, as its card has it: VTO and Phi in V (VTO negative for a
// usual p-channel), KP in A/V², Gamma in √V, Lambda in 1/V. P is true for p-channel.
//
// Source: H. Shichman and D. A. Hodges, IEEE J. Solid-State Circuits 3 (1968) 285, as the SPICE3 3f3 User's Manual
// has it; both from memory.
type Level1 struct {
	P                           bool
	VTO, KP, Gamma, Phi, Lambda float64
}

// Region says how a transistor works.
type Region uint8

// The regions of a transistor.
const (
	Off Region = iota
	Linear
	Saturated
)

func (r Region) String() string { return [...]string{"off", "linear", "saturated"}[r] }

// Operating is the operating point of a transistor: the current into its drain terminal in A, threshold in V (negative for
// a usual p-channel), and in S the derivatives of the current's size by the voltages of gate, drain and bulk against the
// end that acts as source. All are positive in a conducting transistor.
type Operating struct {
	ID, VT, GM, GDS, GMB float64
	Region               Region
	Swapped              bool // the terminal called drain acts as source
}

// Threshold returns the threshold voltage for a voltage of the bulk against the source. For a p-channel both have the other sign.
//
//	VT = VTO + γ(√(φ + VSB) − √φ)
//
// Forward of the bulk, VSB < 0, √(φ + VSB) goes on as √φ + VSB/(2√φ), and never below 0, as simulators have it.
func (m Level1) Threshold(vbs float64) float64 {
	if m.P {
		vt, _ := Level1{VTO: -m.VTO, Gamma: m.Gamma, Phi: m.Phi}.threshold(-vbs)
		return -vt
	}
	vt, _ := m.threshold(vbs)
	return vt
}

// threshold returns the threshold of an n-channel, and the derivative of √(φ − VBS) by −VBS.
func (m Level1) threshold(vbs float64) (vt, slope float64) {
	root := math.Sqrt(m.Phi)
	s := root
	if vbs <= 0 {
		s = math.Sqrt(m.Phi - vbs)
		slope = 1 / (2 * s)
	} else {
		s = max(0, root-vbs/(2*root))
		if s > 0 {
			slope = 1 / (2 * root)
		}
	}
	return m.VTO + m.Gamma*(s-root), slope
}

// At returns the operating point of a transistor of the given width and length (in one unit) with its terminals at the given
// voltages. With v = VGS − VT and β = KP·W/L:
//
//	linear     v > VDS   ID = β·(v − VDS/2)·VDS·(1 + λVDS)
//	saturated  v ≤ VDS   ID = β/2·v²·(1 + λVDS)
//
// Drain and source change places where VDS < 0; a p-channel is an n-channel with all voltages reversed.
func (m Level1) At(w, l, vd, vg, vs, vb float64) Operating {
	if m.P {
		n := m
		n.P, n.VTO = false, -m.VTO
		o := n.At(w, l, -vd, -vg, -vs, -vb)
		o.ID, o.VT = -o.ID, -o.VT
		return o
	}
	if vd < vs {
		o := m.At(w, l, vs, vg, vd, vb)
		o.ID, o.Swapped = -o.ID, true
		return o
	}
	vt, slope := m.threshold(vb - vs)
	v, vds := vg-vs-vt, vd-vs
	o := Operating{VT: vt}
	if v <= 0 {
		return o
	}
	beta, early := m.KP*w/l, 1+m.Lambda*vds
	if v > vds {
		o.Region = Linear
		o.ID = beta * (v - vds/2) * vds * early
		o.GM = beta * vds * early
		o.GDS = beta*(v-vds)*early + beta*(v-vds/2)*vds*m.Lambda
	} else {
		o.Region = Saturated
		o.ID = beta / 2 * v * v * early
		o.GM = beta * v * early
		o.GDS = beta / 2 * v * v * m.Lambda
	}
	o.GMB = o.GM * m.Gamma * slope
	return o
}
