package recognise

import (
	"fmt"
	"math/rand"
	"slices"
	"strings"
	"testing"

	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/recognise/library"
)

// star is n transistors with one end on a net that has nothing else.
func star(n int) string {
	var lines []string
	for i := range n {
		lines = append(lines, fmt.Sprintf("M%d_%d x%d g%d_%d s%d_%d VSS nmos", n, i, n, n, i, n, i))
	}
	return strings.Join(lines, "\n")
}

// Degrees of 15 and more are one in the classes of parts. A pattern with such a net is found even where another part, with more on its
// net, comes first in the class.
func TestLargeInnerNet(t *testing.T) {
	lines := strings.ReplaceAll(star(17), "x17", "mid")
	var ports, roles []string
	for i := range 17 {
		for _, x := range []string{"g", "s"} {
			ports = append(ports, fmt.Sprintf("%s17_%d", x, i))
			roles = append(roles, fmt.Sprintf("%s17_%d=any", x, i))
		}
	}
	p, err := library.Parse("star.sp", "* name: star\n* title: star\n* what: star\n* source: a test\n* ports: vss=ground "+strings.Join(roles, " ")+
		"\n.subckt star vss "+strings.Join(ports, " ")+"\n"+strings.ReplaceAll(lines, "VSS", "vss")+"\n.ends\n")
	if err != nil {
		t.Fatal(err)
	}
	r := find(t, read(t, star(20)+"\n"+star(17)+"\n"+star(16)), Options{Patterns: []*library.Pattern{p}})
	if len(r.Fits) != 1 || len(r.Fits[0].Members) != 17 {
		t.Errorf("%d fits, want the star of 17", len(r.Fits))
	}
}

// samplers is switches with capacitors on one column.
func samplers(t *testing.T, n int) *netlist.Circuit {
	var lines []string
	for i := range n {
		lines = append(lines, fmt.Sprintf("M%d col sh%d s%d VSS nmos\nC%d s%d ref 1p", i, i, i, i, i))
	}
	return read(t, strings.Join(lines, "\n"))
}

// Where each half of a pattern goes with each other, not all pairs are kept, and the result says so.
func TestManyEqualHalves(t *testing.T) {
	r := find(t, samplers(t, 600), Options{})
	if most := 600 * maxSame; len(r.Others) > most || !slices.Contains(r.CutShort, "cds_pair") {
		t.Errorf("%d other fits, cut short %v", len(r.Others), r.CutShort)
	}
	explained := map[int32]bool{}
	for i := range r.Fits {
		for _, d := range r.Fits[i].Devices() {
			if explained[d] {
				t.Errorf("device %d is in two fits", d)
			}
			explained[d] = true
		}
	}
	if len(explained) != 1200 {
		t.Errorf("%d of 1200 devices are explained", len(explained))
	}
	if r := find(t, samplers(t, 5), Options{}); len(r.CutShort) > 0 {
		t.Errorf("a few are cut short, too: %v", r.CutShort)
	}
}

// Circuits in which everything hangs on one net do not keep the search from ending; what is counted are parts that are tried.
func TestOneLargeNet(t *testing.T) {
	at := geom.Point{}
	for name, add := range map[string]func(s *soup, hub, other netlist.Net, i int){
		"inverters with one input": func(s *soup, hub, _ netlist.Net, _ int) { s.inverter(hub, s.net("")) },
		"inverters in parallel":    func(s *soup, hub, other netlist.Net, _ int) { s.inverter(hub, other) },
		"gates on one net": func(s *soup, hub, _ netlist.Net, i int) {
			s.mos(netlist.Kind(i%2), s.signals[i%20], hub, s.signals[(i*7+i/20)%50], at)
		},
		"switches between two nets": func(s *soup, hub, other netlist.Net, _ int) { s.mos(netlist.NMOS, hub, s.net(""), other, at) },
		"multiplexers on one net": func(s *soup, hub, other netlist.Net, i int) {
			x := s.net("")
			s.mos(netlist.Kind(i%2), hub, s.signals[0], x, at)
			s.mos(netlist.Kind(1-i%2), hub, s.signals[1], x, at)
		},
	} {
		s := newSoup(7)
		hub, other := s.net("hub"), s.net("other")
		for i := range 900 {
			add(s, hub, other, i)
		}
		r := find(t, s.c, Options{Missing: 1, Workers: 1})
		want := map[string]string{"inverters with one input": "900 inverter", "inverters in parallel": "1 inverter"}[name]
		if got := fmt.Sprintf("%d %s", len(r.Fits), nameOf(r)); want != "" && got != want {
			t.Errorf("%s: %s, want %s", name, got, want)
		}
		if len(r.Others)+len(r.Partial) > 900*maxSame {
			t.Errorf("%s: %d other fits, %d partial ones", name, len(r.Others), len(r.Partial))
		}
	}
}

