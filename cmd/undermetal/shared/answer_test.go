package shared

import (
	"slices"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/recognise/question"
)

func kept(id, cell int64, x int, used ...int) Kept {
	return Kept{Verdict: dossier.Verdict{ID: id, Cell: cell, Layer: "poly", At: geom.Point{X: x}, Kind: "kind", Reading: "old"}, Used: used}
}

// TestAnswering: a question with two places, the first in cell 7, the second in the die, whatever is kept for them already.
func TestAnswering(t *testing.T) {
	const die, cell = dossier.Frame, 7
	anchors := []dossier.Verdict{kept(0, cell, 10).Verdict, kept(0, die, 20).Verdict}
	open := question.Question{Kind: "kind", By: -1, Places: []question.Place{{}, {}}}
	answered := question.Question{Kind: "kind", By: 0, Places: []question.Place{{By: []int{0}}, {By: []int{1}}}}
	type stored struct {
		id, cell int64
		x        int
	}
	for _, x := range []struct {
		name      string
		q         question.Question
		kept      []Kept
		here      bool
		want      []stored
		remove    []int64
		was       string
		withdrawn []int64
	}{
		{"nothing", open, []Kept{kept(1, 5, 10), kept(2, cell, 11)}, false, []stored{{0, cell, 10}, {0, die, 20}}, nil, "", nil},
		{"one does nothing at its place", open, []Kept{kept(1, die, 20)}, false, []stored{{1, die, 20}, {0, cell, 10}}, nil, "old", []int64{1}},
		{"both, one of them elsewhere", answered, []Kept{kept(1, 5, 99, 0), kept(2, die, 20, 1)}, false, []stored{{1, 5, 99}, {2, die, 20}}, nil, "old", []int64{1, 2}},
		{"one twice", answered, []Kept{kept(1, cell, 10, 0), kept(2, die, 20, 1), kept(3, cell, 10, 0)}, false, []stored{{1, cell, 10}, {2, die, 20}}, []int64{3}, "old", []int64{1, 2, 3}},
		{"one that settles, for all", answered, []Kept{kept(1, 5, 99, 0, 1)}, false, []stored{{1, 5, 99}}, nil, "old", []int64{1}},
		{"here, in another cell than before", answered, []Kept{kept(1, cell, 10, 0), kept(2, die, 20, 1)}, true, []stored{{0, die, 10}}, nil, "old", []int64{1, 2}},
		{"here, in the same", answered, []Kept{kept(1, die, 10, 0), kept(2, die, 20, 1)}, true, []stored{{1, die, 10}}, nil, "old", []int64{1, 2}},
	} {
		at := anchors
		if x.here {
			at = []dossier.Verdict{kept(0, die, 10).Verdict}
		}
		var a Answering
		set, was := a.Answer(&x.q, "new", "remark", at, x.kept, x.here)
		var got []stored
		for _, v := range set {
			got = append(got, stored{v.ID, v.Cell, v.At.X})
			if v.Reading != "new" || v.Note != "remark" || v.Kind != "kind" || v.Layer != "poly" {
				t.Errorf("%s: %+v", x.name, v)
			}
		}
		if !slices.Equal(got, x.want) || !slices.Equal(a.Remove, x.remove) || was != x.was || len(a.Set) != len(set) {
			t.Errorf("%s: stored %v, removed %v, was %q; want %v, %v, %q", x.name, got, a.Remove, was, x.want, x.remove, x.was)
		}
		a = Answering{}
		if n := len(a.Withdraw(&x.q, anchors, x.kept)); !slices.Equal(a.Remove, x.withdrawn) || n != len(x.withdrawn) {
			t.Errorf("%s: taken back are %v, want %v", x.name, a.Remove, x.withdrawn)
		}
	}
}
