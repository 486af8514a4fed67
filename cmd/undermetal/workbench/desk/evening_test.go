package desk

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/netlist/extract"
	"undermetal/testdata/pixel"
)

// hand draws one part: by keys or by mouse.
type hand interface {
	outline(b *bench, layer string, corners []geom.Vec)
	wire(b *bench, layer string, from, to geom.Vec, width float64)
	label(b *bench, layer, text string, at geom.Vec)
}

// registerMetal lays the metal photograph on the stripped one by four pairs, with keys alone.
func registerMetal(b *bench) {
	b.t.Helper()
	stripped, metal := pixel.Photos()[0], pixel.Photos()[1]
	b.keys(fmt.Sprintf(":calibrate %g 0.03", stripped.NmPerPx))
	b.failing("calibrate")
	b.keys("2")
	b.failing("calibrate")
	for _, shift := range []geom.Vec{{}, {X: pixel.Pitch}, {Y: -pixel.Pitch}, {X: pixel.Pitch, Y: -pixel.Pitch}} {
		mark := geom.Vec{X: 1500 + shift.X, Y: 7300 + shift.Y}
		if b.eye == 1 {
			b.keys("Tab")
		}
		b.steer(inStripped(mark), stripped.NmPerPx/1000, false)
		b.keys("Space")
		if b.eye != 1 {
			b.t.Fatal("half a pair does not lead to the other photograph:", b.said.text)
		}
		b.steerAs(metal.Px(mark), 1, true)
		b.keys("Space")
		b.failing("pair")
	}
	if len(b.Panes()) != 2 || len(b.Panes()[0].Scene.Arrows) != 4 {
		b.t.Errorf("%d panes, %d arrows", len(b.Panes()), len(b.Panes()[0].Scene.Arrows))
	}
	b.keys("a")
	b.failing("accept")
}

// checkMetal holds the metal photograph's place against how it was taken.
func checkMetal(b *bench) {
	b.t.Helper()
	metal := pixel.Photos()[1]
	s, err := b.dos.Shot("metal")
	if err != nil {
		b.t.Fatal(err)
	}
	l, err := b.dos.Locate(s)
	if err != nil || l.Registration == nil {
		b.t.Fatalf("%+v, %v", l, err)
	}
	for _, v := range []geom.Vec{{X: 500, Y: 500}, {X: 7000, Y: 1000}, {X: 3000, Y: 7500}} {
		got, want := l.ToFrame.Apply(metal.Px(v)), inStripped(v).Scale(1000)
		// Places were set to a tenth of a pixel of 21 nm.
		if off := math.Hypot(got.X-want.X, got.Y-want.Y); off > 3 {
			b.t.Errorf("%v lies %.1f nm off", v, off)
		}
	}
}

// tracePixel draws all parts and names, with either hand.
func tracePixel(b *bench, h hand) {
	b.t.Helper()
	b.keys(":axis -1.7", "3")
	for _, metal := range []bool{false, true} {
		b.keys(":base " + pixel.Photos()[map[bool]int{true: 1}[metal]].Name)
		for _, p := range parts() {
			if p.Metal != metal {
				continue
			}
			if p.Outline != nil {
				h.outline(b, p.Layer, p.Outline)
			} else {
				h.wire(b, p.Layer, clipped(p.Wire[0]), clipped(p.Wire[1]), p.Width)
			}
			b.failing("draw on " + p.Layer)
		}
	}
	for _, l := range pixel.Labels() {
		h.label(b, l.Layer, l.Text, l.At)
		b.failing("label " + l.Text)
	}
}

// parts is the pixel with what a hand makes of the two gates that are drawn in two pieces: it misses the reset gate's bar by 20 nm
// with its pad, and draws the other pad 50 nm into its bar.
func parts() []pixel.Part {
	all := pixel.Parts()
	for i, p := range all {
		switch {
		case p.Layer == "poly" && p.Outline[0] == geom.Vec{X: 2300, Y: 4500}:
			p.Outline = []geom.Vec{{X: 2320, Y: 4500}, {X: 3300, Y: 4500}, {X: 3300, Y: 5500}, {X: 2320, Y: 5500}}
		case p.Layer == "poly" && p.Outline[0] == geom.Vec{X: 3600, Y: 5700}:
			p.Outline = []geom.Vec{{X: 3600, Y: 5700}, {X: 4650, Y: 5700}, {X: 4650, Y: 6700}, {X: 3600, Y: 6700}}
		}
		all[i] = p
	}
	return all
}

