package report

import (
	"math"
	"reflect"
	"strings"
	"testing"
)

// TestEmpty: a report without anything says what it must all the same.
func TestEmpty(t *testing.T) {
	got := written(t, &Report{Title: "nothing yet"})
	for _, want := range append([]string{"<title>nothing yet</title>", "1. Method and cautions"}, "hydrofluoric, nitric and sulfuric acid", "lasers", "legal advice", "safety data sheets") {
		if !strings.Contains(got, want) {
			t.Errorf("%q is missing", want)
		}
	}
	for _, never := range []string{"<script", "Photographs</h2>", "Netlist", "http://", "https://"} {
		if strings.Contains(got, never) {
			t.Errorf("%q is there", never)
		}
	}
}

// TestEveryText: every text of a report stands in the page, and none of them as markup.
func TestEveryText(t *testing.T) {
	r := full(t)
	const mark = "<b>&\"mark"
	n := fill(reflect.ValueOf(r), mark)
	got := written(t, r)
	if strings.Contains(got, "<b>") {
		t.Error("markup of a text got through")
	}
	if seen := strings.Count(got, "&lt;b&gt;&amp;"); seen < n/2 {
		t.Errorf("%d texts of %d are seen", seen, n)
	}
}

// TestPictures: what is no picture is an error, not a page that a browser shows half of.
func TestPictures(t *testing.T) {
	for _, data := range []string{"", "GIF89a", "<svg onload=alert(1)>", "\x89PNG\r\n\x1a\n"} {
		r := &Report{Shots: []Shot{{Name: "bare", Pictures: []Picture{{Data: []byte(data)}}}}}
		if err := r.Write(&strings.Builder{}); err == nil || !strings.Contains(err.Error(), "the photograph bare") {
			t.Errorf("%q: %v", data, err)
		}
	}
	r := &Report{Drawings: []Drawing{{"<html/>", "whole"}}}
	if err := r.Write(&strings.Builder{}); err == nil || !strings.Contains(err.Error(), `the drawing "whole"`) {
		t.Error(err)
	}
}

// TestNumbers: the number of a block stands inside its region, hole or not, and one for each piece.
func TestNumbers(t *testing.T) {
	square := func(x, y, w float64) [][2]float64 {
		return [][2]float64{{x, y}, {x + w, y}, {x + w, y + w}, {x, y + w}}
	}
	for name, rings := range map[string][][][2]float64{"square": {square(0, 0, 10)}, "frame": {square(0, 0, 100), square(10, 10, 80)}, "two": {square(0, 0, 10), square(20, 0, 10)},
		"island": {square(0, 0, 100), square(10, 10, 80), square(40, 40, 20)}, "L": {{{0, 0}, {100, 0}, {100, 10}, {10, 10}, {10, 100}, {0, 100}}}} {
		outer := 0
		for _, r := range rings {
			at, ok := inside(rings, r)
			if !ok {
				continue
			}
			outer++
			n := 0
			for _, x := range crossings(rings, at[1]) {
				if x < at[0] {
					n++
				}
			}
			if n%2 == 0 {
				t.Errorf("%s: %v is outside", name, at)
			}
		}
		if want := map[string]int{"square": 1, "frame": 1, "two": 2, "island": 2, "L": 1}[name]; outer != want {
			t.Errorf("%s: %d numbers, want %d", name, outer, want)
		}
	}
	// A photograph of 10 × 10 px; the second block lies left of and above it. From -50 to 10 are 60 px, with a margin of an eightieth on
	// either side 61.5, which are 800 of the drawing: -50.75 is at -660.2 there, -20.75 at -269.9.
	beyond := &BlockMap{Width: 10, Height: 10, Blocks: []Block{{Name: "in", Rings: [][][2]float64{square(1, 1, 5)}}, {Name: "out", Rings: [][][2]float64{square(-50, -20, 10)}}}}
	if !beyond.Beyond() || !strings.Contains(beyond.drawing(), `viewBox="-660.2 -269.9 800 `) {
		t.Errorf("%.300s", beyond.drawing())
	}
	if within := (&BlockMap{Width: 10, Height: 10, Blocks: beyond.Blocks[:1]}); within.Beyond() || !strings.Contains(within.drawing(), `viewBox="0.0 0.0 800 800.0"`) {
		t.Errorf("%.300s", within.drawing())
	}
	bad := &BlockMap{Width: 10, Height: 10, Blocks: []Block{{Rings: [][][2]float64{{{math.NaN(), 0}, {math.Inf(1), 3}, {1, 2}}}}}}
	if bad.drawing() != "" {
		t.Error("a region of no numbers is drawn")
	}
}
