package extract_test

import (
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// TestVerdictBulk: a well, or a substrate, that is drawn and that nothing ties takes the net of a verdict; a tied one does not.
func TestVerdictBulk(t *testing.T) {
	st := kilnStack(t)
	labels := []layout.Label{name(poly, 450, -50, "G"), name(diffusion, 100, 100, "S"), name(diffusion, 800, 100, "D"), name(metal1, 3050, 100, "V")}
	channel := []layout.Shape{boxOn(diffusion, 0, 0, 900, 400), boxOn(poly, 400, -100, 500, 500)}
	inWell := append(slices.Clone(channel), boxOn(nwell, -500, -500, 4000, 1000), boxOn(pplus, -50, -50, 950, 450))
	tap := []layout.Shape{boxOn(diffusion, 3000, 0, 3400, 400), boxOn(contact, 3100, 100, 3200, 200), boxOn(metal1, 3000, 0, 3400, 400)}
	bulk := func(r *extract.Result) string {
		return r.Circuit.Nets[r.Circuit.Devices[0].Terminals[netlist.Bulk]].Name
	}
	for _, tc := range []struct {
		what   string
		shapes []layout.Shape
		at     layout.Verdict
	}{
		{"at the channel of a well", inWell, verdict(poly, 450, 100, "bulk", "S")},
		{"at the well", inWell, verdict(nwell, 2000, 800, "bulk", "S")},
		{"at a channel on the substrate", channel, verdict(poly, 450, 100, "bulk", "S")},
	} {
		if b := bulk(run(t, decided(st, tc.shapes, labels), extract.Options{})); b == "S" {
			t.Errorf("%s: bulk %s without a verdict", tc.what, b)
		}
		res := run(t, decided(st, tc.shapes, labels, tc.at), extract.Options{})
		if u := res.Verdicts[0]; bulk(res) != "S" || u.Lost || u.Unused || !slices.Equal(u.Devices, []int{0}) || slices.Contains(codes(res), "bulk-unknown") {
			t.Errorf("%s: bulk %s, %+v, %v", tc.what, bulk(res), u, codes(res))
		}
	}
	// Who answers for one answers for all in the body.
	var two []layout.Shape
	for _, x := range []int{0, 2000} {
		two = append(two, boxOn(diffusion, x, 0, x+900, 400), boxOn(poly, x+400, -100, x+500, 500), boxOn(pplus, x-50, -50, x+950, 450))
	}
	two = append(two, boxOn(nwell, -500, -500, 4000, 1000))
	both := run(t, decided(st, two, labels, verdict(poly, 450, 100, "bulk", "S")), extract.Options{})
	for i := range both.Circuit.Devices {
		if b := both.Circuit.Nets[both.Circuit.Devices[i].Terminals[netlist.Bulk]].Name; b != "S" || len(both.Circuit.Devices) != 2 {
			t.Errorf("of two in a well number %d has the bulk %s", i, b)
		}
	}
	// Of equal answers in one body the first decides all of it, the others what is theirs: n answers do not list n² devices.
	both = run(t, decided(st, two, labels, verdict(poly, 450, 100, "bulk", "S"), verdict(poly, 2450, 100, "bulk", "S")), extract.Options{})
	if v := both.Verdicts; !slices.Equal(v[0].Devices, []int{0, 1}) || !slices.Equal(v[1].Devices, []int{1}) || v[1].Lost || v[1].Unused {
		t.Errorf("two answers: %+v", v)
	}
	both = run(t, decided(st, two, labels, verdict(poly, 450, 100, "bulk", "S"), verdict(poly, 2450, 100, "bulk", "D")), extract.Options{})
	if v := both.Verdicts; v[0].Unused || !v[1].Unused || bulk(both) != "S" {
		t.Errorf("two different answers: %+v", v)
	}
	res := run(t, decided(st, append(inWell, tap...), labels, verdict(poly, 450, 100, "bulk", "S")), extract.Options{})
	if bulk(res) != "V" || !res.Verdicts[0].Lost {
		t.Errorf("a tied well: bulk %s, %+v", bulk(res), res.Verdicts[0])
	}
}
