package sweep

import (
	"fmt"
	"slices"
	"testing"
)

// TestFacing: pieces by name, with their ends; "-" is none. What must come of them can be read off.
func TestFacing(t *testing.T) {
	type piece struct {
		name   string
		y0, y1 float64
	}
	a, b := []piece{{"A", 0, 10}, {"B", 10, 20}, {"C", 30, 40}}, []piece{{"p", -5, 4}, {"q", 15, 35}}
	for _, tc := range []struct {
		left, right []piece
		want        []string
	}{
		{a, b, []string{"- p -5 0", "A p 0 4", "A - 4 10", "B - 10 15", "B q 15 20", "- q 20 30", "C q 30 35", "C - 35 40"}},
		{a, nil, []string{"A - 0 10", "B - 10 20", "C - 30 40"}},
		{nil, b, []string{"- p -5 4", "- q 15 35"}},
		{a[:1], []piece{{"p", 0, 10}}, []string{"A p 0 10"}},
		{a[:1], []piece{{"flat", 3, 3}, {"p", 20, 21}}, []string{"A - 0 10", "- p 20 21"}},
		{nil, nil, nil},
	} {
		var got []string
		Facing(tc.left, tc.right, func(p *piece) (y0, y1 float64) { return p.y0, p.y1 }, func(l, r *piece, y0, y1 float64) {
			name := func(p *piece) string {
				if p.name == "" {
					return "-"
				}
				return p.name
			}
			got = append(got, fmt.Sprint(name(l), " ", name(r), " ", y0, " ", y1))
		})
		if !slices.Equal(got, tc.want) {
			t.Errorf("%v and %v: %q, want %q", tc.left, tc.right, got, tc.want)
		}
	}
}
