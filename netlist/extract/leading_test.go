package extract_test

import (
	"reflect"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// TestLeading: a leading reading is followed as a verdict is, but is none: what somebody has said goes before it, nobody is warned, and
// it is listed apart.
func TestLeading(t *testing.T) {
	st := kilnStack(t)
	d := decided(st, unknownGate(0), []layout.Label{name(poly, 450, 900, "G")})
	before := run(t, d, extract.Options{})
	lead := func(readings ...string) extract.Options {
		var opt extract.Options
		for _, r := range readings {
			opt.Leading = append(opt.Leading, verdict(poly, 450, 100, "polarity", r))
		}
		return opt
	}
	res := run(t, d, lead("p"))
	if res.Circuit.Devices[0].Kind != netlist.PMOS || len(res.Verdicts) != 0 || len(res.Leading) != 1 || !slices.Equal(res.Leading[0].Devices, []int{0}) || res.Leading[0].Unused {
		t.Errorf("%q, %+v", deviceLines(res), res.Leading)
	}
	if want := run(t, decided(st, unknownGate(0), d.top.Labels, verdict(poly, 450, 100, "polarity", "p")), extract.Options{}); !reflect.DeepEqual(res.Circuit, want.Circuit) {
		t.Errorf("%q, by a verdict %q", deviceLines(res), deviceLines(want))
	}
	res = run(t, decided(st, unknownGate(0), d.top.Labels, verdict(poly, 450, 100, "polarity", "n")), lead("p"))
	if res.Circuit.Devices[0].Kind != netlist.NMOS || !res.Leading[0].Unused || res.Verdicts[0].Unused || slices.Contains(codes(res), notUsed) {
		t.Errorf("against a verdict: %q, %+v, %v", deviceLines(res), res.Leading, codes(res))
	}
	opt := lead("p")
	opt.Leading[0].At.X = 100000
	if res = run(t, d, opt); !reflect.DeepEqual(res.Circuit, before.Circuit) || !reflect.DeepEqual(res.Warnings, before.Warnings) || !res.Leading[0].Lost {
		t.Errorf("on nothing: %q, %v", deviceLines(res), res.Warnings)
	}
}

// TestLeadingDiode: "junction" by a verdict keeps a leading "photodiode" from making a diode.
func TestLeadingDiode(t *testing.T) {
	st := kilnStack(t)
	shapes := []layout.Shape{boxOn(diffusion, 0, 0, 4000, 3000), boxOn(diffusion, 4000, 0, 4900, 400), boxOn(poly, 4400, -100, 4500, 500)}
	opt := extract.Options{Leading: []layout.Verdict{verdict(diffusion, 2000, 1000, "photodiode", "photodiode")}}
	for reading, want := range map[string]int{"": 1, "junction": 0} {
		var said []layout.Verdict
		if reading != "" {
			said = append(said, verdict(diffusion, 100, 100, "photodiode", reading))
		}
		res := run(t, decided(st, shapes, nil, said...), opt)
		diodes := 0
		for _, d := range res.Circuit.Devices {
			if d.Kind == netlist.Diode {
				diodes++
			}
		}
		if diodes != want || slices.Contains(codes(res), notUsed) {
			t.Errorf("%q: %q, %v", reading, deviceLines(res), res.Warnings)
		}
	}
}
