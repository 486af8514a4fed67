package compare

import (
	"math/rand/v2"
	"testing"

	"undermetal/netlist"
)

// TestSeries: stacks in another order are the same with Options.Series, and only then.
func TestSeries(t *testing.T) {
	inv := "PA p y a vdd vdd 9 1\nPB p y b vdd vdd 9 1\nPC p y c vdd vdd 8 1\nR1 r a i 1\nR2 r b i 2\nR3 r c i 3\n"
	for _, tc := range []struct {
		name          string
		a, b          string
		plain, series bool
	}{
		{"as drawn", inv + "N1 n y a m b 5 1\nN2 n m b vss b 5 1", inv + "N1 n y a m b 5 1\nN2 n m b vss b 5 1", true, true},
		{"two", inv + "N1 n y a m vss 5 1\nN2 n m b vss vss 5 1", inv + "N1 n y b m vss 5 1\nN2 n m a vss vss 5 1", false, true},
		{"three", inv + "N1 n y a m vss 5 1\nN2 n m b k vss 5 1\nN3 n k c vss vss 5 1", inv + "N1 n y c m vss 5 1\nN2 n m a k vss 5 1\nN3 n k b vss vss 5 1", false, true},
		{"other gates", inv + "N1 n y a m vss 5 1\nN2 n m b vss vss 5 1", inv + "N1 n y a m vss 5 1\nN2 n m c vss vss 5 1", false, false},
		{"fewer", inv + "N1 n y a m vss 5 1\nN2 n m b k vss 5 1\nN3 n k c vss vss 5 1", inv + "N1 n y a m vss 5 1\nN2 n m b vss vss 5 1", false, false},
		{"other W", inv + "N1 n y a m vss 5 1\nN2 n m b vss vss 7 1", inv + "N1 n y b m vss 5 1\nN2 n m a vss vss 7 1", false, false},
		{"other W, exchanged with the gates", inv + "N1 n y a m vss 5 1\nN2 n m b vss vss 7 1", inv + "N1 n y b m vss 7 1\nN2 n m a vss vss 5 1", false, false},
		{"W of the whole stack", inv + "N1 n y a m vss 5 1\nN2 n m b vss vss 5 1", inv + "N1 n y b m vss 7 1\nN2 n m a vss vss 7 1", false, false},
		{"other bulk", inv + "N1 n y a m vss 5 1\nN2 n m b vss i 5 1", inv + "N1 n y b m vss 5 1\nN2 n m a vss i 5 1", false, false},
		{"something touches the net between", inv + "N1 n y a m vss 5 1\nN2 n m b vss vss 5 1\nR4 r m i 4", inv + "N1 n y b m vss 5 1\nN2 n m a vss vss 5 1\nR4 r m i 4", false, false},
		{"ends exchanged", inv + "N1 n y a m vss 5 1\nN2 n m b vss vss 5 1", inv + "N1 n y a m vss 5 1\nN2 n m b i vss 5 1", false, false},
		{"fingers", inv + "N1 n y a m vss 5 1\nN2 n m b vss vss 2 1\nN3 n m b vss vss 3 1", inv + "N1 n y b m vss 5 1\nN2 n m a vss vss 5 1", false, true},
		{"a ring has no ends", "N1 n m a k vss 5 1\nN2 n k b l vss 5 1\nN3 n l c m vss 5 1\nR r a b 1\nR2 r c b 2", "N1 n m b k vss 5 1\nN2 n k a l vss 5 1\nN3 n l c m vss 5 1\nR r a b 1\nR2 r c b 2", true, true},
		{"both ends on one net", inv + "N1 n y a m vss 5 1\nN2 n m b k vss 5 1\nN3 n k c y vss 5 1", inv + "N1 n y b m vss 5 1\nN2 n m a k vss 5 1\nN3 n k c y vss 5 1", false, true},
		{"wells without names", inv + "N1 n y a m _s1 5 1\nN2 n m b vss _s2 5 1", inv + "N1 n y b m vss 5 1\nN2 n m a vss vss 5 1", false, true},
	} {
		a, b := circuit(t, tc.a), circuit(t, tc.b)
		for range 2 {
			if r := compare(t, a, b, Options{ToleranceNm: 0.1}); r.Same != tc.plain {
				t.Errorf("%s: same = %v, want %v\n%s", tc.name, r.Same, tc.plain, account2text(r))
			}
			if r := compare(t, a, b, Options{ToleranceNm: 0.1, Series: true}); r.Same != tc.series {
				t.Errorf("%s, with Series: same = %v, want %v\n%s", tc.name, r.Same, tc.series, account2text(r))
			}
			a, b = b, a
		}
	}
}

// TestSeriesPort: what lies between may be touched from outside if it is a port. Where only one circuit has it as a port,
// the order that is drawn still counts.
func TestSeriesPort(t *testing.T) {
	rest := "R1 r a i 1\nR2 r b i 2\nR3 r y i 3\n"
	a := circuit(t, rest+"N1 n y a m vss 5 1\nN2 n m b vss vss 5 1")
	b := circuit(t, rest+"N1 n y b m vss 5 1\nN2 n m a vss vss 5 1")
	opt := Options{Series: true}
	same(t, a, b, opt)
	for n, info := range a.Nets {
		if info.Name == "m" {
			a.Ports, b.Ports = append(a.Ports, netlist.Net(n)), append(b.Ports, netlist.Net(n))
		}
	}
	differ(t, a, b, opt)
	b.Ports = nil
	differ(t, a, b, opt)
	c := clone(a)
	c.Ports = nil
	same(t, a, c, opt)
}

// TestSeriesMapping: transistors of a stack are mapped by their gates.
func TestSeriesMapping(t *testing.T) {
	rest := "\nR1 r a i 1\nR2 r b i 2\nR3 r c i 3\nR4 r y i 4"
	a := circuit(t, "N1 n y a m vss 5 1\nN2 n m b k vss 5 1\nN3 n k c vss vss 5 1"+rest)
	b := circuit(t, "N1 n y c m vss 5 1\nN2 n m a k vss 5 1\nN3 n k b vss vss 5 1"+rest)
	r := same(t, a, b, Options{Series: true})
	if !equal(r.Devices[:3], []int32{1, 2, 0}) {
		t.Errorf("devices are mapped to %v, gates say 1, 2, 0", r.Devices[:3])
	}
}

// TestSeriesShuffled: random logic with its stacks in any order.
func TestSeriesShuffled(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	for range 40 {
		a := logic(rng, 150)
		b := clone(a)
		for i := range b.Devices[:len(b.Devices)-2] {
			// gates of a nand are added from the bottom up, p and n in turn
			d, e := &b.Devices[i], &b.Devices[i+2]
			if d.Kind == e.Kind && d.W == 900 && e.W == 900 && d.Terminals[0] == e.Terminals[2] && rng.IntN(2) == 0 {
				d.Terminals[1], e.Terminals[1] = e.Terminals[1], d.Terminals[1]
			}
		}
		same(t, a, shuffled(renamed(b, rng), rng, false), Options{Series: true})
	}
}
