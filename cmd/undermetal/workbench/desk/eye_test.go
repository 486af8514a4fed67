package desk

import "testing"

// TestPanesShowAll: a photograph that was seen whole is seen whole where the picture becomes narrower, and again where it does not.
func TestPanesShowAll(t *testing.T) {
	b := open(t, create(t, "stripped", "metal"), Options{})
	defer b.close()
	whole := func(when string) {
		t.Helper()
		box := b.photos[b.base].shown.Box()
		for i, p := range b.Panes()[:1] {
			v := p.Scene.View
			x0, y1 := v.ToScreen(vec(box.Min))
			x1, y0 := v.ToScreen(vec(box.Max))
			if x0 < 0 || y0 < 0 || x1 > float64(v.Width) || y1 > float64(v.Height) {
				t.Errorf("%s: pane %d of %d × %d px shows %.0f to %.0f, %.0f to %.0f", when, i, v.Width, v.Height, x0, x1, y0, y1)
			}
		}
	}
	whole("first")
	scale := b.Scene().View.NmPerPx
	b.keys("2")
	whole("side by side")
	b.keys("1")
	if k := b.Scene().View.NmPerPx; k != scale {
		t.Errorf("%g nm a px, and before %g", k, scale)
	}
	b.Resize(200, 480, 1, 100, 40)
	whole("narrow")
	b.keys("+")
	scale = b.Scene().View.NmPerPx
	b.keys("2", "1")
	if k := b.Scene().View.NmPerPx; k != scale {
		t.Errorf("magnified, %g nm a px, and before %g", k, scale)
	}
}

// TestPerPx: from whole dies to parts of a pixel, without powers of ten.
func TestPerPx(t *testing.T) {
	for nm, want := range map[float64]string{0.125: "0.125 nm/px", 16.5: "16.5 nm/px", 999.4: "999 nm/px", 2207: "2.21 µm/px", 99_999: "100 µm/px", 999.9: "1 µm/px"} {
		if got := perPx(nm); got != want {
			t.Errorf("%g nm a px is written as %s, want %s", nm, got, want)
		}
	}
}