// joinGate answers the question whether the gap in the reset gate is one, with keys alone; before, its net is not the line's.
func joinGate(b *bench) {
	b.t.Helper()
	gate := inStripped(geom.Vec{X: 800, Y: 5000})
	b.keys(":layer poly", fmt.Sprintf(":at %.3f,%.3f", gate.X, gate.Y)) // the line lies above it: the layer to draw on comes first
	if slices.ContainsFunc(b.Foot(), func(s Span) bool { return s.Text == "net RST" }) {
		b.t.Error("the gate's net is RST before anybody said so")
	}
	b.keys("F5")
	near := slices.IndexFunc(b.rowTexts(), func(s string) bool { return s == "near-miss" })
	if near < 0 || !strings.Contains(b.Side().Rows[near].Note, "poly, 0.02") {
		b.t.Errorf("checks: %+v", b.Side().Rows)
	}
	b.keys("Esc", "4", "n")
	for i := 0; b.Page() != nil && b.Page().Title != "near-miss"; i++ {
		if i == 20 {
			b.t.Fatalf("no near miss is asked about: %+v", b.Side())
		}
		b.keys("Esc", "n")
	}
	if b.Page() == nil {
		b.t.Fatalf("no question is shown: %s", b.said.text)
	}
	gap := inStripped(geom.Vec{X: 2310, Y: 5000})
	if at := b.at().cursor; math.Hypot(at.X-1000*gap.X, at.Y-1000*gap.Y) > 600 {
		b.t.Errorf("the question lies at %v, the gap at %v µm", at, gap)
	}
	for i := range b.Page().Choose {
		if b.Page().Choose[i].Text == "joined" {
			for range i {
				b.keys("Down")
			}
		}
	}
	if p := b.Page(); p.Choose[p.Chosen].Text != "joined" {
		b.t.Fatalf("%+v is chosen", p.Choose[p.Chosen])
	}
	b.keys("Enter")
	b.failing("answer")
	if b.Page() != nil {
		b.t.Error("the question stays open after the answer")
	}
	b.settle()
	b.keys("Backspace")
}

// clipped is half a µm beyond the pixel at most: the photographs end not far beyond.
func clipped(v geom.Vec) geom.Vec {
	return geom.Vec{X: max(-500, min(pixel.Pitch+500, v.X)), Y: max(-500, min(pixel.Pitch+500, v.Y))}
}

// TestEvening: two photographs in register, the pixel traced over them, by keys alone and by mouse; the nets join as they are
// drawn; undo; what is there after the dossier is opened again is what was there, and gives the transistors that were drawn.
func TestEvening(t *testing.T) {
	for name, h := range map[string]hand{"keys": byKeys{}, "mouse": byMouse{}} {
		t.Run(name, func(t *testing.T) {
			b := open(t, create(t, "stripped", "metal"), Options{})
			registerMetal(b)
			checkMetal(b)
			tracePixel(b, h)
			b.settle()
			joinGate(b)
			checkPixel(t, b.live.res)
			checkNets(b)
			b.keys("u", "u")
			b.settle()
			if l := b.labels; len(l) != 3 {
				t.Errorf("%d labels after the answer and one of them are taken back", len(l))
			}
			b.keys("U", "U")
			b.settle()
			before := all(t, b.dos)
			b.close()

			b = open(t, b.path, Options{})
			defer b.close()
			b.settle()
			if after := all(t, b.dos); !reflect.DeepEqual(before, after) {
				t.Errorf("after opening it again: %v\nbefore: %v", after, before)
			}
			checkPixel(t, b.live.res)
			checkMetal(b)
			// It is recognised, and its row leads there.
			b.keys("G")
			if got := b.rowTexts(); len(got) != 1 || got[0] != "three-transistor active pixel" {
				t.Errorf("groups %q", got)
			}
			b.keys("Enter")
			if at := b.where(); at.X < 0 || at.X > pixel.Pitch/1000. || at.Y < 0 || at.Y > pixel.Pitch/1000. {
				t.Errorf("the pixel's row leads to %v", at)
			}
			b.keys("Esc")
			// Of the shapes each knows the photograph that it was traced over, and how good its edges are: a pixel of it.
			names := map[int64]string{}
			for _, p := range b.photos {
				names[p.l.ID] = p.l.Name
			}
			shapes, err := b.dos.Shapes(dossier.Frame)
			if err != nil {
				t.Fatal(err)
			}
			for _, s := range shapes {
				want := map[string]float64{"stripped": 16.5, "metal": 21}[names[s.Shot]]
				if s.Method != "hand" || math.Abs(s.SigmaNm-want) > 0.1 || (s.Layer == "metal2") != (names[s.Shot] == "metal") && s.Layer != "metal1" && s.Layer != "via1" {
					t.Errorf("a shape on %s over %q, ± %g nm", s.Layer, names[s.Shot], s.SigmaNm)
				}
			}
		})
	}
}

