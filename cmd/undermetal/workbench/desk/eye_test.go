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
