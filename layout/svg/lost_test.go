package svg

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"undermetal/layout/geom"
)

// left refuses all that lies right of x = 10.
func left(p geom.Vec) error {
	if p.X > 10 {
		return fmt.Errorf("(%g, %g) lies too far right", p.X, p.Y)
	}
	return nil
}

// All elements that lie where nothing may be are told at once, the first few of many one by one.
func TestLost(t *testing.T) {
	rects := strings.Repeat("\n<rect x=\"20\" width=\"1\" height=\"1\"/>", 14)
	d := mustParse(t, "<svg><text>A</text><rect width=\"10\" height=\"1\"/>"+rects+"\n</svg>")
	_, _, err := d.Library(Options{Place: d.PlaceUm(1), Within: left, Default: "m"})
	lines := []string{"test.svg:2:1: rect: (20, 0) lies too far right"}
	for i := 3; i < 14; i++ {
		lines = append(lines, fmt.Sprintf("    line %d, rect: (20, 0) lies too far right", i))
	}
	lines = append(lines, "    and 2 elements more", "    move it to where it can be, or take it out of the drawing")
	if want := strings.Join(lines, "\n"); err == nil || err.Error() != want {
		t.Errorf("%v\nwant %s", err, want)
	}
	var e *Error
	if !errors.As(err, &e) || e.Line != 2 {
		t.Errorf("%#v", err)
	}
	if err := WithRules(err, "RULE"); !strings.HasSuffix(err.Error(), "\n    move it to where it can be, or leave it out by a rule, as in RULE") {
		t.Error(err)
	}
	if other := d.fail(nil, correct, "other"); WithRules(other, "RULE") != other || e.Remedy == correct || !strings.HasSuffix(other.Error(), correct) {
		t.Error(other)
	}
	d = mustParse(t, `<svg><text x="11">A</text></svg>`)
	if _, _, err := d.Library(Options{Place: d.PlaceUm(1), Within: left, Default: "m"}); err == nil || err.Error() != "test.svg:1:6: text: (11, 0) lies too far right\n    move it to where it can be, or take it out of the drawing" {
		t.Error(err)
	}
}

// What nothing else gives a layer goes where Default says, after rules and groups.
func TestDefaultLayer(t *testing.T) {
	d := mustParse(t, `<svg><rect width="1" height="1"/><rect width="1" height="1" fill="red"/><g id="poly"><rect width="1" height="1"/></g><rect width="1" height="1" fill="lime"/></svg>`)
	_, rep, err := d.Library(Options{Place: d.PlaceUm(1), Layers: []string{"poly", "metal1", "via1"}, Rules: rules(t, "red=metal1", "lime="), Default: "via1"})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []int{1, 1, 1} {
		if rep.Layers[i].Polygons != want {
			t.Errorf("%+v, want one each", rep.Layers)
		}
	}
	if _, _, err := d.Library(Options{Place: d.PlaceUm(1), Layers: []string{"poly"}, Default: "m"}); err == nil || err.Error() != "there is no layer \"m\"\n    there are poly" {
		t.Error(err)
	}
}
