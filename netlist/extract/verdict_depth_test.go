package extract_test

import (
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist/extract"
)

// answered is a cell with a verdict, placed once in a die with another one.
func answered(t *testing.T, shapes []layout.Shape, in, die layout.Verdict) drawn {
	cell := &layout.Cell{Name: "C", Shapes: shapes, Verdicts: []layout.Verdict{in}}
	top := &layout.Cell{Name: "TOP", Labels: endLabels(), Verdicts: []layout.Verdict{die}, Placements: []layout.Placement{{Cell: cell, Transform: geom.Identity}}}
	d := oneCell(kilnStack(t))
	d.lib.Cells, d.top = []*layout.Cell{top, cell}, top
	return d
}

// TestVerdictOfDieFirst: where a cell's verdict on a gap or a contact differs from the die's the die's counts, whichever comes
// first by place, and the cell's is said not to be used.
func TestVerdictOfDieFirst(t *testing.T) {
	gap := []layout.Shape{boxOn(metal1, 0, 0, 2000, 200), boxOn(metal1, 2300, 0, 5000, 200)}
	butted := []layout.Shape{boxOn(metal1, 0, 0, 200, 200), boxOn(contact, 0, 0, 200, 200), boxOn(poly, 0, 0, 100, 200), boxOn(diffusion, 100, 0, 200, 200),
		boxOn(metal1, 4800, 0, 5000, 200)}
	landsOn := func(r *extract.Result) (layers []layout.Layer) {
		for _, g := range r.Facts.Regions {
			if g.Contacts > 0 {
				layers = append(layers, g.Layer)
			}
		}
		return layers
	}
	for _, dx := range []int{-20, 20} {
		for _, tc := range []struct{ cell, die string }{{"joined", "apart"}, {"apart", "joined"}} {
			r := run(t, answered(t, gap, verdict(metal1, 2150, 100, "near-miss", tc.cell), verdict(metal1, 2150+dx, 100, "near-miss", tc.die)), extract.Options{})
			if joined := len(r.Circuit.Nets) == 1; joined != (tc.die == "joined") {
				t.Errorf("the die says %s: %d nets", tc.die, len(r.Circuit.Nets))
			}
			cellUnused(t, r)
		}
		for _, tc := range []struct {
			cell, die string
			want      []layout.Layer
		}{{"lands on poly", "lands on diffusion", []layout.Layer{diffusion}}, {"lands on diffusion", "lands on poly", []layout.Layer{poly}},
			{"lands on diffusion", "joins", []layout.Layer{poly, diffusion}}} {
			r := run(t, answered(t, butted, verdict(contact, 100, 100, "contact", tc.cell), verdict(contact, 100+dx, 100, "contact", tc.die)), extract.Options{Facts: true})
			if got := landsOn(r); !slices.Equal(slices.Sorted(slices.Values(got)), slices.Sorted(slices.Values(tc.want))) {
				t.Errorf("the die says %s: it lands on layers %v", tc.die, got)
			}
			cellUnused(t, r)
		}
	}
}

func cellUnused(t *testing.T, r *extract.Result) {
	t.Helper()
	for _, v := range r.Verdicts {
		if v.Lost || v.Unused != (v.Path != "") {
			t.Errorf("%+v", v)
		}
	}
	if n := len(slices.DeleteFunc(codes(r), func(c string) bool { return c != notUsed })); n != 1 || slices.Contains(codes(r), lost) {
		t.Errorf("%v", codes(r))
	}
}

// TestVerdictBesideContact: a contact that moved by less than 0.5 µm keeps its verdict, one further away loses it.
func TestVerdictBesideContact(t *testing.T) {
	shapes := []layout.Shape{boxOn(metal1, 0, 0, 200, 200), boxOn(contact, 0, 0, 200, 200), boxOn(poly, 0, 0, 100, 200), boxOn(diffusion, 100, 0, 200, 200)}
	for _, x := range []int{-480, 680, -520, 720} {
		r := run(t, decided(kilnStack(t), shapes, nil, verdict(contact, x, 100, "contact", "lands on poly")), extract.Options{Facts: true})
		far := x == -520 || x == 720
		if r.Verdicts[0].Lost != far || slices.Contains(codes(r), "butted-contact") != far {
			t.Errorf("at %d: %+v, %v", x, r.Verdicts[0], codes(r))
		}
	}
}
