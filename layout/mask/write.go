package mask

import (
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// White is the usual colour of what a mask of one layer covers.
var White = Colour{255, 255, 255}

// Written says what was written.
type Written struct {
	Pixels []int // of each meaning, in order
	Hidden int   // pixels that several layers cover, counted once for each that is not seen
}

// bandBytes is about how much of a mask is painted at once; mostBand how many rows that is at most.
const (
	bandBytes = 16 << 20
	mostBand  = 1024
)

// Write writes a cell with all that it places as a PNG file: each pixel in the colour of the last of the meanings whose
// layer covers its centre, the rest in background. With two colours in all a pixel takes one bit. A layer that the library
// does not have is an error; labels and traced areas have no place in a mask.
//
// The drawing is gone through once for every band of rows, so memory goes with the width and not with the area.
func Write(out io.Writer, lib *layout.Library, top *layout.Cell, g Grid, background Colour, meanings []Meaning) (*Written, error) {
	flat, layers, err := check(lib, top, g, background, meanings)
	if err != nil {
		return nil, err
	}
	rows := min(max(bandBytes/g.Width, 1), mostBand, g.Height)
	p := &painter{flat: flat, layers: layers, palette: color.Palette{rgb(background)}, count: make([]int, len(meanings)+1)}
	p.band = band{grid: &g, pixels: make([]byte, rows*g.Width), crossings: make([][]crossing, rows)}
	for _, m := range meanings {
		p.palette = append(p.palette, rgb(m.Colour))
	}
	encoder := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := encoder.Encode(out, p); err != nil {
		return nil, err
	}
	return &Written{Pixels: p.count[1:], Hidden: p.band.hidden}, nil
}

func rgb(c Colour) color.Color { return color.RGBA{c[0], c[1], c[2], 255} }

func check(lib *layout.Library, top *layout.Cell, g Grid, background Colour, meanings []Meaning) (*layout.Flat, []layout.Layer, error) {
	switch {
	case !(g.NmPerPx >= 0.1 && g.NmPerPx <= 1e9) || !(math.Abs(g.Left) <= geom.Limit && math.Abs(g.Top) <= geom.Limit):
		return nil, nil, fault("", "give a pixel a size from 0.1 nm on, and a corner in the frame", "pixels of %g nm from (%.3f, %.3f) µm on", g.NmPerPx, g.Left/1e3, g.Top/1e3)
	case g.Width < 1 || g.Height < 1 || g.Width > shot.MaxSide || g.Height > shot.MaxSide:
		return nil, nil, fault("", "give a smaller region, or larger pixels", "a mask of %d × %d pixels; each side has 1 to %d", g.Width, g.Height, shot.MaxSide)
	case len(meanings) == 0 || len(meanings) > 255:
		return nil, nil, fault("", "name them", "a mask of %d layers; it has 1 to 255", len(meanings))
	}
	known := map[Colour]string{background: "the background"}
	var layers []layout.Layer
	for _, m := range meanings {
		if other, ok := known[m.Colour]; ok {
			return nil, nil, fault("", "give each a colour of its own", "layer %s has the colour %v of %s", m.Layer, m.Colour, other)
		}
		known[m.Colour] = "layer " + m.Layer
		l, ok := lib.LayerNamed(m.Layer)
		if !ok {
			return nil, nil, fault("", "name one of its layers", "layer %q, which the drawing does not have", m.Layer)
		}
		layers = append(layers, l)
	}
	if err := lib.CheckCycles(); err != nil {
		return nil, nil, fault("", "remove one of these placements", "%v", err)
	}
	if top == nil {
		top = &layout.Cell{}
		if tops := lib.Tops(); len(tops) > 0 {
			top = tops[0]
		}
	}
	flat, err := layout.Flatten(top)
	if err != nil {
		return nil, nil, fault("", "move the drawing nearer to the origin", "%v", err)
	}
	return flat, layers, nil
}

// painter is the picture that the encoder asks for pixels, row by row; it paints a band whenever a row of another one is
// wanted.
type painter struct {
	flat    *layout.Flat
	layers  []layout.Layer
	palette color.Palette
	band    band
	count   []int // pixels by value
}

func (p *painter) ColorModel() color.Model { return p.palette }

func (p *painter) Bounds() image.Rectangle {
	return image.Rect(0, 0, p.band.grid.Width, p.band.grid.Height)
}

func (p *painter) At(x, y int) color.Color { return p.palette[p.ColorIndexAt(x, y)] }

func (p *painter) ColorIndexAt(x, y int) uint8 {
	b := &p.band
	if y < b.first || y >= b.end {
		p.paint(y)
	}
	return b.pixels[(y-b.first)*b.grid.Width+x]
}

// paint paints the band that begins in a row.
func (p *painter) paint(row int) {
	b := &p.band
	b.first, b.end = row, min(row+len(b.crossings), b.grid.Height)
	clear(b.pixels)
	half := geom.RoundHalfUp(b.grid.NmPerPx) + 1
	box := geom.Rect{
		Min: geom.Point{X: int(b.grid.Left) - 1, Y: b.grid.centreY(b.end-1)/fineness - half},
		Max: geom.Point{X: b.grid.centreX(b.grid.Width-1)/fineness + half, Y: b.grid.centreY(b.first)/fineness + half},
	}
	var buf geom.Polygon
	for i, l := range p.layers {
		w := layout.Walk{Layers: 1 << l, Overlaps: box.Overlaps, Yield: func(s *layout.Placed) bool {
			if box.Overlaps(s.Transform.Bounds(s.Polygon.Bounds())) {
				buf = s.Transform.ApplyPolygonIn(buf, s.Polygon)
				b.paint(buf, byte(i+1))
			}
			return true
		}}
		w.Run(p.flat)
	}
	for _, v := range b.pixels[:(b.end-b.first)*b.grid.Width] {
		p.count[v]++
	}
}

func (g Grid) String() string {
	return fmt.Sprintf("%d × %d pixels of %g nm from (%.3f, %.3f) µm on", g.Width, g.Height, g.NmPerPx, g.Left/1e3, g.Top/1e3)
}
