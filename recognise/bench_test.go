package recognise

import (
	"context"
	"fmt"
	"math/rand"
	"runtime"
	"syscall"
	"testing"

	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/recognise/library"
)

// soup is a circuit that grows: pixels in an array, memory cells on bit lines, gates on random nets, the library's patterns, and
// transistors that are nothing.
type soup struct {
	c        *netlist.Circuit
	rnd      *rand.Rand
	vdd, vss netlist.Net
	signals  []netlist.Net
}

func newSoup(seed int64) *soup {
	s := &soup{c: &netlist.Circuit{Name: "soup"}, rnd: rand.New(rand.NewSource(seed))}
	s.vdd, s.vss = s.net("VDD"), s.net("VSS")
	for i := range 50 {
		s.signals = append(s.signals, s.net(fmt.Sprintf("in%d", i)))
	}
	return s
}

func (s *soup) net(name string) netlist.Net {
	s.c.Nets = append(s.c.Nets, netlist.NetInfo{Name: name})
	return netlist.Net(len(s.c.Nets) - 1)
}

func (s *soup) mos(k netlist.Kind, d, g, t netlist.Net, at geom.Point) {
	model, bulk := "nmos", s.vss
	if k == netlist.PMOS {
		model, bulk = "pmos", s.vdd
	}
	s.c.Devices = append(s.c.Devices, netlist.Device{Kind: k, Model: model, Terminals: [4]netlist.Net{d, g, t, bulk}, W: 1000, L: 500, At: at})
}

// pixels adds an array of three-transistor pixels.
func (s *soup) pixels(columns, rows int) {
	cols := make([]netlist.Net, columns)
	for i := range cols {
		cols[i] = s.net("")
	}
	for y := range rows {
		rst, sel := s.net(""), s.net("")
		for x := range columns {
			pd, n := s.net(""), s.net("")
			at := geom.Point{X: x * 10000, Y: y * 10000}
			s.mos(netlist.NMOS, s.vdd, rst, pd, at)
			s.mos(netlist.NMOS, s.vdd, pd, n, at.Add(geom.Point{X: 3000}))
			s.mos(netlist.NMOS, n, sel, cols[x], at.Add(geom.Point{X: 3000, Y: 3000}))
		}
	}
}

// memory adds memory cells.
func (s *soup) memory(columns, rows int) {
	bl, bln := make([]netlist.Net, columns), make([]netlist.Net, columns)
	for i := range bl {
		bl[i], bln[i] = s.net(""), s.net("")
	}
	for range rows {
		wl := s.net("")
		for x := range columns {
			q, qn := s.net(""), s.net("")
			s.inverter(q, qn)
			s.inverter(qn, q)
			s.mos(netlist.NMOS, bl[x], wl, q, geom.Point{})
			s.mos(netlist.NMOS, bln[x], wl, qn, geom.Point{})
		}
	}
}

func (s *soup) inverter(in, out netlist.Net) {
	s.mos(netlist.NMOS, out, in, s.vss, geom.Point{})
	s.mos(netlist.PMOS, out, in, s.vdd, geom.Point{})
}

// signal is a net near the end of those there are, so that no net grows without bound.
func (s *soup) signal() netlist.Net {
	n := len(s.signals)
	return s.signals[n-1-s.rnd.Intn(min(n, 200))]
}

// gate adds a NAND or NOR of two or three inputs, or an inverter.
func (s *soup) gate() {
	out := s.net("")
	n := 1 + s.rnd.Intn(3)
	series, parallel, low, high := netlist.NMOS, netlist.PMOS, s.vss, s.vdd
	if s.rnd.Intn(2) == 0 {
		series, parallel, low, high = netlist.PMOS, netlist.NMOS, s.vdd, s.vss
	}
	at := out
	for i := range n {
		in := s.signal()
		next := low
		if i < n-1 {
			next = s.net("")
		}
		s.mos(series, at, in, next, geom.Point{})
		s.mos(parallel, out, in, high, geom.Point{})
		at = next
	}
	s.signals = append(s.signals, out)
}

// pattern adds one of the library, its ports on signals.
func (s *soup) pattern(p *library.Pattern) {
	to := make([]netlist.Net, len(p.Circuit.Nets))
	for i := range to {
		to[i] = netlist.NoNet
	}
	for i, n := range p.Circuit.Ports {
		switch p.Ports[i].Role {
		case library.Supply:
			to[n] = s.vdd
		case library.Ground:
			to[n] = s.vss
		default:
			to[n] = s.net("")
			s.signals = append(s.signals, to[n])
		}
	}
	for _, d := range p.Circuit.Devices {
		for t, n := range d.Terminals {
			if n == netlist.NoNet {
				continue
			}
			if to[n] == netlist.NoNet {
				to[n] = s.net("")
			}
			d.Terminals[t] = to[n]
		}
		d.Name = ""
		s.c.Devices = append(s.c.Devices, d)
	}
}

// grow makes a soup of about so many devices.
func grow(devices int, seed int64) *netlist.Circuit {
	s := newSoup(seed)
	side := 1
	for side*side*3 < devices/4 {
		side++
	}
	s.pixels(side, side)
	for side = 1; side*side*6 < devices/4; side++ {
	}
	s.memory(side, side)
	all := library.Embedded()
	for len(s.c.Devices) < devices {
		switch k := s.rnd.Intn(20); {
		case k < 14:
			s.gate()
		case k < 16:
			s.pattern(all[s.rnd.Intn(len(all))])
		default:
			kind := netlist.NMOS
			if s.rnd.Intn(2) == 0 {
				kind = netlist.PMOS
			}
			s.mos(kind, s.signal(), s.signal(), s.signal(), geom.Point{})
		}
	}
	for i := range s.c.Devices { // what has no place yet has one of its own
		if d := &s.c.Devices[i]; d.At == (geom.Point{}) {
			d.At = geom.Point{X: i % 1000 * 3000, Y: -(i/1000 + 1) * 3000}
		}
	}
	return s.c
}

// BenchmarkFind lays all patterns on circuits of growing size, with two workers, without partial fits and with them.
func BenchmarkFind(b *testing.B) {
	for _, n := range []int{10_000, 100_000, 1_000_000} {
		c := grow(n, 1)
		for _, missing := range []int{0, 1} {
			b.Run(fmt.Sprintf("devices=%d/missing=%d/workers=2", n, missing), func(b *testing.B) {
				var r *Result
				before := cpuSeconds()
				for b.Loop() {
					var err error
					if r, err = Find(context.Background(), c, Options{Workers: 2, Missing: missing}); err != nil {
						b.Fatal(err)
					}
				}
				var m runtime.MemStats
				runtime.ReadMemStats(&m)
				b.ReportMetric(float64(m.Sys)/1e6, "MB")
				b.ReportMetric((cpuSeconds()-before)/float64(b.N), "cpu-s/op")
				b.ReportMetric(float64(len(r.Fits)), "fits")
				b.ReportMetric(float64(len(r.Partial)), "partial")
			})
		}
	}
}

// cpuSeconds is what the process has used of all processors: beside other work the wall says little.
func cpuSeconds() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
}
