package stroke

import (
	"fmt"
	"testing"

	"undermetal/layout/geom"
)

// TestOutline: outlines by hand. What the pen covers is tested in layout/gds, with paths.
func TestOutline(t *testing.T) {
	line := func(xy ...int) (points []geom.Point) {
		for i := 0; i < len(xy); i += 2 {
			points = append(points, geom.Point{X: xy[i], Y: xy[i+1]})
		}
		return points
	}
	for _, tc := range []struct {
		name   string
		stroke Stroke
		want   string
	}{
		{"flush", Stroke{Line: line(0, 0, 100, 0), Width: 20}, "[[{0 -10} {100 -10} {100 10} {0 10}]] true"},
		{"half", Stroke{Line: line(0, 0, 0, 100), Width: 20, Ends: Half}, "[[{10 -10} {10 110} {-10 110} {-10 -10}]] true"},
		{"given", Stroke{Line: line(0, 0, 100, 0), Width: 20, Ends: Given, Begin: 5, End: -7}, "[[{-5 -10} {93 -10} {93 10} {-5 10}]] true"},
		{"mitre", Stroke{Line: line(0, 0, 100, 0, 100, 100), Width: 20}, "[[{0 -10} {110 -10} {110 100} {90 100} {90 10} {0 10}]] true"},
		{"odd: half a nanometre up", Stroke{Line: line(0, 0, 100, 0), Width: 5}, "[[{0 -2} {100 -2} {100 3} {0 3}]] true"},
		{"a dot", Stroke{Line: line(5, 5), Width: 20}, "[] true"},
		{"out of the frame", Stroke{Line: line(0, geom.Limit, 9, geom.Limit), Width: 2}, "[] false"},
	} {
		pg, inFrame := new(Pen).Outline(tc.stroke, nil)
		if got := fmt.Sprint(pg, inFrame); got != tc.want {
			t.Errorf("%s: %s, want %s", tc.name, got, tc.want)
		}
	}
}

func TestPoints(t *testing.T) {
	a, b, c := geom.Point{X: 1}, geom.Point{X: 2}, geom.Point{X: 3, Y: 1}
	if got := fmt.Sprint(Distinct([]geom.Point{a, a, b, a, a}), Closed([]geom.Point{a, a, b, a, a}), Closed([]geom.Point{a, a})); got != "[{1 0} {2 0} {1 0}] [{1 0} {2 0}] [{1 0}]" {
		t.Error(got)
	}
	if Covers([]geom.Point{a, b, a}) || !Covers([]geom.Point{a, b, c}) || Covers(nil) {
		t.Error("covers")
	}
}
