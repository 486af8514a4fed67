package extract_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

func verdict(l, x, y int, kind, reading string) layout.Verdict {
	return layout.Verdict{Layer: layout.Layer(l), At: geom.Point{X: x, Y: y}, Kind: kind, Reading: reading}
}

// decided is a drawing of one cell with verdicts.
func decided(st *stack.Stack, shapes []layout.Shape, labels []layout.Label, verdicts ...layout.Verdict) drawn {
	d := oneCell(st, shapes...)
	d.top.Labels, d.top.Verdicts = labels, verdicts
	return d
}

func name(l, x, y int, text string) layout.Label {
	return layout.Label{Layer: layout.Layer(l), At: geom.Point{X: x, Y: y}, Text: text}
}

// deviceLine is what of a device the tests of verdicts look at.
func deviceLine(c *netlist.Circuit, d *netlist.Device) string {
	s := fmt.Sprintf("%v %q", d.Kind, d.Model)
	for t, terminal := range d.Kind.TerminalNames() {
		s += fmt.Sprintf(" %s=%s", terminal, c.Nets[d.Terminals[t]].Name)
	}
	if d.Kind.IsMOS() {
		return s + fmt.Sprintf(" W=%.0f L=%.0f x%d", d.W, d.L, max(d.Fingers, 1))
	}
	return s + fmt.Sprintf(" A=%.0f P=%.0f x%d", d.Area, d.Perim, max(d.Fingers, 1))
}

func deviceLines(r *extract.Result) []string {
	var out []string
	for i := range r.Circuit.Devices {
		out = append(out, deviceLine(r.Circuit, &r.Circuit.Devices[i]))
	}
	return out
}

func codes(r *extract.Result) []string {
	var out []string
	for _, w := range r.Warnings {
		out = append(out, w.Code)
	}
	return out
}

// bankLabels name the plates of bankScene(0).
func bankLabels() []layout.Label {
	return []layout.Label{name(metal1, 1500, 2500, "TOP"), name(metal1, 250, 250, "BOT")}
}

const (
	tox     = "transistor-or-capacitor"
	lost    = "verdict-lost"
	notUsed = "verdict-not-used"
)

// TestVerdictCapacitor: the bank of squares in all readings. Four squares of 1 µm: 4 µm², 16 µm of outline.
func TestVerdictCapacitor(t *testing.T) {
	st := kilnStack(t)
	plain := run(t, decided(st, bankScene(0), bankLabels()), extract.Options{})
	if len(plain.Circuit.Devices) != 4 {
		t.Fatalf("%q", deviceLines(plain))
	}
	model, bulk := plain.Circuit.Devices[0].Model, plain.Circuit.Nets[plain.Circuit.Devices[0].Terminals[netlist.Bulk]].Name
	one := fmt.Sprintf(`nmos %q d=BOT g=TOP s=BOT b=%s W=4000 L=250 x1`, model, bulk)
	for _, tc := range []struct {
		reading string
		want    []string
	}{
		{"capacitor", []string{`capacitor "" a=TOP b=BOT A=4000000 P=16000 x4`}},
		{"transistor", []string{fmt.Sprintf(`nmos %q d=BOT g=TOP s=BOT b=%s W=16000 L=250 x4`, model, bulk)}},
		{"dummy", []string{one, one, one, one}},
	} {
		own := *st
		own.Process.GateOxideNm = 20
		for _, at := range []geom.Point{{X: 1500, Y: 1500}, {X: 3900, Y: 3100}, {X: 900, Y: 1500}} { // of several squares; the last beside one
			d := decided(&own, bankScene(0), bankLabels(), verdict(poly, at.X, at.Y, tox, tc.reading))
			res := run(t, d, extract.Options{Facts: true})
			if got := deviceLines(res); !slices.Equal(got, tc.want) || slices.Contains(codes(res), lost) {
				t.Errorf("%s at %v: %q, want %q; %v", tc.reading, at, got, tc.want, res.Warnings)
			}
			if v := res.Verdicts; len(v) != 1 || v[0].Lost || len(v[0].Devices) != len(tc.want) || v[0].At != at {
				t.Errorf("%s: %+v", tc.reading, v)
			}
			if len(res.Questions) != len(tc.want) || len(res.Paths()) != len(tc.want) {
				t.Errorf("%s: %d questions, %d paths", tc.reading, len(res.Questions), len(res.Paths()))
			}
			for _, ch := range res.Facts.Channels {
				if ch.Device < 0 || ch.Device >= len(tc.want) || ch.DeviceCount != 1 {
					t.Errorf("%s: a channel of device %d", tc.reading, ch.Device)
				}
			}
			// 4 µm² over 20 nm of oxide: ε0·3.9/20 nm = 1.7266 fF/µm², worked out by hand.
			if c := res.Circuit.Devices[0]; c.Kind == netlist.Capacitor && math.Abs(c.Value-6.9063e-15) > 1e-19 {
				t.Errorf("%g F", c.Value)
			}
			if tc.reading == "transistor" {
				sum := 0.0
				for _, p := range plain.Circuit.Devices {
					sum += p.AD + p.AS
				}
				if m := res.Circuit.Devices[0]; math.Abs(m.AS+m.AD-sum) > 1 {
					t.Errorf("junctions of %g nm², of four %g", m.AS+m.AD, sum)
				}
			}
		}
	}
	own := *st
	own.Process.GateOxideNm = 0
	res := run(t, decided(&own, bankScene(0), bankLabels(), verdict(poly, 1500, 1500, tox, "capacitor")), extract.Options{})
	if c := res.Circuit.Devices; len(c) != 1 || !math.IsNaN(c[0].Value) || c[0].Model == "" {
		t.Errorf("without gate_oxide_nm: %+v", c)
	}
}

