package recognise

import (
	"math/rand"
	"slices"
	"strings"
	"testing"

	"undermetal/netlist"
	"undermetal/recognise/library"
)

// covers lists the patterns of the best cover.
func covers(t *testing.T, c *netlist.Circuit, opt Options) []string {
	t.Helper()
	var names []string
	for _, f := range find(t, c, opt).Fits {
		name, _, _ := strings.Cut(f.Pattern.Name, "_v") // versions are numbered as they are met
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// The traps of the published topologies: what fits inside something larger, or looks like something else.
func TestTraps(t *testing.T) {
	for _, tc := range []struct{ name, lines, want string }{
		{"a 3T inside a 4T", "MTX fd tg ppd VSS nmos\nMRST VDD rst fd VSS nmos\nMSF VDD fd x VSS nmos\nMSEL x row col VSS nmos", "pixel_4t"},
		{"the 4T with its photodiode", "MTX fd tg ppd VSS nmos\nMRST VDD rst fd VSS nmos\nMSF VDD fd x VSS nmos\nMSEL x row col VSS nmos\nD1 VSS ppd pd", "pixel_4t"},
		{"a logarithmic one as a 3T", "ML VDD VDD pd VSS nmos\nMSF VDD pd x VSS nmos\nMSEL x row col VSS nmos", "pixel_logarithmic"},
		{"a 3T with a reset drain of its own", "MRST vr rst pd VSS nmos\nMSF VDD pd x VSS nmos\nMSEL x row col VSS nmos\nD1 VSS pd pd", "pixel_3t"},
		{"a 3T with a p reset", "MRST vr rst pd VDD pmos\nMSF VDD pd x VSS nmos\nMSEL x row col VSS nmos", "pixel_3t"},
		{"a 3T of p transistors", "MRST VSS rst pd VDD pmos\nMSF VSS pd x VDD pmos\nMSEL x row col VDD pmos\nD1 pd VDD pd", "pixel_3t"},
		{"a plate as photogate", "MPG ch pg ch VSS nmos\nMTX fd tg ch VSS nmos\nMRST VDD rst fd VSS nmos\nMSF VDD fd x VSS nmos\nMSEL x row col VSS nmos", "pixel_photogate"},
		{"inverters inside a memory cell", "MN1 q qn VSS VSS nmos\nMP1 q qn VDD VDD pmos\nMN2 qn q VSS VSS nmos\nMP2 qn q VDD VDD pmos\nMA1 bl wl q VSS nmos\nMA2 bln wl qn VSS nmos", "sram_6t"},
		{"inverters inside a latch", "MTN d clk s VSS nmos\nMTP d clkn s VDD pmos\nMN1 q s VSS VSS nmos\nMP1 q s VDD VDD pmos\nMN2 f q VSS VSS nmos\nMP2 f q VDD VDD pmos\nMFN f clkn s VSS nmos\nMFP f clk s VDD pmos", "latch_transmission"},
		{"a mirror inside an amplifier", "M1 o1 a t VSS nmos\nM2 out b t VSS nmos\nMT t vb VSS VSS nmos\nM3 o1 o1 VDD VDD pmos\nM4 out o1 VDD VDD pmos", "ota_5t"},
		{"a NAND is no inverters", "MP1 y a VDD VDD pmos\nMP2 y b VDD VDD pmos\nMN1 y a m VSS nmos\nMN2 m b VSS VSS nmos", "nand2"},
		{"one mirror with three outputs", "MR in in VSS VSS nmos\nM1 o1 in VSS VSS nmos\nM2 o2 in VSS VSS nmos\nM3 o3 in VSS VSS nmos", "mirror_simple mirror_simple mirror_simple"},
		{"five inverters in a circle", "MN1 a e VSS VSS nmos\nMP1 a e VDD VDD pmos\nMN2 b a VSS VSS nmos\nMP2 b a VDD VDD pmos\nMN3 c b VSS VSS nmos\nMP3 c b VDD VDD pmos\nMN4 d c VSS VSS nmos\nMP4 d c VDD VDD pmos\nMN5 e d VSS VSS nmos\nMP5 e d VDD VDD pmos", "ring_oscillator_5"},
	} {
		if got := strings.Join(covers(t, read(t, tc.lines), Options{}), " "); got != tc.want {
			t.Errorf("%s: %s, want %s", tc.name, got, tc.want)
		}
	}
}

// A transistor whose polarity nobody knows may be either.
func TestUnknownPolarity(t *testing.T) {
	c := read(t, "MRST VDD rst pd VSS nmos\nMSF VDD pd x VSS nmos\nMSEL x row col VSS nmos")
	for i := range c.Devices {
		c.Devices[i].Kind = netlist.MOS
	}
	if got := covers(t, c, Options{}); len(got) != 1 || got[0] != "pixel_3t" {
		t.Errorf("found %v", got)
	}
}

// A net that is known to be a supply by nothing but the caller's word.
func TestKnownSupply(t *testing.T) {
	lines := "MN y a low VSS nmos\nMP y a high VDD pmos\nMX z b VSS VSS nmos\nMY z b VDD VDD pmos"
	c := read(t, lines)
	if got := covers(t, c, Options{}); len(got) != 1 {
		t.Errorf("without: %v", got)
	}
	net := func(name string) []netlist.Net {
		return []netlist.Net{netlist.Net(slices.IndexFunc(c.Nets, func(n netlist.NetInfo) bool { return n.Name == name }))}
	}
	if got := covers(t, c, Options{Supply: net("high"), Ground: net("low")}); len(got) != 2 {
		t.Errorf("with: %v", got)
	}
}

// Gates of a clocked inverter may stand in any order.
func TestSeriesFree(t *testing.T) {
	for _, lines := range []string{
		"M1 y en m VSS nmos\nM2 m a VSS VSS nmos\nM3 y enn w VDD pmos\nM4 w a VDD VDD pmos",
		"M1 y a m VSS nmos\nM2 m en VSS VSS nmos\nM3 y enn w VDD pmos\nM4 w a VDD VDD pmos",
		"M1 y a m VSS nmos\nM2 m en VSS VSS nmos\nM3 y a w VDD pmos\nM4 w enn VDD VDD pmos",
	} {
		if got := covers(t, read(t, lines), Options{}); len(got) != 1 || got[0] != "tristate_inverter" {
			t.Errorf("%q: %v", lines, got)
		}
	}
}

// The result does not depend on workers, and on the order of devices only in the order of fits.
func TestSameForWorkersAndOrder(t *testing.T) {
	c := grow(3000, 5)
	for i := range c.Devices {
		c.Devices[i].Name = "M" + string(rune('A'+i%26)) + string(rune('0'+i/26%10)) + string(rune('0'+i/260))
	}
	want := covers(t, c, Options{Workers: 1})
	if got := covers(t, c, Options{Workers: 4}); !slices.Equal(got, want) {
		t.Error("four workers find something else than one")
	}
	if got := covers(t, shuffled(c, rand.New(rand.NewSource(2))), Options{}); !slices.Equal(got, want) {
		t.Error("another order of devices has another cover")
	}
	if len(want) < 500 {
		t.Errorf("only %d fits", len(want))
	}
}

// No device is in two fits of the cover but where the pattern says so.
func TestCoverIsDisjoint(t *testing.T) {
	c := grow(5000, 9)
	by := map[int32]*Fit{}
	r := find(t, c, Options{})
	for i := range r.Fits {
		f := &r.Fits[i]
		for _, m := range f.Members {
			if o := by[m.Device]; o != nil && !(o.Pattern == f.Pattern && slices.Contains(f.Pattern.Shared, m.Role)) {
				t.Errorf("device %d is in %s and %s", m.Device, o.Pattern.Name, f.Pattern.Name)
			}
			by[m.Device] = f
		}
	}
	if len(by) < 3000 {
		t.Errorf("%d of %d devices are explained", len(by), len(c.Devices))
	}
}

// The best cover of small groups is the best of all choices, by trying them.
func TestCoverIsBest(t *testing.T) {
	rnd := rand.New(rand.NewSource(4))
	p := &library.Pattern{Circuit: &netlist.Circuit{}}
	for round := range 300 {
		var all []candidate
		for range 4 + rnd.Intn(8) {
			c := candidate{pattern: p, weight: float64(1 + rnd.Intn(30))}
			for _, k := range rnd.Perm(8)[:1+rnd.Intn(4)] {
				c.parts = append(c.parts, int32(k))
			}
			all = append(all, c)
		}
		best := 0.0
		for choice := range 1 << len(all) {
			sum, taken, ok := 0.0, map[int32]bool{}, true
			for i := range all {
				if choice>>i&1 == 1 {
					sum += all[i].weight
					for _, q := range all[i].parts {
						ok = ok && !taken[q]
						taken[q] = true
					}
				}
			}
			if ok {
				best = max(best, sum)
			}
		}
		got := 0.0
		for i, in := range cover(all, 8) {
			if in {
				got += all[i].weight
			}
		}
		if got != best {
			t.Fatalf("round %d: cover weighs %g, the best %g", round, got, best)
		}
	}
}
