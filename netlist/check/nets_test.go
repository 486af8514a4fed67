package check_test

import (
	"context"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist/check"
)

// TestNearMissNets: a near miss names the nets on both sides, and says whether one of them leads nowhere.
func TestNearMissNets(t *testing.T) {
	st := testStack(t)
	for _, tc := range []struct {
		name   string
		labels map[int]string // by x
		nets   [2]string
		dead   bool
	}{
		{"two labels", map[int]string{100: "A", 1900: "B"}, [2]string{"A", "B"}, false},
		{"one label twice", map[int]string{100: "A", 1900: "A"}, [2]string{"A", "A"}, false},
		{"one label", map[int]string{1900: "B"}, [2]string{"", "B"}, true},
		{"none", nil, [2]string{}, true},
	} {
		lib := library(t, st, box("metal1", 0, 0, 1000, 500), box("metal1", 1080, 0, 2000, 500))
		metal, _ := st.LayerNamed("metal1")
		for x, name := range tc.labels {
			lib.Cells[0].Labels = append(lib.Cells[0].Labels, layout.Label{Layer: metal, At: geom.Point{X: x, Y: 100}, Text: name})
		}
		fs, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100})
		fs = slices.DeleteFunc(fs, func(f check.Finding) bool { return f.Code != check.NearMiss }) // equal labels are told of, too
		if err != nil || len(fs) != 1 || fs[0].Nets != tc.nets || fs[0].Dead != tc.dead {
			t.Errorf("%s: %+v, %v; want nets %q, dead %v", tc.name, fs, err, tc.nets, tc.dead)
		}
	}
	lib := library(t, st, box("metal1", 0, 0, 1000, 500))
	if fs, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100}); err != nil || fs == nil || len(fs) > 0 {
		t.Errorf("nothing to find: %v, %v, want an empty list", fs, err)
	}
}
