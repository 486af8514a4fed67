package bench

import (
	"fmt"
	"math"

	"undermetal/netlist"
	"undermetal/spice/simulate"
)

var pixel4Bench = &Bench{text: mustTemplate("pixel4t"), bind: bindPixel4, part: pixelPart, values: pixel4Values, figures: pixel4Figures, options: pixelOptions}

// transferOpen is how far a transfer gate is opened, as a part of the supply.
const transferOpen = 0.6

// bindPixel4 finds a transistor from the photodiode to a node that is reset and read.
func bindPixel4(v *view, ports map[string]netlist.Net) (string, error) {
	transfer := func(ppd netlist.Net) int {
		for _, i := range v.channelsOn(ppd) {
			fd := across(v.device(i), ppd)
			if v.isRail(fd) || given(ports, "fd") != netlist.NoNet && given(ports, "fd") != fd {
				continue
			}
			if r := readoutOf(v, fd); r.reset >= 0 && r.follower >= 0 {
				return i
			}
		}
		return -1
	}
	var nodes []netlist.Net
	for _, n := range photodiodes(v) {
		if transfer(n) >= 0 {
			nodes = append(nodes, n)
		}
	}
	ppd, err := theOne(v, ports, "ppd", "photodiode with a transfer gate", nodes)
	if err != nil {
		return "", err
	}
	i := transfer(ppd)
	if i < 0 {
		return "", fmt.Errorf("no transistor leads from %s to a node that is reset and read", v.name(ppd))
	}
	ports["fd"] = across(v.device(i), ppd)
	if _, ok := ports["tx"]; !ok {
		ports["tx"] = v.device(i).Terminals[netlist.Gate]
	}
	why, err := bindReadout(v, ports, ports["fd"])
	return fmt.Sprintf("%s from the photodiode's %s to %s; %s", word(v, i), v.name(ppd), v.name(ports["fd"]), why), err
}

// transferDevice is the transistor from photodiode to floating diffusion.
func (s *stage) transferDevice() *netlist.Device {
	for _, i := range s.channelsOn(s.ports["ppd"]) {
		if d := s.device(i); across(d, s.ports["ppd"]) == s.ports["fd"] {
			return d
		}
	}
	return nil
}

// pixel4State is what values and figures share: levels of a soft reset of floating diffusion and photodiode, photocurrents.
func (s *stage) pixel4() (fd, ppd float64, photo [lights]float64) {
	p := s.pixel(s.ports["fd"])
	ppd = softLevel(level1(s.Process, s.transferDevice()), transferOpen*s.Process.SupplyV)
	// The charge swings the floating diffusion from its level to the photodiode's, less a margin.
	most := p.farad0 * (p.level - ppd) * 0.7 / integrateTime
	for k := range photo {
		photo[k] = round2(lightParts[k] * most)
	}
	return p.level, ppd, photo
}

func pixel4Values(s *stage) (texts, error) {
	_, _, photo := s.pixel4()
	vdd := s.Process.SupplyV
	open := transferOpen * vdd
	const edge = 100e-9
	var reset, tx, sel, light, sink pwl
	reset.to(0, vdd)
	tx.to(0, open)
	sel.to(0, 0)
	sink.to(0, 0)
	for k := range lights {
		t := float64(k) * frameTime
		light.to(t, photo[k])
		light.to(t+frameTime-edge, photo[k])
		if k > 0 {
			reset.to(t-edge, 0)
			reset.to(t, vdd)
			tx.to(t-edge, 0)
			tx.to(t, open)
		}
		tx.to(t+resetTime/2, open)
		tx.to(t+resetTime/2+edge, 0)
		reset.to(t+resetTime, vdd)
		reset.to(t+resetTime+edge, 0)
		read := t + resetTime + integrateTime
		sel.pulse(read, read+3*readTime, edge, 0, vdd)
		sink.pulse(read, read+3*readTime, edge, 0, 0.3)
		reset.pulse(read, read+resetTime, edge, 0, vdd)
		tx.pulse(read+readTime, read+2*readTime, edge, 0, open)
	}
	x := texts{"reset": reset.String(), "transfer": tx.String(), "select": sel.String(), "light": light.String(), "sink": sink.String()}
	x.set("kp", 2*columnSink/0.04)
	x.set("ccol", columnFarad)
	x.set("step", 10e-6)
	x.set("stop", lights*frameTime)
	x.set("open", open)
	return x, nil
}

func pixel4Figures(s *stage, r *simulate.Result) ([]Figure, error) {
	level, ppdLevel, photo := s.pixel4()
	waves := map[string]wave{}
	for _, p := range []string{"ppd", "fd", "col"} {
		w, err := waveOf(r, "frames", "v("+s.node(p)+")")
		if err != nil {
			return nil, err
		}
		waves[p] = w
	}
	dark := 0.0
	for _, i := range s.list.Photodiodes {
		dark += s.Process.Dark * s.device(i).Area * 1e-18
	}
	f := []Figure{
		{"soft-reset level of the floating diffusion", "V", waves["fd"].at(resetTime), level, 0.01, "V = VG − VTO − γ(√(φ + V) − √φ)", fromShichman},
		{"level of the emptied photodiode", "V", waves["ppd"].at(resetTime / 2), ppdLevel, 0.01, "the same at the transfer gate", fromShichman},
	}
	readout := readoutOf(s.view, s.ports["fd"])
	var signals, columns [lights]float64
	for k := range lights {
		read := float64(k)*frameTime + resetTime + integrateTime
		t0, t1 := read+0.9*readTime, read+2.9*readTime
		signals[k] = waves["fd"].at(t0) - waves["fd"].at(t1)
		columns[k] = waves["col"].at(t0) - waves["col"].at(t1)
		q := (photo[k] + dark) * (integrateTime + resetTime + 2*readTime)
		c, _ := senseFarad(s, s.ports["fd"], readout, (waves["fd"].at(t0)+waves["fd"].at(t1))/2, 0, true)
		f = append(f, Figure{fmt.Sprintf("floating diffusion, sampled twice, at %s", amps(photo[k])), "V", signals[k], q / c, 0.1, "I·t/C(V)", "definition; C by junctions, overlaps and the follower's gate"})
	}
	for k := range lights {
		f = append(f, Figure{fmt.Sprintf("column, sampled twice, at %s", amps(photo[k])), "V", columns[k], math.NaN(), 0, "", ""})
	}
	left := waves["ppd"].at(resetTime+integrateTime+2.5*readTime) - waves["ppd"].at(resetTime)
	return append(f, Figure{"photodiode after transfer, against its reset", "mV", left * 1e3, math.NaN(), 0, "", ""},
		Figure{"linearity: largest miss of a line", "%", 100 * linearity(photo[:], signals[:]), math.NaN(), 0, "", ""}), nil
}
