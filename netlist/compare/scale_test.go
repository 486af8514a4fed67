package compare

import (
	"fmt"
	"math/bits"
	"math/rand/v2"
	"runtime/debug"
	"runtime/metrics"
	"slices"
	"sync"
	"testing"
	"time"

	"undermetal/layout/geom"
	"undermetal/netlist"
)

// builder adds devices and nets by number.
type builder struct{ c *netlist.Circuit }

func newBuilder() *builder { return &builder{&netlist.Circuit{Name: "memory"}} }

func (b *builder) net(format string, args ...any) netlist.Net {
	b.c.Nets = append(b.c.Nets, netlist.NetInfo{Name: fmt.Sprintf(format, args...)})
	return netlist.Net(len(b.c.Nets) - 1)
}

func (b *builder) mos(k netlist.Kind, d, g, s, bulk netlist.Net, w, l float64) {
	i := len(b.c.Devices)
	b.c.Devices = append(b.c.Devices, netlist.Device{Name: fmt.Sprintf("M%d", i), Kind: k,
		Model: map[netlist.Kind]string{netlist.NMOS: "nfet", netlist.PMOS: "pfet"}[k], Terminals: [4]netlist.Net{d, g, s, bulk},
		W: w, L: l, At: geom.Point{X: 1000 * (i%1000 + 1), Y: 2000 * (i/1000 + 1)}})
}

// rails are the supply nets of a block.
type rails struct{ vdd, vss netlist.Net }

func (b *builder) inverter(r rails, in, out netlist.Net) {
	b.mos(netlist.PMOS, out, in, r.vdd, r.vdd, 1200, 180)
	b.mos(netlist.NMOS, out, in, r.vss, r.vss, 600, 180)
}

func (b *builder) nand(r rails, out netlist.Net, ins ...netlist.Net) {
	low := r.vss
	for i, in := range ins {
		b.mos(netlist.PMOS, out, in, r.vdd, r.vdd, 1200, 180)
		high := out
		if i < len(ins)-1 {
			high = b.net("stack%d", len(b.c.Nets))
		}
		b.mos(netlist.NMOS, high, in, low, r.vss, 900, 180)
		low = high
	}
}

func (b *builder) cell(r rails, wl, bl, blb netlist.Net) {
	q, qb := b.net("q%d", len(b.c.Nets)), b.net("qb%d", len(b.c.Nets))
	b.mos(netlist.PMOS, q, qb, r.vdd, r.vdd, 300, 180)
	b.mos(netlist.NMOS, q, qb, r.vss, r.vss, 600, 180)
	b.mos(netlist.PMOS, qb, q, r.vdd, r.vdd, 300, 180)
	b.mos(netlist.NMOS, qb, q, r.vss, r.vss, 600, 180)
	b.mos(netlist.NMOS, bl, wl, q, r.vss, 400, 180)
	b.mos(netlist.NMOS, blb, wl, qb, r.vss, 400, 180)
}

// memory returns an array of 6T cells. With decoder, every row has a NAND on its address and a driver; without, rows
// are interchangeable, as columns always are: rows!·columns!·2^columns automorphisms at least.
func memory(rows, columns int, decoder bool) *netlist.Circuit {
	b := newBuilder()
	r := rails{b.net("vdd"), b.net("vss")}
	wl := make([]netlist.Net, rows)
	for i := range wl {
		wl[i] = b.net("wl%d", i)
	}
	if decoder {
		n := max(1, bits.Len(uint(rows-1)))
		address := make([][2]netlist.Net, n)
		for k := range address {
			address[k] = [2]netlist.Net{b.net("a%d", k), b.net("an%d", k)}
			b.inverter(r, address[k][0], address[k][1])
		}
		for i := range wl {
			ins := make([]netlist.Net, n)
			for k := range ins {
				ins[k] = address[k][1-i>>k&1]
			}
			out := b.net("dec%d", i)
			b.nand(r, out, ins...)
			b.inverter(r, out, wl[i])
		}
	}
	pre := b.net("pre")
	for j := range columns {
		bl, blb := b.net("bl%d", j), b.net("blb%d", j)
		b.mos(netlist.PMOS, bl, pre, r.vdd, r.vdd, 800, 180)
		b.mos(netlist.PMOS, blb, pre, r.vdd, r.vdd, 800, 180)
		for i := range rows {
			b.cell(r, wl[i], bl, blb)
		}
	}
	return b.c
}