// checkPixel holds a circuit against the pixel as it was drawn.
func checkPixel(t *testing.T, res *extract.Result) {
	t.Helper()
	c := res.Circuit
	found := 0
	for _, want := range pixel.Transistors {
		for _, d := range c.Devices {
			if !d.Kind.IsMOS() {
				continue
			}
			gate := c.Nets[d.Terminals[1]].Name
			if gate == want.Gate || want.Gate == "PD" && gate == "" {
				found++
				if math.Abs(d.W/want.W-1) > 0.05 || math.Abs(d.L/want.L-1) > 0.05 {
					t.Errorf("%s: W %.0f L %.0f nm, drawn %.0f, %.0f", want.Name, d.W, d.L, want.W, want.L)
				}
			}
		}
	}
	mos := 0
	for _, d := range c.Devices {
		if d.Kind.IsMOS() {
			mos++
		}
	}
	if found != 3 || mos != 3 {
		t.Errorf("%d of 3 transistors, among %d", found, mos)
	}
}

// checkNets points at the gate of the reset transistor: its net goes through pad and contact to the line RST.
func checkNets(b *bench) {
	b.t.Helper()
	b.keys("4", "Esc", "Esc", "Esc")
	b.keys(fmt.Sprintf(":at %.3f,%.3f", inStripped(geom.Vec{X: 800, Y: 5000}).X, inStripped(geom.Vec{X: 800, Y: 5000}).Y))
	text := ""
	for _, s := range b.Foot() {
		text += s.Text + " "
	}
	if !slices.ContainsFunc(b.Foot(), func(s Span) bool { return s.Text == "net RST" }) {
		b.t.Errorf("over the reset gate the foot says %q", text)
	}
	if b.Scene().Net == nil || b.Scene().Net.Box().Width() < pixel.Pitch {
		b.t.Error("the line is not lit with its gate")
	}
	b.keys("z", "E")
	ends := b.Side()
	if ends == nil || len(ends.Rows) < 2 {
		b.t.Fatalf("the ends of RST: %+v", ends)
	}
	b.keys("Esc")
}

// all is what a dossier holds that the desk may change.
func all(t *testing.T, d *dossier.Dossier) (out []any) {
	t.Helper()
	add := func(v any, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, v)
	}
	cells, err := d.Cells()
	add(cells, err)
	for _, c := range cells {
		shapes, err := d.Shapes(c.ID)
		add(shapes, err)
		labels, err := d.Labels(c.ID)
		add(labels, err)
		placements, err := d.Placements(c.ID)
		add(placements, err)
	}
	areas, err := d.Areas()
	add(areas, err)
	verdicts, err := d.Verdicts()
	add(verdicts, err)
	notes, err := d.Notes()
	add(notes, err)
	shots, err := d.Shots()
	add(fmt.Sprint(len(shots)), err)
	for _, s := range shots {
		add([]any{s.Name, s.Scale, s.Display}, nil)
		g, err := d.Registration(s.ID)
		if err != nil {
			add(nil, nil) // it has none
			continue
		}
		add(*g, nil)
		points, err := d.ControlPoints(s.ID)
		add(points, err)
	}
	return out
}
