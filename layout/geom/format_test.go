package geom

import (
	"math"
	"testing"
)

func TestAppendUm(t *testing.T) {
	for _, tc := range []struct {
		nm   int
		want string
	}{{0, "0"}, {1, "0.001"}, {-1, "-0.001"}, {1250, "1.25"}, {-70, "-0.07"}, {1000, "1"}, {-1073741824, "-1073741.824"},
		{math.MinInt64, "-9223372036854775.808"}} {
		if got := string(AppendUm(nil, tc.nm)); got != tc.want {
			t.Errorf("%d nm is %q, want %q", tc.nm, got, tc.want)
		}
	}
}

func TestFromMatrix(t *testing.T) {
	for _, tc := range []struct {
		name string
		m    [6]float64
		ok   bool
	}{
		{"identity", [6]float64{1, 0, 0, 1, 0, 0}, true},
		{"mirrored, turned and moved", [6]float64{0, 2, 2, 0, 5, -7}, true},
		{"3-4-5", [6]float64{0.6, -0.8, 0.8, 0.6, 0.5, 0}, true},
		{"sheared", [6]float64{1, 0.001, 0, 1, 0, 0}, false},
		{"stretched", [6]float64{1, 0, 0, 1.001, 0, 0}, false},
		{"nothing", [6]float64{}, false},
		{"not finite", [6]float64{1, 0, 0, 1, math.Inf(1), 0}, false},
	} {
		m := tc.m
		got, ok := FromMatrix(m[0], m[1], m[2], m[3], m[4], m[5])
		if ok != tc.ok {
			t.Errorf("%s: %t, want %t", tc.name, ok, tc.ok)
		}
		var back [6]float64
		back[0], back[1], back[2], back[3], back[4], back[5] = got.Matrix()
		if ok && back != m {
			t.Errorf("%s: back as %v", tc.name, back)
		}
	}
	want := NewTransform(true, 1.5, 30, Point{3, 4})
	if got, ok := FromMatrix(want.Matrix()); !ok || got != want {
		t.Errorf("%v, want %v", got, want)
	}
}
