package desk

import (
	"fmt"

	"undermetal/layout/geom"
)

// byKeys draws with keys alone.
type byKeys struct{}

func (byKeys) to(b *bench, v geom.Vec) { b.steerAs(inStripped(v), b.px()/1000, false) }

func (h byKeys) outline(b *bench, layer string, corners []geom.Vec) {
	b.keys(":layer " + layer)
	switch {
	case layer == "contact" || layer == "via1":
		a, c := corners[0], corners[2]
		b.keys(fmt.Sprintf(":size %g,%g", (c.X-a.X)/1000, (c.Y-a.Y)/1000), "c")
		h.to(b, geom.Vec{X: (a.X + c.X) / 2, Y: (a.Y + c.Y) / 2})
		b.keys("Space", "Esc")
	case len(corners) == 4:
		b.keys("r")
		h.to(b, corners[0])
		b.keys("Space")
		h.to(b, corners[2])
		b.keys("Space", "Esc")
	default:
		b.keys("p")
		for _, v := range corners {
			h.to(b, v)
			b.keys("Space")
		}
		b.keys("Enter", "Esc")
	}
}

func (h byKeys) wire(b *bench, layer string, from, to geom.Vec, width float64) {
	b.keys(":layer "+layer, fmt.Sprintf(":width %g", width/1000), "w")
	h.to(b, from)
	b.keys("Space")
	h.to(b, to)
	b.keys("Space", "Enter", "Esc")
}

func (h byKeys) label(b *bench, layer, text string, at geom.Vec) {
	b.keys(":layer "+layer, "5")
	h.to(b, at)
	b.keys("l")
	for _, r := range text {
		b.Key(Key{Rune: r})
	}
	b.keys("Enter", "3")
}

// byMouse draws with the mouse; keys only choose what.
type byMouse struct{}

func (byMouse) px(b *bench, v geom.Vec) (x, y float64) {
	return b.Scene().View.ToScreen(inStripped(v).Scale(1000))
}

func (h byMouse) click(b *bench, v geom.Vec) {
	x, y := h.px(b, v)
	b.Mouse(Mouse{X: x, Y: y})
	b.Mouse(Mouse{X: x, Y: y, Kind: Press, Button: Left})
	b.Mouse(Mouse{X: x, Y: y, Kind: Release, Button: Left})
}

func (h byMouse) outline(b *bench, layer string, corners []geom.Vec) {
	b.keys(":layer " + layer)
	if len(corners) == 4 {
		b.keys("r")
		x0, y0 := h.px(b, corners[0])
		x1, y1 := h.px(b, corners[2])
		b.Mouse(Mouse{X: x0, Y: y0, Kind: Press, Button: Left})
		b.Mouse(Mouse{X: (x0 + x1) / 2, Y: y0, Kind: Drag, Button: Left})
		b.Mouse(Mouse{X: x1, Y: y1, Kind: Drag, Button: Left})
		b.Mouse(Mouse{X: x1, Y: y1, Kind: Release, Button: Left})
		b.keys("Esc")
		return
	}
	b.keys("p")
	for _, v := range corners {
		h.click(b, v)
	}
	b.Mouse(Mouse{Kind: Press, Button: Right})
	b.Mouse(Mouse{Kind: Release, Button: Right})
	b.keys("Esc")
}

func (h byMouse) wire(b *bench, layer string, from, to geom.Vec, width float64) {
	b.keys(":layer "+layer, fmt.Sprintf(":width %g", width/1000), "w")
	h.click(b, from)
	h.click(b, to)
	b.Mouse(Mouse{Kind: Press, Button: Right})
	b.Mouse(Mouse{Kind: Release, Button: Right})
	b.keys("Esc")
}

func (h byMouse) label(b *bench, layer, text string, at geom.Vec) {
	b.keys(":layer " + layer)
	x, y := h.px(b, at)
	b.Mouse(Mouse{X: x, Y: y})
	b.keys(":label " + text)
}
