package spice

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"undermetal/netlist"
)

var letters = map[netlist.Kind]byte{netlist.NMOS: 'M', netlist.PMOS: 'M', netlist.MOS: 'M', netlist.Diode: 'D', netlist.Capacitor: 'C',
	netlist.Resistor: 'R', netlist.Inductor: 'L', netlist.Bipolar: 'Q', netlist.JFET: 'J', netlist.VoltageSource: 'V', netlist.CurrentSource: 'I'}

// elementName returns a name that begins with the letter of its kind; one without a name is numbered.
func elementName(letter byte, name string, i int) string {
	if name == "" {
		return string(letter) + strconv.Itoa(i+1)
	}
	s := guard(clean(name), "off", "save")
	if s[0]&^0x20 != letter {
		s = string(letter) + "_" + s
	}
	return s
}

// device returns the words of the i-th device's line.
func (o *writer) device(c *netlist.Circuit, i int, nets []string, elements *namer) ([]string, error) {
	d := &c.Devices[i]
	letter := letters[d.Kind]
	if letter == 0 {
		return nil, fmt.Errorf("device %d is of no kind that can be written", i+1)
	}
	name := elements.take(elementName(letter, d.Name, i))
	if err := checkSizes(d, name); err != nil {
		return nil, err
	}
	words := make([]string, 1, 14)
	words[0] = name
	for k, terminal := range d.Kind.TerminalNames() {
		if n := d.Terminals[k]; n != netlist.NoNet {
			words = append(words, nets[n])
		} else if d.Kind != netlist.Bipolar || k < 3 { // the substrate may be left out
			return nil, fmt.Errorf("device %s has no net on its terminal %s", name, terminal)
		}
	}
	model := o.models.of(d)
	if model != "" {
		words = append(words, model)
	}
	switch {
	case d.Kind.IsMOS():
		words = appendSize(appendSize(words, "W", effectiveW(d)), "L", d.L)
		words = appendArea(appendArea(words, "AS", d.AS), "AD", d.AD)
		return appendSize(appendSize(words, "PS", d.PS), "PD", d.PD), nil
	case d.Kind == netlist.Diode:
		return appendSize(appendArea(words, "AREA", d.Area), "PJ", d.Perim), nil
	case math.IsNaN(d.Value):
		if model == "" && letter != 'V' && letter != 'I' {
			return nil, fmt.Errorf("device %s has neither a value nor a model", name)
		}
	case letter == 'Q' || letter == 'J':
		words = append(words, "AREA="+strconv.FormatFloat(d.Value, 'g', -1, 64))
	default: // behind the model: ngspice-39 reads a capacitor's model only so
		words = append(words, strconv.FormatFloat(d.Value, 'g', -1, 64))
	}
	if d.Kind == netlist.Resistor || d.Kind == netlist.Capacitor {
		w, l := d.W, d.L
		if math.IsNaN(d.Value) { // the model goes by W and L
			w = effectiveW(d)
		}
		if platesOnly(d) {
			w, l = rectangle(d.Area, d.Perim)
		}
		words = appendSize(appendSize(words, "W", w), "L", l)
	}
	return words, nil
}

// effectiveW returns the W that makes a simulator see the effective W/L, where that was solved for.
func effectiveW(d *netlist.Device) float64 {
	if d.Ratio > 0 && d.L > 0 {
		return d.Ratio * d.L
	}
	return d.W
}

// platesOnly reports whether of a capacitor nothing is known but the area and perimeter of its plates.
func platesOnly(d *netlist.Device) bool {
	return d.Kind == netlist.Capacitor && math.IsNaN(d.Value) && d.W == 0 && d.L == 0 && d.Area > 0
}

// rectangle returns the sides, the shorter one first, of the rectangle with an area and a perimeter; of the square with the
// area, where no rectangle has so little perimeter. A model that goes by area and edge, such as SPICE's CJ·W·L + 2·CJSW·(W + L),
// says of the rectangle what it would say of the plates.
func rectangle(area, perim float64) (w, l float64) {
	half := perim / 2
	d := half*half - 4*area // the sides w are the roots of w² - half·w + area
	if d < 0 {
		return math.Sqrt(area), math.Sqrt(area)
	}
	l = (half + math.Sqrt(d)) / 2
	return area / l, l
}