// TestVerdictSwitch: the switch of three fingers; as a capacitor it has its lower plate on two nets.
func TestVerdictSwitch(t *testing.T) {
	st := kilnStack(t)
	labels := []layout.Label{name(metal1, 100, 2450, "A"), name(metal1, 100, -950, "B"), name(poly, 1000, -500, "G")}
	plain := run(t, decided(st, fingersScene(0), labels), extract.Options{})
	res := run(t, decided(st, fingersScene(0), labels, verdict(poly, 700, 1000, tox, "transistor")), extract.Options{})
	if len(plain.Circuit.Devices) != 3 || len(res.Circuit.Devices) != 1 {
		t.Fatalf("%q, %q", deviceLines(plain), deviceLines(res))
	}
	m := res.Circuit.Devices[0]
	if m.W != 6000 || m.L != 200 || m.Fingers != 3 {
		t.Errorf("%+v", m)
	}
	at := map[string]float64{} // junction area by net
	for _, p := range plain.Circuit.Devices {
		at[plain.Circuit.Nets[p.Terminals[netlist.Drain]].Name] += p.AD
		at[plain.Circuit.Nets[p.Terminals[netlist.Source]].Name] += p.AS
	}
	for n, a := range map[netlist.Net]float64{m.Terminals[netlist.Drain]: m.AD, m.Terminals[netlist.Source]: m.AS} {
		if net := res.Circuit.Nets[n].Name; math.Abs(at[net]-a) > 1e-3 {
			t.Errorf("%g nm² on net %s, of three %g", a, net, at[net])
		}
	}
	// Of each net three of the six edges: equal, so that the lower place decides.
	own := *st
	own.Process.GateOxideNm = 20
	res = run(t, decided(&own, fingersScene(0), labels, verdict(poly, 700, 1000, tox, "capacitor")), extract.Options{})
	if got := deviceLines(res); len(got) != 1 || got[0] != `capacitor "" a=G b=B A=1200000 P=13200 x3` || !slices.Contains(codes(res), "plate-on-two-nets") {
		t.Errorf("%q %v", got, codes(res))
	}
}

// unknownGate is a transistor half in a well, so that no rule holds.
func unknownGate(x int) []layout.Shape {
	return []layout.Shape{boxOn(diffusion, x, 0, x+900, 400), boxOn(poly, x+400, -100, x+500, 500), boxOn(nwell, x-100, 200, x+1000, 1000), boxOn(pplus, x-50, -50, x+950, 450)}
}

