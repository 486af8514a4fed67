package plot

import (
	"image/color"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// colours are those of Okabe and Ito (Color Universal Design, 2008; values from memory), which people with any kind of
// colour vision tell apart; without yellow, which is hard to see on white. Darker ones first.
var colours = []color.NRGBA{
	{0x00, 0x72, 0xb2, 0xff}, // blue
	{0xd5, 0x5e, 0x00, 0xff}, // vermilion
	{0x00, 0x9e, 0x73, 0xff}, // bluish green
	{0xcc, 0x79, 0xa7, 0xff}, // reddish purple
	{0x00, 0x00, 0x00, 0xff}, // black
	{0xe6, 0x9f, 0x00, 0xff}, // orange
	{0x56, 0xb4, 0xe9, 0xff}, // sky blue
}

// dashes are as many; nil is a whole line. In points.
var dashes = [][]vg.Length{
	nil, {6, 3}, {1.5, 2}, {8, 2, 1.5, 2}, {12, 3}, {4, 2, 4, 5}, {8, 2, 1.5, 2, 1.5, 2},
}

// shapes mark the lines of a second, third … round of dashes.
var shapes = []draw.GlyphDrawer{
	draw.CircleGlyph{}, draw.SquareGlyph{}, draw.TriangleGlyph{}, draw.CrossGlyph{}, draw.RingGlyph{}, draw.PlusGlyph{}, draw.BoxGlyph{}, draw.PyramidGlyph{},
}

// look is how the i-th series of a panel looks. Dash and shape together are different for 63 series.
func look(i int) (line draw.LineStyle, shape draw.GlyphDrawer) {
	line = draw.LineStyle{Color: colours[i%len(colours)], Width: vg.Points(1.3), Dashes: dashes[i%len(dashes)]}
	if round := i / len(dashes); round > 0 {
		shape = shapes[(round-1)%len(shapes)]
	}
	return line, shape
}
