package check_test

import (
	"context"
	"fmt"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/check"
)

const wellText = stackText + `
[[layer]]
name = "photo"
role = "mark"

[[layer]]
name = "nwell"
role = "well"

[[layer]]
name = "nplus"
role = "mark"

[[mos]]
model = "p"
type = "p"
where = ["nwell"]
bulk = "nwell"

[[tap]]
where = ["nplus", "nwell"]
ties = "nwell"

[[diode]]
model = "photodiode"
type = "n"
where = ["photo"]
to = "substrate"
`

// TestHealedDevices: two halves of a photodiode may become one; a bridge that ties a well, and so gives a transistor another
// bulk, is refused, whether or not the well has a tap; beside the tap's condition it is not.
func TestHealedDevices(t *testing.T) {
	st, err := stack.Parse("well.stack.toml", []byte(wellText))
	if err != nil {
		t.Fatal(err)
	}
	halves := []drawn{box("diffusion", 0, 0, 1000, 1000), box("diffusion", 1080, 0, 2000, 1000)}
	mos := append(halves, box("poly", 400, -300, 600, 1300), box("nwell", -1000, -1000, 9000, 3000))
	tap := []drawn{box("diffusion", 5000, 0, 6000, 1000), box("nplus", 4900, -100, 6100, 1100)}
	for _, tc := range []struct {
		name   string
		shapes []drawn
		closed bool
	}{
		{"photodiode", append(halves, box("photo", -100, -100, 3000, 1100)), true},
		{"untied well", mos, true},
		{"tied well", append(mos, tap...), true},
		{"bridge ties the untied well", append(mos, box("nplus", 1020, -100, 1060, 1100)), false},
		{"bridge ties the tied well", append(append(mos, tap...), box("nplus", 1020, -100, 1060, 1100)), false},
	} {
		bs := heal(t, library(t, st, tc.shapes...), st, check.HealOptions{ToleranceNm: 100})
		if len(bs) != 1 || bs[0].Why == "" != tc.closed {
			t.Errorf("%s: %+v, want it closed: %v", tc.name, bs, tc.closed)
		}
	}
}

// TestGatesAtTheRim: within the tolerance of the rim of the traced area nothing is said of gates; in its middle it is. Areas
// that abut make no rim. The tolerance is 100 nm.
func TestGatesAtTheRim(t *testing.T) {
	st := testStack(t)
	ends, short := []string{check.GateEndsInside}, []string{check.ShortEndCap}
	for _, tc := range []struct {
		name   string
		shapes []drawn
		rim    int // where the traced area of poly and diffusion ends on the right
		want   []string
	}{
		{"both end at the rim", []drawn{box("diffusion", 0, 0, 1000, 2000), box("poly", -500, 900, 1000, 1100)}, 1000, nil},
		{"both end far from it", []drawn{box("diffusion", 0, 0, 1000, 2000), box("poly", -500, 900, 1000, 1100)}, 1101, short},
		{"a cap cut by it", []drawn{box("diffusion", 0, 0, 970, 2000), box("poly", -500, 900, 1003, 1100)}, 1000, nil},
		{"the gate ends beyond", []drawn{box("diffusion", 0, 0, 1500, 2000), box("poly", -500, 900, 1010, 1100)}, 1000, nil},
		{"the gate ends inside", []drawn{box("diffusion", 0, 0, 1500, 2000), box("poly", -500, 900, 800, 1100)}, 1000, ends},
		{"the rim runs along the gate", []drawn{box("diffusion", 0, 0, 1000, 2000), box("poly", 800, -500, 1000, 2500)}, 1000, nil},
	} {
		for _, split := range []int{0, 300} {
			lib := library(t, st, tc.shapes...)
			for _, l := range []string{"poly", "diffusion"} {
				for _, r := range []geom.Rect{geom.Box(-5000, -5000, split, 5000), geom.Box(split, -5000, tc.rim, 5000)} {
					lib.Traced = append(lib.Traced, layout.Shape{Layer: layerOf(t, lib, l), Polygon: geom.Polygon{r.Ring()}})
				}
			}
			got, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100})
			if err != nil {
				t.Fatal(err)
			}
			var codes []string
			for _, f := range got {
				codes = append(codes, f.Code)
			}
			if fmt.Sprint(codes) != fmt.Sprint(tc.want) {
				t.Errorf("%s: %q, want %q", tc.name, codes, tc.want)
			}
		}
	}
}