func TestVerdictPolarity(t *testing.T) {
	st := kilnStack(t)
	label := []layout.Label{name(poly, 450, -50, "G"), name(nwell, 0, 900, "W"), name(diffusion, 100, 100, "S"), name(diffusion, 800, 100, "D")}
	before := run(t, decided(st, unknownGate(0), label), extract.Options{})
	if c := codes(before); before.Circuit.Devices[0].Kind != netlist.MOS || !slices.Contains(c, "polarity-unknown") || before.Questions[0] != "polarity-unknown" {
		t.Fatalf("%q %v", deviceLines(before), c)
	}
	models := map[string]string{}
	for _, r := range st.MOS {
		if models[r.Type] == "" {
			models[r.Type] = r.Model
		}
	}
	for typ, kind := range map[string]netlist.Kind{"n": netlist.NMOS, "p": netlist.PMOS} {
		res := run(t, decided(st, unknownGate(0), label, verdict(poly, 450, 100, "polarity", typ)), extract.Options{})
		d := res.Circuit.Devices[0]
		if d.Kind != kind || d.Model != models[typ] || res.Questions[0] != "" || slices.Contains(codes(res), "polarity-unknown") || !slices.Equal(res.Verdicts[0].Devices, []int{0}) {
			t.Errorf("%s: %q %v %+v", typ, deviceLines(res), codes(res), res.Verdicts)
		}
		if b := res.Circuit.Nets[d.Terminals[netlist.Bulk]].Name; typ == "p" && b != "W" || typ == "n" && b == "W" || b == "bulk_unknown" {
			t.Errorf("%s: bulk %s", typ, b)
		}
	}
	res := run(t, decided(st, unknownGate(0), label, verdict(poly, 450, 100, "bulk", "S")), extract.Options{})
	if b := res.Circuit.Nets[res.Circuit.Devices[0].Terminals[netlist.Bulk]].Name; b != "S" || slices.Contains(codes(res), "bulk-unknown") || res.Verdicts[0].Lost {
		t.Errorf("bulk %s, %v", b, codes(res))
	}
	for _, v := range []layout.Verdict{verdict(poly, 450, 100, "bulk", "NOWHERE"), verdict(poly, 450, 100, "polarity", "q"), verdict(poly, 450, 100, "wire-or-resistor", "resistor"),
		verdict(poly, 450, 100, tox, "resistor")} {
		res := run(t, decided(st, unknownGate(0), label, v), extract.Options{})
		if !slices.Contains(codes(res), notUsed) || !res.Verdicts[0].Unused || res.Verdicts[0].Lost || !reflect.DeepEqual(res.Circuit, before.Circuit) {
			t.Errorf("%+v: %v", v, res.Warnings)
		}
	}
}

// TestVerdictPhotodiode: a large junction beside a gate becomes a diode, whose area is no transistor's.
func TestVerdictPhotodiode(t *testing.T) {
	st := kilnStack(t)
	shapes := []layout.Shape{boxOn(diffusion, 0, 0, 4000, 3000), boxOn(diffusion, 4000, 0, 4900, 400), boxOn(poly, 4400, -100, 4500, 500)}
	labels := []layout.Label{name(diffusion, 100, 100, "PD"), name(diffusion, 4800, 100, "X"), name(poly, 4450, -50, "G")}
	// 4 × 3 µm and 0.4 × 0.4 µm up to the gate, whose edge is no side wall.
	const area, perimeter = 4000*3000 + 400*400, 2*(4000+3000) + 2*400 - 400
	for _, reading := range []string{"photodiode", "diode", "junction"} {
		res := run(t, decided(st, shapes, labels, verdict(diffusion, 2000, 1000, "photodiode", reading)), extract.Options{Facts: true})
		i := slices.IndexFunc(res.Circuit.Devices, func(d netlist.Device) bool { return d.Kind == netlist.Diode })
		m := res.Circuit.Devices[slices.IndexFunc(res.Circuit.Devices, func(d netlist.Device) bool { return d.Kind.IsMOS() })]
		junctions := m.AS + m.AD
		if reading == "junction" {
			if i >= 0 || junctions != area+400*400 || res.Verdicts[0].Lost {
				t.Errorf("junction: %q, %g", deviceLines(res), junctions)
			}
			continue
		}
		bulk := res.Circuit.Nets[m.Terminals[netlist.Bulk]].Name
		if want := fmt.Sprintf("diode %q anode=%s cathode=PD A=%d P=%d x1", reading, bulk, area, perimeter); i < 0 || deviceLine(res.Circuit, &res.Circuit.Devices[i]) != want || junctions != 400*400 ||
			!slices.Equal(res.Verdicts[0].Devices, []int{i}) {
			t.Errorf("%q, want %q; junctions of %g", deviceLines(res), want, junctions)
		}
	}
	well := append([]layout.Shape{boxOn(nwell, -500, -500, 6000, 4000), boxOn(pplus, -200, -200, 5500, 3500)}, shapes...)
	labels = append(labels, name(nwell, -400, -400, "W"))
	for k, d := range []drawn{decided(st, well, labels, verdict(diffusion, 2000, 1000, "photodiode", "diode")), decided(st, well[:3], labels, verdict(diffusion, 2000, 1000, "photodiode", "diode"))} {
		res := run(t, d, extract.Options{})
		i := slices.IndexFunc(res.Circuit.Devices, func(d netlist.Device) bool { return d.Kind == netlist.Diode })
		if i < 0 {
			t.Fatalf("%d: %q", k, deviceLines(res))
		}
		if dev := res.Circuit.Devices[i]; res.Circuit.Nets[dev.Terminals[netlist.Anode]].Name != "PD" || res.Circuit.Nets[dev.Terminals[netlist.Cathode]].Name != "W" {
			t.Errorf("%d: in a well: %q", k, deviceLines(res))
		}
	}
}

