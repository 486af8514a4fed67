package spice

import (
	"fmt"
	"strings"

	"undermetal/netlist"
)

// models decides what each device's model is called, and writes the cards.
func (l *lister) models() error {
	l.written = make([]string, len(l.c.Devices))
	wells := map[netlist.Net]bool{}
	for i := range l.c.Devices {
		if d := &l.c.Devices[i]; d.Kind == netlist.PMOS {
			wells[d.Terminals[netlist.Bulk]] = true
		}
	}
	names := map[string]string{} // by kind, model and length
	var cards strings.Builder
	without := 0
	for i := range l.c.Devices {
		d := &l.c.Devices[i]
		if d.Kind.IsMOS() && d.AS+d.AD == 0 {
			without++
		}
		if l.opt.Models != nil {
			if d.Model == "" && !d.Kind.IsMOS() && d.Kind != netlist.Diode {
				continue // a value says it
			}
			name, err := l.opt.Models.fit(d, i)
			if err != nil {
				return err
			}
			l.written[i] = name
			l.out.names.reserve(name)
			continue
		}
		if !d.Kind.IsMOS() && d.Kind != netlist.Diode {
			continue
		}
		inWell := d.Kind == netlist.Diode && wells[d.Terminals[netlist.Cathode]]
		key := fmt.Sprint(d.Kind, folded(d.Model), inWell)
		base, remark := d.Model, ""
		if base == "" {
			base = modelTypes[d.Kind].unnamed
		}
		if d.Kind.IsMOS() {
			key += fmt.Sprint(lengthKey(d))
			if len(l.lengths[modelKey{folded(d.Model), d.Kind}]) > 1 {
				base += fmt.Sprintf("_L%d", lengthKey(d))
			}
			remark = fmt.Sprintf(" ; L = %.4g um", d.L/1000)
		}
		if names[key] == "" {
			names[key] = l.out.Take(base)
			cards.WriteString(l.opt.Process.card(d, names[key], inWell) + remark + "\n")
		}
		l.written[i] = names[key]
	}
	if without > 0 {
		l.note("%d transistors have no AS and AD: they have no junctions, and no capacitance of them", without)
	}
	if l.opt.Models != nil {
		l.out.Cards = l.opt.Models.Text()
		return nil
	}
	l.out.Cards = cards.String()
	return nil
}

// card returns the level-1 card of a transistor or a diode. A level-1 diode takes AREA as a factor: IS and CJO are per m²,
// CJSW is per m.
func (p *Process) card(d *netlist.Device, name string, inWell bool) string {
	if d.Kind == netlist.Diode {
		t := p.Transistor(inWell)
		return fmt.Sprintf(".model %s d is=%s cjo=%s m=%s vj=%s cjsw=%s mjsw=%s php=%s", name, number6(t.JS), number6(t.CJ), number6(t.MJ), number6(t.PB),
			number6(t.CJSW), number6(t.MJSW), number6(t.PB))
	}
	pChannel := d.Kind == netlist.PMOS
	t, m := p.Transistor(pChannel), p.Level1(pChannel, float64(lengthKey(d)))
	typ := "nmos"
	if pChannel {
		typ = "pmos"
	}
	return fmt.Sprintf(".model %s %s level=1 vto=%s kp=%s gamma=%s phi=%s lambda=%s tox=%s cj=%s mj=%s pb=%s cjsw=%s mjsw=%s js=%s is=1e-20 cgso=%s cgdo=%s cgbo=%s",
		name, typ, digits(m.VTO), digits(m.KP), digits(m.Gamma), digits(m.Phi), digits(m.Lambda), digits(p.GateOxideNm*1e-9), digits(t.CJ), digits(t.MJ), digits(t.PB),
		digits(t.CJSW), digits(t.MJSW), digits(t.JS), digits(t.CGSO), digits(t.CGDO), digits(t.CGBO))
}

// digits writes a figure to 10 digits: formulas are held against simulations by it.
func digits(v float64) string { return fmt.Sprintf("%.10g", v) }
