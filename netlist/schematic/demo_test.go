package schematic_test

import (
	"context"
	"testing"

	"github.com/rivo/uniseg"

	"undermetal/layout/stack"
	"undermetal/netlist/extract"
	"undermetal/netlist/schematic"
	"undermetal/testdata/kiln"
)

// TestDemo: the imager on its sheets, and its pixel, in which nothing is named.
func TestDemo(t *testing.T) {
	t.Parallel()
	st, err := stack.Parse("kiln.stack.toml", kiln.Stack)
	if err != nil {
		t.Fatal(err)
	}
	lib := kiln.Library()
	for _, name := range []string{"PIXEL", "IMAGER"} {
		res, err := extract.Run(context.Background(), lib, lib.Cell(name), st, extract.Options{})
		if err != nil {
			t.Fatal(err)
		}
		d := check(t, res.Circuit, schematic.Options{Title: name})
		if name == "PIXEL" {
			textbookPixel(t, d)
		}
	}
}

// textbookPixel wants the supply at the top of two transistors, the third one right below one of these, and the photodiode below the other.
func textbookPixel(t *testing.T, d *schematic.Drawing) {
	t.Helper()
	s := d.Sheets[0]
	supplies := map[schematic.Point]bool{}
	for _, f := range s.Flags {
		if f.Kind == schematic.SupplyFlag {
			supplies[schematic.Point{X: f.At.X}] = true
		}
	}
	below := 0
	for _, y := range s.Symbols {
		for _, z := range s.Symbols {
			if y.At.X == z.At.X && y.At.Y < z.At.Y && supplies[schematic.Point{X: y.At.X}] {
				below++
			}
		}
	}
	if len(supplies) != 2 || below != 2 {
		t.Errorf("%d supplies, %d parts below others", len(supplies), below)
	}
}

// TestLetters: the room for a text is as wide as its letters are in the widest of the fonts that a drawing names. DejaVu Sans Mono advances
// by 1233 of 2048 units (its table hmtx), Menlo, which is made from it, by the same; Consolas, Liberation Mono and Courier by less.
// Letters are 9 px high, a grid unit has 10 px.
func TestLetters(t *testing.T) {
	const advance = 0.9 * 1233 / 2048
	c := soup(11)
	c.Nets[0].Name, c.Nets[1].Name = "行選択<0>", "a name that is quite long, and then some more of it"
	d := check(t, c, schematic.Options{Title: "letters", InnerNames: true})
	seen := 0
	for _, s := range d.Sheets {
		fits := func(text string, room schematic.Box) {
			seen++
			if need := advance * float64(uniseg.StringWidth(text)); need > float64(room.Max.X-room.Min.X)+0.3 {
				t.Errorf("%q is %.2f wide, its room %v", text, need, room)
			}
		}
		for _, y := range s.Symbols {
			for _, x := range y.Text {
				fits(x.S, x.Room)
			}
		}
		for _, f := range s.Flags {
			if f.Side == schematic.Left || f.Side == schematic.Right {
				fits(f.Text, f.Room)
			}
		}
	}
	if seen < 10 {
		t.Errorf("%d texts", seen)
	}
}
