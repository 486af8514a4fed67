package check_test

import (
	"context"
	"slices"
	"testing"

	"undermetal/layout/stack"
	"undermetal/netlist/check"
)

// TestCapacitor: where a rule lets the diffusion pass beneath the gate, there is no gate to end inside.
func TestCapacitor(t *testing.T) {
	text := stackText + `
[[layer]]
name = "capmark"
role = "mark"

[[capacitor]]
model  = "cap"
plates = ["poly", "diffusion"]
where  = ["capmark"]
`
	st, err := stack.Parse("test.stack.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	for marked, want := range map[bool]int{false: 1, true: 0} {
		lib := library(t, st, box("diffusion", 0, 0, 3000, 3000), box("poly", 1000, 1000, 2000, 2000))
		if marked {
			lib.Cells[0].Shapes = append(lib.Cells[0].Shapes, library(t, st, box("capmark", -100, -100, 3100, 3100)).Cells[0].Shapes...)
		}
		fs, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100})
		if err != nil || len(fs) != want {
			t.Errorf("marked %v: %v %q", marked, err, short(st, fs))
		}
	}
}

// TestResistor: two strips that a rule makes resistors of are as near to each other as any, and a meander's legs are one piece.
func TestResistor(t *testing.T) {
	st, err := stack.Parse("test.stack.toml", []byte(stackText+`
[[layer]]
name = "resmark"
role = "mark"

[[resistor]]
model = "rm"
body  = "metal1"
where = ["resmark"]
`))
	if err != nil {
		t.Fatal(err)
	}
	lib := library(t, st, box("metal1", 0, 0, 9000, 500), box("metal1", 0, 580, 9000, 1000), box("resmark", 1000, -100, 8000, 1100),
		ring("metal1", 0, 3000, 9000, 3000, 9000, 4000, 0, 4000, 0, 3540, 8500, 3540, 8500, 3460, 0, 3460), box("resmark", 1000, 2900, 9100, 4100))
	fs, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100})
	if got := short(st, fs); err != nil || !slices.Equal(got, []string{"near-miss metal1 4500,500 80"}) {
		t.Errorf("%v %q", err, got)
	}
}
