package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"testing"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/compare"
	"undermetal/netlist/extract"
	"undermetal/recognise/question"
	"undermetal/spice"
	"undermetal/testdata/kiln"
)

// tracedKiln makes kiln.dossier in a new current folder: both photographs with their control points, and all tracings, brought in
// in the order of kiln.Steps.
func tracedKiln(t *testing.T) {
	t.Helper()
	t.Chdir(t.TempDir())
	write := func(name string, data []byte) {
		if err := os.WriteFile(name, data, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	write("kiln.stack.toml", kiln.Stack)
	write("truth.sp", kiln.Truth)
	must(t, "new kiln.dossier --stack kiln.stack.toml")
	hand, shots := kiln.NewHand(kiln.Seed), kiln.Photos()
	picture := func(name string, img *image.Gray, err error) {
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		enc := png.Encoder{CompressionLevel: png.BestSpeed}
		if err := enc.Encode(&b, img); err != nil {
			t.Fatal(err)
		}
		write(name, b.Bytes())
	}
	ruling, err := kiln.Micrometer(t.Context())
	picture("micrometer.png", ruling, err)
	for _, s := range shots {
		img, err := s.Image(t.Context())
		picture(s.Name+".png", img, err)
		write(s.Name+".csv", hand.Points(s))
		must(t, fmt.Sprintf("shot add kiln.dossier %s.png --step %[1]s", s.Name))
		if s.Metal {
			checkKilnScale(t, must(t, fmt.Sprintf("shot calibrate kiln.dossier %s --micrometer micrometer.png --pitch %g --pitch-sigma %g", s.Name, kiln.RulingPitch/1e3, kiln.RulingSigma/1e3)))
		}
		must(t, fmt.Sprintf("shot register kiln.dossier %s --points %[1]s.csv", s.Name))
	}
	over := map[string]string{}
	for _, d := range hand.Drawings(shots) {
		write(d.File, d.SVG)
		over[d.File] = d.Shot
	}
	for _, step := range kiln.Steps() {
		for _, f := range step.Files {
			must(t, fmt.Sprintf("trace import kiln.dossier %s --over %s", f, over[f]))
		}
		if len(step.Lines) > 0 {
			var stdout, stderr bytes.Buffer
			if status := run(append([]string{"trace", "do", "kiln.dossier"}, step.Lines...), &stdout, &stderr); status != exitDone {
				t.Fatalf("%s: exit status %d\n%s", step.What, status, stderr.String())
			}
		}
	}
}

// TestKilnDie: what a hand traced over the photographs of the die is the circuit that was drawn, once the questions about
// gates are answered as they lead.
func TestKilnDie(t *testing.T) {
	tracedKiln(t)
	answerKiln(t)
	st, lib, top := kilnDossier(t)
	res, err := extract.Run(t.Context(), lib, top, st, extract.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range res.Warnings {
		t.Errorf("%+v", w)
	}
	truth := kilnTruth(t)
	same, err := compare.Compare(t.Context(), res.Circuit, truth, compare.Options{ToleranceRel: 0.4, BulkByName: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range same.Differences {
		t.Errorf("%+v", d)
	}
	if len(res.Circuit.Devices) != len(truth.Devices) || same.Matched != len(truth.Devices) {
		t.Fatalf("%d devices traced, %d drawn, %d matched", len(res.Circuit.Devices), len(truth.Devices), same.Matched)
	}
	for _, r := range same.Renamed {
		if r.A != "GND" || r.B != "0" { // one net in SPICE
			t.Errorf("%s is called %s in truth.sp", r.A, r.B)
		}
	}
	checkKilnSizes(t, res.Circuit, truth, same.Devices)
}

// checkKilnScale holds the scale that the micrometer gives against that of the camera: 0.1 µm/px, within 3.5 of the uncertainty that is
// claimed, most of which is that of the ruling, a thousandth.
func checkKilnScale(t *testing.T, said string) {
	t.Helper()
	var scale, sigma float64
	if _, err := fmt.Sscanf(said, "metal: %f ± %f µm/px", &scale, &sigma); err != nil {
		t.Fatalf("%v: %s", err, said)
	}
	if math.Abs(scale-0.1) > 3.5*sigma || sigma < 0.1*0.001 || sigma > 0.1*0.0013 {
		t.Errorf("%s", said)
	}
}

// answerKiln answers each question about a gate as it leads, which is to be the truth.
func answerKiln(t *testing.T) {
	t.Helper()
	var questions []struct {
		ID       string
		At       [2]float64 // µm
		Readings []struct {
			Reading string
			Odds    float64 `json:"odds_db"`
		}
	}
	if err := json.Unmarshal([]byte(must(t, "questions kiln.dossier --json - --kind "+question.TransistorOrCapacitor)), &questions); err != nil {
		t.Fatal(err)
	}
	call, answered := "questions kiln.dossier", map[string]bool{}
	for _, q := range questions {
		a := kiln.AnswerAt(geom.Vec{X: q.At[0] * 1000, Y: q.At[1] * 1000}.Round())
		if a == nil {
			t.Errorf("%s: nothing there is hard to tell", q.ID)
			continue
		}
		lead := q.Readings[0]
		t.Logf("%s: %s leads by %.1f dB", a.Name, lead.Reading, lead.Odds)
		if lead.Reading != a.Reading {
			t.Errorf("%s: it is a %s", a.Name, a.Reading)
		}
		answered[a.Name] = true
		call += fmt.Sprintf(" --answer %s=%s", q.ID, lead.Reading)
	}
	must(t, call)
	for _, a := range kiln.Answers() {
		if !answered[a.Name] {
			t.Errorf("nothing is asked about the %s", a.Name)
		}
	}
}

// checkKilnSizes holds W and L against what was drawn. An edge that is traced over the stripped photograph is off by 1 px of 40 nm,
// a length, which lies between two, by √2 of that: 57 nm. What the control points leave of the scale is less than a tenth
// of that on a length of a few µm: six marks lie 48 µm apart, each good to half a pixel. 25 transistors were traced, each
// with a W and an L: 3 of the pixel, 1 load, 8 of the driver, 2 of the bias, 8 of the clocks' buffers and 3 others of the pump;
// copies of these have their errors. That one of 50 normal errors is beyond 3.5 σ is to be had once in 43 hands.
//
// Their mean square would be 1 ± √(2/50) if they were independent. Some are not: the n and the p transistor of an inverter have
// one gate, so that their lengths err alike (8 pairs); W is that of one strip for follower and select and for the three
// transistors in a row (4 pairs); the transistors of two inverters on one strip share one of two edges (8 pairs that
// correlate by ½). A pair adds 2·2ρ² to the variance of the sum of squares, which 50 times 2 is without, so that the
// standard deviation is larger by √(1 + 2·(8 + 4 + 8·¼)/50) = 1.25. Three of these are allowed.
//
// The switch's W is made of 38 borders: where each edge of a bar is off by 40 nm, by 38·57/√2 nm = 1.5 µm if all
// bars erred alike, which they do not; its L is its area over that, good to the 57 nm of one bar at least.
func checkKilnSizes(t *testing.T, traced, drawn *netlist.Circuit, to []int32) {
	t.Helper()
	sigma := math.Sqrt2 * 40
	n, square := 0, 0.0
	for i := range traced.Devices {
		d, want := &traced.Devices[i], &drawn.Devices[to[i]]
		if !d.Kind.IsMOS() {
			continue
		}
		if want.W > 100_000 {
			t.Logf("the switch: W %.0f nm, L %.0f nm; drawn %.0f and %.0f", d.W, d.L, want.W, want.L)
			if math.Abs(d.W-want.W) > 1500 || math.Abs(d.L-want.L) > sigma {
				t.Errorf("the switch: W %.0f nm, L %.0f nm; drawn %.0f and %.0f", d.W, d.L, want.W, want.L)
			}
			continue
		}
		first := !kiln.Copied(d.At)
		for _, v := range [][2]float64{{d.W, want.W}, {d.L, want.L}} {
			e := (v[0] - v[1]) / sigma
			if math.Abs(e) > 3.5 {
				t.Errorf("transistor at %v: %.0f nm, drawn %.0f", d.At, v[0], v[1])
			}
			if first {
				n, square = n+1, square+e*e
			}
		}
	}
	f := float64(n)
	t.Logf("%d lengths, mean square error %.2f σ²", n, square/f)
	if n != 50 {
		t.Errorf("%d lengths were traced, want two of 25 transistors", n)
	}
	if math.Abs(square/f-1) > 3*1.25*math.Sqrt(2/f) {
		t.Errorf("errors have the mean square %.2f σ²", square/f)
	}
}

// kilnDossier returns what kiln.dossier holds.
func kilnDossier(t *testing.T) (*stack.Stack, *layout.Library, *layout.Cell) {
	t.Helper()
	d, err := dossier.OpenToRead(t.Context(), "kiln.dossier")
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	st, err1 := d.Stack()
	lib, err2 := d.Library()
	if err := errors.Join(err1, err2); err != nil {
		t.Fatal(err)
	}
	return st, lib, lib.Cells[0]
}

func kilnTruth(t *testing.T) *netlist.Circuit {
	t.Helper()
	design, err := spice.Read("truth.sp", bytes.NewReader(kiln.Truth), spice.ReadOptions{Polarity: spice.PolarityByName})
	if err != nil {
		t.Fatal(err)
	}
	flat, err := netlist.Flatten(design, design.Circuit("die"))
	if err != nil {
		t.Fatal(err)
	}
	return flat
}
