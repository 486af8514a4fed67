package glyph

import (
	"image"

	"undermetal/cmd/undermetal/workbench/view"
)

// Blocks says into what a cell is divided.
type Blocks int

// What a cell is divided into.
const (
	Quadrants Blocks = iota // 2 × 2; Unicode 1.0 and 3.2: every font for terminals has them
	Halves                  // 1 × 2
	Sextants                // 2 × 3; Unicode 13: where the font, or the terminal itself, has them
)

// Colours says what colours a cell has.
type Colours int

// The colours that terminals have.
const (
	True    Colours = iota // 24 bits
	Indexed                // 256, the upper 240 of which are the same everywhere
	Mono                   // none: what the terminal writes with, and what it writes on
)

// Style is what a terminal can show.
type Style struct {
	Blocks  Blocks
	Colours Colours
	ASCII   bool // without colours, in characters of ASCII; Blocks and Colours do not count
}

// Size returns how many px make a cell.
func (s Style) Size() (width, height int) {
	switch {
	case s.mono() || s.Blocks == Halves:
		return 1, 2
	case s.Blocks == Sextants:
		return 2, 3
	}
	return 2, 2
}

func (s Style) mono() bool { return s.ASCII || s.Colours == Mono }

// Aspect returns how many times as high as wide a px is, for view.View, in a terminal whose cells have such sides; 0 × 0
// where nobody knows: twice as high as wide then, which is common practice.
func (s Style) Aspect(cellWidth, cellHeight int) float64 {
	if cellWidth <= 0 || cellHeight <= 0 {
		cellWidth, cellHeight = 1, 2
	}
	w, h := s.Size()
	return view.AspectOf(float64(cellWidth), float64(cellHeight), w, h)
}

// RGB is a colour, red first.
type RGB [3]uint8

// Cell is what one cell of the terminal shows.
type Cell struct {
	Rune   rune
	FG, BG RGB // in a style without colours neither counts
	// Of Indexed, the numbers of the two colours in the terminal's palette, 16 to 255. FG and BG are what they look like.
	FGIndex, BGIndex uint8
}

// Grid is what a part of the terminal shows, row by row from the top.
type Grid struct {
	Columns, Rows int
	Cells         []Cell
}

// At returns a cell.
func (g *Grid) At(column, row int) *Cell { return &g.Cells[row*g.Columns+column] }

// Fit fills g with the cells nearest to a picture, in its memory where there is room. What is left of the picture at the
// right and below, less than a cell, is not shown. What is transparent counts as black.
func (g *Grid) Fit(img *image.RGBA, s Style) {
	w, h := s.Size()
	g.Columns, g.Rows = img.Rect.Dx()/w, img.Rect.Dy()/h
	if n := g.Columns * g.Rows; cap(g.Cells) < n {
		g.Cells = make([]Cell, n)
	} else {
		g.Cells = g.Cells[:n]
	}
	switch {
	case s.mono():
		g.dither(img, s.ASCII)
		return
	case s.Blocks == Halves:
		g.halves(img)
	case s.Blocks == Sextants:
		g.sextants(img)
	default:
		g.quadrants(img)
	}
	if s.Colours == Indexed {
		g.index()
	}
}
