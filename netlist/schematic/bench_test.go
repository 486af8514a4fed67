package schematic

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"

	"undermetal/netlist"
)

// gates returns a circuit of about so many transistors: inverters, gates of two inputs and transmission gates, each driven by some of
// those before it and now and then by one after it.
func gates(devices int, seed uint64) *netlist.Circuit {
	rng := rand.New(rand.NewPCG(seed, 5))
	c := &netlist.Circuit{Name: "gates"}
	net := func(name string) netlist.Net {
		c.Nets = append(c.Nets, netlist.NetInfo{Name: name})
		return netlist.Net(len(c.Nets) - 1)
	}
	vdd, vss := net("VDD"), net("VSS")
	var nets []netlist.Net
	for i := range 5 {
		nets = append(nets, net(fmt.Sprint("IN", i)))
	}
	c.Ports = append([]netlist.Net{vdd, vss}, nets...)
	mos := func(k netlist.Kind, d, g, s netlist.Net) {
		bulk := vss
		if k == netlist.PMOS {
			bulk = vdd
		}
		c.Devices = append(c.Devices, netlist.Device{Kind: k, Terminals: [4]netlist.Net{d, g, s, bulk}, W: 1000, L: 500})
	}
	in := func() netlist.Net {
		if rng.IntN(10) == 0 {
			return nets[rng.IntN(len(nets))]
		}
		return nets[len(nets)-1-rng.IntN(min(8, len(nets)))]
	}
	for len(c.Devices) < devices {
		out := net("")
		switch a, b := in(), in(); rng.IntN(4) {
		case 0:
			mos(netlist.PMOS, out, a, vdd)
			mos(netlist.NMOS, out, a, vss)
		case 1:
			m := net("")
			mos(netlist.PMOS, out, a, vdd)
			mos(netlist.PMOS, out, b, vdd)
			mos(netlist.NMOS, out, a, m)
			mos(netlist.NMOS, m, b, vss)
		case 2:
			m := net("")
			mos(netlist.PMOS, m, a, vdd)
			mos(netlist.PMOS, out, b, m)
			mos(netlist.NMOS, out, a, vss)
			mos(netlist.NMOS, out, b, vss)
		case 3:
			mos(netlist.PMOS, out, in(), a)
			mos(netlist.NMOS, out, b, a)
		}
		nets = append(nets, out)
	}
	return c
}

// BenchmarkDraw draws circuits of gates. Crossings, bends and grid units of area are those a device.
func BenchmarkDraw(b *testing.B) {
	for _, n := range []int{20, 200, 2000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			c := gates(n, 1)
			var d *Drawing
			for b.Loop() {
				var err error
				if d, err = Draw(context.Background(), c, Options{}); err != nil {
					b.Fatal(err)
				}
			}
			f := d.Figures()
			b.ReportMetric(float64(f.Crossings)/float64(n), "crossings/device")
			b.ReportMetric(float64(f.Bends)/float64(n), "bends/device")
			b.ReportMetric(float64(f.Area)/float64(n), "area/device")
			b.ReportMetric(float64(len(d.Sheets)), "sheets")
		})
	}
}