// appendSize appends KEY=…u for a length in nm, to 0.001 nm; nothing for 0.
func appendSize(words []string, key string, nm float64) []string {
	return appendNonzero(words, key, shifted(nm, 3), "u")
}

// appendArea appends KEY=…p for an area in nm², to 0.001 nm²; nothing for 0.
func appendArea(words []string, key string, nm2 float64) []string {
	return appendNonzero(words, key, shifted(nm2, 6), "p")
}

func appendNonzero(words []string, key, value, suffix string) []string {
	if value == "0" {
		return words
	}
	return append(words, key+"="+value+suffix)
}

// shifted writes v, which is not negative, to 0.001, with the point moved to the left by some places, and without zeros at
// the end. A division could leave digits that v does not have.
func shifted(v float64, places int) string {
	whole, rest, _ := strings.Cut(strconv.FormatFloat(v, 'f', 3, 64), ".")
	if n := places + 1 - len(whole); n > 0 {
		whole = strings.Repeat("0", n) + whole
	}
	k := len(whole) - places
	rest = strings.TrimRight(whole[k:]+rest, "0")
	if rest == "" {
		return whole[:k]
	}
	return whole[:k] + "." + rest
}

// checkSizes refuses what no simulator could read.
func checkSizes(d *netlist.Device, name string) error {
	for i, v := range [...]float64{d.W, d.L, d.PS, d.PD, d.Perim, effectiveW(d)} {
		if !(v >= 0 && v <= largest*1e9) {
			return fmt.Errorf("device %s: %s = %v nm is no length", name, [...]string{"W", "L", "PS", "PD", "PJ", "W"}[i], v)
		}
	}
	for i, v := range [...]float64{d.AS, d.AD, d.Area} {
		if !(v >= 0 && v <= largest*1e18) {
			return fmt.Errorf("device %s: %s = %v nm² is no area", name, [...]string{"AS", "AD", "AREA"}[i], v)
		}
	}
	if math.IsInf(d.Value, 0) {
		return fmt.Errorf("device %s: its value is not finite", name)
	}
	return nil
}

// remarks returns what is said of a device behind its line.
func (o *writer) remarks(d *netlist.Device, i int, own bool) []string {
	var r []string
	if o.opt.Places && own {
		r = append(r, fmt.Sprintf("at %.3f, %.3f um", float64(d.At.X)/1000, float64(d.At.Y)/1000))
	}
	if d.Fingers > 1 {
		r = append(r, strconv.Itoa(int(d.Fingers))+" fingers")
	}
	if w := effectiveW(d); w != d.W && (d.Kind.IsMOS() || math.IsNaN(d.Value)) {
		r = append(r, fmt.Sprintf("W gives W/L = %.6g, solved for in its outline; by its edges W is %su", d.Ratio, shifted(d.W, 3)))
	}
	if d.Kind.IsMOS() && (d.W == 0 || d.L == 0) {
		r = append(r, "W or L unknown: a simulator takes 100 um")
	}
	switch unknown := math.IsNaN(d.Value) && d.Area > 0; { // with an area: measured in a drawing
	case platesOnly(d) && d.Perim*d.Perim < 16*d.Area:
		r = append(r, "value unknown: W and L are of the square with the area of the plates")
	case platesOnly(d):
		r = append(r, "value unknown: W and L are of the rectangle with the area and perimeter of the plates")
	case unknown && d.Kind == netlist.Resistor && (d.W == 0 || d.L == 0):
		r = append(r, "value, W and L unknown")
	case unknown && (d.Kind == netlist.Resistor || d.Kind == netlist.Capacitor):
		r = append(r, "value unknown")
	}
	if o.opt.Comment != nil && own {
		if s := o.opt.Comment(i); s != "" {
			r = append(r, cleanRemark(s))
		}
	}
	return r
}