func TestVerdictNearMissAndContact(t *testing.T) {
	st := kilnStack(t)
	shapes := []layout.Shape{boxOn(metal2, 0, 0, 1000, 100), boxOn(metal2, 1020, 0, 2000, 100), boxOn(metal2, 0, 4000, 1000, 4100)}
	labels := []layout.Label{name(metal2, 50, 50, "A"), name(metal2, 1500, 50, "B"), name(metal2, 50, 4050, "C")}
	for reading, want := range map[string]int{"joined": 2, "apart": 3} {
		res := run(t, decided(st, shapes, labels, verdict(metal2, 1010, 50, "near-miss", reading)), extract.Options{})
		if n := len(res.Circuit.Nets); n < want || n > want+1 || res.Verdicts[0].Lost { // the substrate may be a net
			t.Errorf("%s: %d nets", reading, n)
		}
		if got := slices.Contains(codes(res), "two-names"); got != (reading == "joined") {
			t.Errorf("%s: %v", reading, codes(res))
		}
	}
	res := run(t, decided(st, shapes[2:], labels[2:], verdict(metal2, 1010, 4050, "near-miss", "joined")), extract.Options{})
	if !slices.Contains(codes(res), lost) || !res.Verdicts[0].Lost {
		t.Errorf("one side is gone: %v", res.Warnings)
	}
	// A contact of which poly takes 10 % and the diffusion 90 %: it reaches the diffusion unless a verdict says otherwise.
	shapes = []layout.Shape{boxOn(contact, 0, 0, 100, 100), boxOn(metal1, -100, -100, 200, 200), boxOn(diffusion, 10, -100, 300, 200), boxOn(poly, -300, -100, 10, 200)}
	labels = []layout.Label{name(metal1, 0, 150, "M"), name(diffusion, 250, 0, "D"), name(poly, -250, 0, "P")}
	for reading, want := range map[string][]string{"": {"D", "M"}, "lands on diffusion": {"D", "M"}, "lands on poly": {"M", "P"}} {
		d := decided(st, shapes, labels)
		if reading != "" {
			d.top.Verdicts = []layout.Verdict{verdict(contact, 50, 50, "contact", reading)}
		}
		for _, strips := range []int{1, 5, 16} {
			res := run(t, d, extract.Options{Strips: strips})
			var got []string
			for _, n := range res.Circuit.Nets {
				if len(n.Labels) > 0 {
					got = n.Labels
				}
			}
			if !slices.Equal(got, want) || slices.Contains(codes(res), "half-landed-contact") != (reading == "") || reading != "" && res.Verdicts[0].Lost {
				t.Errorf("%q: joined %v, want %v; %v", reading, got, want, res.Warnings)
			}
		}
	}
	res = run(t, decided(st, shapes, labels, verdict(contact, 50, 50, "contact", "lands on metal2")), extract.Options{})
	if !slices.Contains(codes(res), notUsed) || slices.Contains(codes(res), lost) { // the contact is there; metal2 is not under it
		t.Errorf("%v", res.Warnings)
	}
}

