package svg

import (
	"bytes"
	"math/rand/v2"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// TestLetterHeights: by hand from the room that a letter takes, 1.1 heights by 0.62.
func TestLetterHeights(t *testing.T) {
	at := func(x, y int, text string) layout.Label {
		return layout.Label{At: geom.Point{X: x, Y: y}, Text: text}
	}
	for _, tc := range []struct {
		name   string
		labels []layout.Label
		want   []int
	}{
		{"alone", []layout.Label{at(0, 0, "VDD")}, []int{4000}},
		{"far from each other", []layout.Label{at(0, 0, "VDD"), at(0, 4401, "A")}, []int{4000, 4000}},
		{"one above the other", []layout.Label{at(0, 1100, "C"), at(0, 0, "AB")}, []int{1000, 1000}},
		{"beside: that on the left takes 4 letters and a half", []layout.Label{at(0, 0, "ABCD"), at(2790, 0, "a long name")}, []int{1000, 1000}},
		{"three: the nearest counts", []layout.Label{at(0, 0, "A"), at(0, 3300, "B"), at(0, 5500, "C")}, []int{3000, 2000, 2000}},
		{"at one place", []layout.Label{at(0, 0, "A"), at(0, 0, "B")}, []int{4000, 4000}},
		{"too near", []layout.Label{at(0, 0, "A"), at(0, 1, "B")}, []int{250, 250}},
	} {
		if got := letterHeights(tc.labels, 4000); !slices.Equal(got, tc.want) {
			t.Errorf("%s: %v, want %v", tc.name, got, tc.want)
		}
	}
}

// TestLettersApart: no two texts lie over each other, by the boxes that they take, unless they are as small as they get.
func TestLettersApart(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 50 {
		var labels []layout.Label
		for range 40 {
			labels = append(labels, layout.Label{At: geom.Point{X: r.IntN(100000), Y: r.IntN(100000)}, Text: "ABCDEFGH"[:1+r.IntN(8)]})
		}
		const most = 5000
		heights := letterHeights(labels, most)
		for i := range labels {
			for j := range i {
				a, b, h, k := labels[i], labels[j], float64(heights[i]), float64(heights[j])
				box := func(l layout.Label, h float64) (x0, x1, y0, y1 float64) {
					return float64(l.At.X), float64(l.At.X) + 0.6*h*float64(len(l.Text)), float64(l.At.Y), float64(l.At.Y) + h
				}
				ax0, ax1, ay0, ay1 := box(a, h)
				bx0, bx1, by0, by1 := box(b, k)
				if ax0 < bx1 && bx0 < ax1 && ay0 < by1 && by0 < ay1 && h > most/16 && k > most/16 {
					t.Fatalf("%v of height %g lies over %v of height %g", a, h, b, k)
				}
			}
		}
	}
}

// TestLetterHeightsMany: labels in one row and at one place are not all held against each other, which would take longer than a
// test may.
func TestLetterHeightsMany(t *testing.T) {
	const n = 400_000
	labels := make([]layout.Label, 2*n)
	for i := range n {
		labels[i] = layout.Label{At: geom.Point{X: i * 2000}, Text: "A"}
		labels[n+i] = layout.Label{At: geom.Point{X: -9000, Y: 20}, Text: "B"}
	}
	for i, h := range letterHeights(labels, 1000) {
		if h != 1000 {
			t.Fatalf("label %d: %d", i, h)
		}
	}
}

// TestTracedOrder: traced areas come first in the file, and change neither the order of layers nor what comes back.
func TestTracedOrder(t *testing.T) {
	top := &layout.Cell{Name: "TOP", Shapes: []layout.Shape{{Layer: 1, Polygon: triangle(0)}}}
	lib := &layout.Library{Layers: []string{"a", "b", "c"}, Cells: []*layout.Cell{top}, Traced: []layout.Shape{{Layer: 2, Polygon: triangle(5)}, {Layer: 0, Polygon: append(triangle(0), geom.Ring{{X: 10, Y: 10}, {X: 10, Y: 20}, {X: 20, Y: 10}})}}}
	var b bytes.Buffer
	if err := Write(&b, lib, nil, nil, nil); err != nil {
		t.Fatal(err)
	}
	d, err := Parse("test.svg", &b)
	if err != nil {
		t.Fatal(err)
	}
	back, rep, err := d.Library(Options{})
	if err != nil || len(rep.Notes) > 0 {
		t.Fatal(err, rep)
	}
	if diff := firstDifference(lib, back); diff != "" {
		t.Error(diff)
	}
	if rep.Layers[0].Areas != 1 || rep.Layers[2].Areas != 1 || rep.Layers[0].Wires+rep.Layers[2].Wires != 0 {
		t.Errorf("%+v", rep.Layers)
	}
}
