package schematic_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"undermetal/netlist"
	"undermetal/netlist/schematic"
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
		c.Devices = append(c.Devices, netlist.Device{Kind: k, Terminals: [4]netlist.Net{d, g, s, bulk}, W: 1000, L: 500, Value: math.NaN()})
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

// BenchmarkDraw draws circuits of gates. Crossings, bends and grid units of area are those a device; plain-crossings those of a drawing
// whose parts stand in the order of the circuit.
func BenchmarkDraw(b *testing.B) {
	for _, n := range []int{20, 200, 2000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			c := gates(n, 1)
			draw := func(opt schematic.Options) schematic.Figures {
				d, err := schematic.Draw(context.Background(), c, opt)
				if err != nil {
					b.Fatal(err)
				}
				return d.Figures()
			}
			var f schematic.Figures
			for b.Loop() {
				f = draw(schematic.Options{})
			}
			plain := draw(schematic.Options{Plain: true})
			per := func(k int) float64 { return float64(k) / float64(n) }
			b.ReportMetric(per(f.Crossings), "crossings/device")
			b.ReportMetric(per(plain.Crossings), "plain-crossings/device")
			b.ReportMetric(per(f.Bends), "bends/device")
			b.ReportMetric(per(f.Names), "names/device")
			b.ReportMetric(per(f.Area), "area/device")
		})
	}
}