// TestVerdictEverywhere: a verdict in a cell holds in all its placements and members of arrays, turned and mirrored; that of
// the die comes first; for any number of strips and workers and any order.
func TestVerdictEverywhere(t *testing.T) {
	st := kilnStack(t)
	cell := &layout.Cell{Name: "BANK", Shapes: bankScene(0), Verdicts: []layout.Verdict{verdict(poly, 1500, 1500, tox, "capacitor")}}
	top := &layout.Cell{Name: "TOP", Placements: []layout.Placement{
		{Cell: cell, Transform: geom.Identity, Columns: 3, Rows: 2, ColumnExtent: geom.Vec{X: 20001}, RowExtent: geom.Vec{Y: 8000}},
		{Cell: cell, Transform: geom.NewTransform(true, 1, 90, geom.Point{X: -20000, Y: 3})}}}
	d := drawn{"everywhere", &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{top, cell}}, top, st}
	want := run(t, d, extract.Options{Strips: 1, Workers: 1})
	if got := deviceLines(want); len(got) != 7 || len(want.Verdicts) != 7 {
		t.Fatalf("%q, %d verdicts", got, len(want.Verdicts))
	}
	for i, dev := range want.Circuit.Devices {
		if dev.Kind != netlist.Capacitor || dev.Fingers != 4 {
			t.Errorf("%q", deviceLine(want.Circuit, &want.Circuit.Devices[i]))
		}
	}
	for i, p := range want.Paths() {
		if k := slices.IndexFunc(want.Verdicts, func(v extract.UsedVerdict) bool { return v.Path == p }); k < 0 || !slices.Equal(want.Verdicts[k].Devices, []int{i}) {
			t.Errorf("device %d of %s: %+v", i, p, want.Verdicts)
		}
	}
	rnd := rand.New(rand.NewPCG(1, 94))
	for range 12 {
		rnd.Shuffle(len(cell.Shapes), func(i, k int) { cell.Shapes[i], cell.Shapes[k] = cell.Shapes[k], cell.Shapes[i] })
		rnd.Shuffle(len(top.Placements), func(i, k int) { top.Placements[i], top.Placements[k] = top.Placements[k], top.Placements[i] })
		top.Placements[0].Name, top.Placements[1].Name = "", ""
		got := run(t, d, extract.Options{Strips: 1 + rnd.IntN(40), Workers: 1 + rnd.IntN(4)})
		if diff := difference(want, got); diff != "" {
			t.Errorf("%s", diff)
		}
		for i := range got.Verdicts { // paths count placements
			got.Verdicts[i].Path = want.Verdicts[i].Path
		}
		if !reflect.DeepEqual(got.Verdicts, want.Verdicts) {
			t.Errorf("%+v, want %+v", got.Verdicts, want.Verdicts)
		}
	}
	top.Verdicts = []layout.Verdict{verdict(poly, 1500, 1500, tox, "transistor")} // in the first member
	res := run(t, d, extract.Options{})
	count := map[netlist.Kind]int{}
	for _, dev := range res.Circuit.Devices {
		count[dev.Kind]++
	}
	if count[netlist.Capacitor] != 6 || count[netlist.NMOS] != 1 || !slices.Contains(codes(res), notUsed) {
		t.Errorf("with another one of the die: %q", deviceLines(res))
	}
}

// TestVerdictAfterEdits: it holds when edges move a little, and is listed when what it is about is gone.
func TestVerdictAfterEdits(t *testing.T) {
	st := kilnStack(t)
	rnd := rand.New(rand.NewPCG(2, 95))
	at := verdict(poly, 1500, 1500, tox, "capacitor")
	for range 20 {
		shapes := bankScene(0)
		for i := range shapes {
			for k := range shapes[i].Polygon[0] {
				p := &shapes[i].Polygon[0][k]
				p.X, p.Y = p.X+rnd.IntN(21)-10, p.Y+rnd.IntN(21)-10
			}
		}
		res := run(t, decided(st, shapes, bankLabels(), at), extract.Options{})
		if len(res.Circuit.Devices) != 1 || res.Circuit.Devices[0].Kind != netlist.Capacitor {
			t.Fatalf("edges moved: %q", deviceLines(res))
		}
	}
	for x, gone := range map[int]bool{1000 - 499: false, 1000 - 501: true} { // besideNm, from the square's edge
		at.At.X = x
		res := run(t, decided(st, bankScene(0), bankLabels(), at), extract.Options{})
		if got := len(res.Circuit.Devices) == 4; got != gone || res.Verdicts[0].Lost != gone || slices.Contains(codes(res), lost) != gone {
			t.Errorf("at x = %d: %q %v", x, deviceLines(res), codes(res))
		}
	}
	d := decided(st, bankScene(0), bankLabels())
	d.lib.Lost = []layout.LostVerdict{{Verdict: at, Cell: "GONE"}}
	res := run(t, d, extract.Options{})
	if !slices.Contains(codes(res), lost) || len(res.Verdicts) != 1 || !res.Verdicts[0].Lost || res.Verdicts[0].Cell != "GONE" {
		t.Errorf("cell that is gone: %v %+v", res.Warnings, res.Verdicts)
	}
}
