package glyph

// Colours 16 to 231 of a terminal's palette are a cube of six steps a channel, 232 to 255 greys. Source: ctlseqs and the
// palette of xterm, from memory; the same in all terminals that have 256 colours (common practice). Those below 16 are the
// user's own.
var steps = [6]uint8{0, 95, 135, 175, 215, 255}

// Palette returns the colour of a number from 16 on; of those before, which are the user's own, black.
func Palette(i uint8) RGB {
	switch {
	case i >= 232:
		v := 8 + 10*(i-232)
		return RGB{v, v, v}
	case i >= 16:
		i -= 16
		return RGB{steps[i/36], steps[i/6%6], steps[i%6]}
	}
	return RGB{}
}

// nearestStep is the number of the nearest step to each value.
var nearestStep = func() (all [256]uint8) {
	for v := range all {
		for i, s := range steps {
			if distance(uint8(v), s) < distance(uint8(v), steps[all[v]]) {
				all[v] = uint8(i)
			}
		}
	}
	return all
}()

func distance(a, b uint8) int {
	d := int(a) - int(b)
	return d * d
}

// Nearest returns the number of the nearest colour of the palette, by squared differences: the cube's nearest is that of
// each channel, the grey's that of their mean.
func Nearest(c RGB) uint8 {
	cube := 16 + 36*nearestStep[c[0]] + 6*nearestStep[c[1]] + nearestStep[c[2]]
	mean := (int(c[0]) + int(c[1]) + int(c[2])) / 3
	grey := uint8(232 + max(0, min(23, (mean-3)/10)))
	if apart(c, Palette(grey)) < apart(c, Palette(cube)) {
		return grey
	}
	return cube
}

func apart(a, b RGB) int { return distance(a[0], b[0]) + distance(a[1], b[1]) + distance(a[2], b[2]) }

// index gives the cells colours of the palette.
func (g *Grid) index() {
	for i := range g.Cells {
		c := &g.Cells[i]
		same := c.FG == c.BG
		c.BGIndex = Nearest(c.BG)
		c.FGIndex = c.BGIndex
		if !same {
			c.FGIndex = Nearest(c.FG)
		}
		c.FG, c.BG = Palette(c.FGIndex), Palette(c.BGIndex)
	}
}