func nameOf(r *Result) string {
	if len(r.Fits) == 0 {
		return ""
	}
	return r.Fits[0].Pattern.Name
}

// Two transistors of which each is driven by a gate of its own drive a bus. With a level on one of them they are an amplifier.
func TestDriverIsNoAmplifier(t *testing.T) {
	stage := "MN out in VSS VSS nmos\nML out vb VDD VDD pmos\n"
	gate := "MA vb en VSS VSS nmos\nMB vb en VDD VDD pmos\n"
	mirror := "MR vb vb VDD VDD pmos\nR1 vb VSS 10k\n"
	if got := covers(t, read(t, stage+gate), Options{}); !slices.Equal(got, []string{"inverter"}) {
		t.Errorf("driven by an inverter: %v", got)
	}
	if got := covers(t, read(t, stage+mirror), Options{}); !slices.Contains(got, "common_source") {
		t.Errorf("driven by a level: %v", got)
	}
}

// What is said of a p flavour calls the lower supply ground, whatever the pattern does.
func TestPiecesOfTheOtherFlavour(t *testing.T) {
	c := mirrored(pixelArray(4, 3))
	cut(c, "SF_1_2", netlist.Drain)
	f := find(t, c, Options{Missing: 1}).Partial[0]
	if text := f.Missing[0].Text; !f.Mirror || !strings.Contains(text, "of MSF and ground (VSS)") && !strings.Contains(text, "of MSF and ground:") {
		t.Errorf("mirrored %v: %q", f.Mirror, text)
	}
}

// Of a fit with n and p swapped, the port for a ground is told as a supply where it lies on one.
func TestRolesOfTheOtherFlavour(t *testing.T) {
	r := find(t, mirrored(pixelArray(2, 2)), Options{})
	c := mirrored(pixelArray(2, 2))
	for i := range r.Fits {
		f := &r.Fits[i]
		for k, n := range f.Ports {
			want := map[string]string{"VDD": library.Supply, "VSS": library.Ground}[c.Nets[max(n, 0)].Name]
			if role := f.Role(k); n != netlist.NoNet && want != "" && role != library.Reference && role != want {
				t.Errorf("%s: port %s on %s is a %s", f.Pattern.Name, f.Pattern.Ports[k].Name, c.Nets[n].Name, role)
			}
		}
	}
	if len(r.Fits) != 4 || !r.Fits[0].Mirror {
		t.Errorf("%d fits", len(r.Fits))
	}
}

// resultText tells a result, places and order included.
func resultText(r *Result) string {
	var b strings.Builder
	for _, fits := range [][]Fit{r.Fits, r.Others, r.Partial} {
		for i := range fits {
			f := &fits[i]
			fmt.Fprintln(&b, f.Pattern.Name, f.Mirror, f.Members, f.Ports, f.Inner, f.Loose, f.Weight, f.Box)
			for _, p := range slices.Concat(f.Missing, f.Extra) {
				fmt.Fprintln(&b, "  ", p.Kind, p.Role, p.Between, p.Device, p.At, p.Text)
			}
		}
	}
	return b.String()
}

// The whole result, partial fits and other fits included, is the same for any number of workers and in each run.
func TestSameEachTime(t *testing.T) {
	c := grow(2500, 8)
	want := ""
	for round := range 4 {
		got := resultText(find(t, c, Options{Missing: 1, Workers: 1 + round}))
		if want == "" {
			want = got
		}
		if got != want {
			a, b := strings.Split(got, "\n"), strings.Split(want, "\n")
			for i := range min(len(a), len(b)) {
				if a[i] != b[i] {
					t.Fatalf("%d workers: %q, before %q", 1+round, a[i], b[i])
				}
			}
			t.Fatalf("%d workers: %d lines, before %d", 1+round, len(a), len(b))
		}
	}
}

// Partial fits are the same for devices and nets in another order.
func TestPartialInAnyOrder(t *testing.T) {
	c := grow(1500, 11)
	for i := range c.Devices {
		c.Devices[i].Name = fmt.Sprint("M", i)
	}
	list := func(c *netlist.Circuit) []string {
		var all []string
		for _, f := range find(t, c, Options{Missing: 1}).Partial {
			var names []string
			for _, m := range f.Members {
				names = append(names, c.Devices[m.Device].Name)
			}
			slices.Sort(names)
			all = append(all, fmt.Sprintf("%s %v %.3f", f.Pattern.Name, names, f.Weight))
		}
		slices.Sort(all)
		return all
	}
	want := list(c)
	if len(want) == 0 {
		t.Fatal("no partial fits")
	}
	for seed := range int64(2) {
		if got := list(shuffled(c, rand.New(rand.NewSource(seed)))); !slices.Equal(got, want) {
			t.Errorf("seed %d: %v, before %v", seed, got, want)
		}
	}
}