// BenchmarkCompare compares a memory with a shuffled copy: the same, with and without names, and with one gate on another
// word line. peak-MB is the most that the program had in memory at a time, as sampled, both circuits among it.
func BenchmarkCompare(b *testing.B) {
	for _, n := range []struct{ devices, rows, columns int }{
		{10_000, 32, 48}, {100_000, 128, 128}, {1_000_000, 512, 320},
	} {
		for _, names := range []bool{true, false} {
			for _, change := range []string{"none", "one"} {
				b.Run(fmt.Sprintf("circuit=memory/devices=%d/names=%v/change=%s", n.devices, names, change), func(b *testing.B) {
					x := memory(n.rows, n.columns, true)
					y := shuffled(x, rand.New(rand.NewPCG(1, uint64(n.devices))), false)
					if change == "one" {
						y = moveGate(y)
					}
					if !names {
						x, y = anonymous(x), anonymous(y)
					}
					benchmarkPair(b, x, y, change == "none")
				})
			}
		}
	}
}

// moveGate puts the gate of the transistor in the middle of the list on the word line wl1, or wl0 if it is there.
func moveGate(c *netlist.Circuit) *netlist.Circuit {
	s := clone(c)
	gate := &s.Devices[len(s.Devices)/2].Terminals[netlist.Gate]
	line := func(name string) netlist.Net {
		return netlist.Net(slices.IndexFunc(s.Nets, func(n netlist.NetInfo) bool { return n.Name == name }))
	}
	if to := line("wl1"); *gate != to {
		*gate = to
	} else {
		*gate = line("wl0")
	}
	return s
}

func benchmarkPair(b *testing.B, x, y *netlist.Circuit, want bool) {
	var peak uint64
	debug.FreeOSMemory() // what earlier benchmarks left does not count
	for b.Loop() {
		stop := watchMemory(&peak)
		r := compare(b, x, y, Options{})
		stop()
		if r.Same != want {
			b.Fatalf("same is %v\n%.1000s", r.Same, account2text(r))
		}
	}
	b.ReportMetric(float64(len(x.Devices)), "devices")
	b.ReportMetric(float64(peak)/1e6, "peak-MB")
}

// watchMemory keeps the largest amount of memory in peak, in bytes, until stop is called.
func watchMemory(peak *uint64) (stop func()) {
	done := make(chan struct{})
	var wait sync.WaitGroup
	wait.Go(func() {
		s := []metrics.Sample{{Name: "/memory/classes/total:bytes"}, {Name: "/memory/classes/heap/released:bytes"}}
		for {
			metrics.Read(s)
			*peak = max(*peak, s[0].Value.Uint64()-s[1].Value.Uint64())
			select {
			case <-done:
				return
			case <-time.After(10 * time.Millisecond):
			}
		}
	})
	return func() { close(done); wait.Wait() }
}

// TestScale: arrays with as many automorphisms as can be are the same, in a time that shows that choices are not tried
// in vain.
func TestScale(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, tc := range []struct {
		name string
		c    *netlist.Circuit
	}{
		{"decoder", memory(64, 64, true)},
		{"rows and columns interchangeable", memory(64, 64, false)},
		{"separate cells", separate(3000)},
		{"one long ring", ring(10_000)},
	} {
		for _, names := range []string{"kept", "none", "other"} {
			a, b := tc.c, shuffled(tc.c, rng, false)
			switch names {
			case "none":
				a, b = anonymous(a), anonymous(b)
			case "other":
				b = renamed(b, rng)
			}
			begin := time.Now()
			r := same(t, a, b, Options{})
			t.Logf("%s, names %s: %v", tc.name, names, time.Since(begin))
			if names != "none" {
				checkMapping(t, a, b, r)
			}
		}
	}
}

// separate returns n latches that share only the rails: 2^n·n! automorphisms.
func separate(n int) *netlist.Circuit {
	b := newBuilder()
	r := rails{b.net("vdd"), b.net("vss")}
	for i := range n {
		q, qb := b.net("q%d", i), b.net("qb%d", i)
		b.inverter(r, q, qb)
		b.inverter(r, qb, q)
	}
	return b.c
}

// ring returns a ring of n inverters.
func ring(n int) *netlist.Circuit { return rings(n, 1) }

// rings returns several rings of n inverters on common rails.
func rings(n, several int) *netlist.Circuit {
	b := newBuilder()
	r := rails{b.net("vdd"), b.net("vss")}
	for k := range several {
		x := make([]netlist.Net, n)
		for i := range x {
			x[i] = b.net("x%d_%d", k, i)
		}
		for i := range x {
			b.inverter(r, x[i], x[(i+1)%n])
		}
	}
	return b.c
}
