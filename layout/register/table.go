package register

import (
	"math"

	"undermetal/layout/geom"
)

// Table stands for a map that takes long to ask, such as the inverse of a spline, while a picture is drawn by it row by
// row. The map is asked at the corners and middles of square cells of the picture, and in between linearly
// interpolated in both directions. A cell in which that may be off by more than Within is divided, down to 2 px; below
// that the map itself is asked.
//
// The bound: in a cell of side h, at parts t and s of it, the interpolation misses a map of constant second derivatives by
//
//	½h²·(t(1−t)·∂²/∂x² + s(1−s)·∂²/∂y²)
//
// which is longest in the middle of the cell or of an edge. It is measured there, and a cell is kept where it is three
// quarters of Within or less; the last quarter is for what the map's third derivatives add, in the order of h³. A fold, a
// hole or a horizon may hide where none of a cell's nine places is near it.
type Table struct {
	Map    func(geom.Vec) geom.Vec // px of the picture to anything
	Width  int                     // of the picture, in px
	Within float64                 // in the unit of what Map leads to
	Side   int                     // of an undivided cell, px: a power of 2 from 4 on; 0: CellSide

	built  bool
	row    int // of the cells that are there
	cells  []cell
	places [3][]geom.Vec // what Map says at every half cell of their upper border, middle and lower border
}

// CellSide is that of an undivided cell: with its neighbours' places it asks four times instead of 256.
const CellSide = 16

func (t *Table) side() int {
	if t.Side > 0 {
		return t.Side
	}
	return CellSide
}

// cell is a square; of a divided one the parts count.
type cell struct {
	corners [4]geom.Vec // upper left, upper right, lower left, lower right
	parts   *[4]cell    // in the same order
	asks    bool        // Map itself, since it bends too much
}

// At returns what the map says at a place, or nearly so: see Table. Places are asked for row by row. It is for one
// goroutine.
func (t *Table) At(p geom.Vec) geom.Vec {
	c, x, y, side := t.find(p)
	if c == nil {
		return t.Map(p)
	}
	return c.between(x/side, y/side)
}

// Run returns what At says at p and at the places to the right of it, a px each, n of them and no more than most: the k-th is
// at + k·step, since a row of a cell is a straight line. n is 1 at least.
func (t *Table) Run(p geom.Vec, most int) (at, step geom.Vec, n int) {
	c, x, y, side := t.find(p)
	if c == nil {
		return t.Map(p), geom.Vec{}, 1
	}
	s, k := y/side, &c.corners
	step = geom.Vec{X: ((1-s)*(k[1].X-k[0].X) + s*(k[3].X-k[2].X)) / side, Y: ((1-s)*(k[1].Y-k[0].Y) + s*(k[3].Y-k[2].Y)) / side}
	return c.between(x/side, s), step, max(1, min(most, int(math.Ceil(side-x))))
}

// find returns the undivided cell that holds a place, the place in it, and its side; nil where Map itself is to be asked.
func (t *Table) find(p geom.Vec) (c *cell, x, y, side float64) {
	if !(p.X >= 0 && p.X < float64(t.Width) && math.Abs(p.Y) < 1<<30) {
		return nil, 0, 0, 0
	}
	whole := t.side()
	side = float64(whole)
	if row := int(math.Floor(p.Y / side)); !t.built || row != t.row {
		t.build(row)
	}
	column := int(p.X) / whole
	c = &t.cells[column]
	x, y = p.X-float64(column*whole), p.Y-float64(t.row*whole)
	for ; ; side /= 2 {
		switch {
		case c.asks:
			return nil, 0, 0, 0
		case c.parts == nil:
			return c, x, y, side
		}
		i := 0
		if x >= side/2 {
			i, x = 1, x-side/2
		}
		if y >= side/2 {
			i, y = i+2, y-side/2
		}
		c = &c.parts[i]
	}
}

// between interpolates at parts of the way right and down.
func (c *cell) between(t, s float64) geom.Vec {
	a, b, d, e := (1-t)*(1-s), t*(1-s), (1-t)*s, t*s
	k := &c.corners
	return geom.Vec{X: a*k[0].X + b*k[1].X + d*k[2].X + e*k[3].X, Y: a*k[0].Y + b*k[1].Y + d*k[2].Y + e*k[3].Y}
}

// build makes the cells of a row; after the row above it, its upper border is known.
func (t *Table) build(row int) {
	side := t.side()
	n := (t.Width + side - 1) / side
	known := t.built && row == t.row+1
	if known {
		t.places[0], t.places[2] = t.places[2], t.places[0]
	}
	for i := range t.places {
		if i == 0 && known {
			continue
		}
		if t.places[i] == nil {
			t.places[i] = make([]geom.Vec, 2*n+1)
		}
		for k := range t.places[i] {
			t.places[i][k] = t.Map(geom.Vec{X: float64(k*side) / 2, Y: (float64(row) + float64(i)/2) * float64(side)})
		}
	}
	t.built, t.row, t.cells = true, row, make([]cell, n)
	for k := range t.cells {
		var nine [3][3]geom.Vec
		for i := range nine {
			copy(nine[i][:], t.places[i][2*k:])
		}
		t.cells[k] = t.cell(geom.Vec{X: float64(k * side), Y: float64(row * side)}, float64(side), &nine)
	}
}

// cell makes a cell at a place from what the map says at its corners and middles.
func (t *Table) cell(at geom.Vec, side float64, nine *[3][3]geom.Vec) cell {
	c := cell{corners: [4]geom.Vec{nine[0][0], nine[0][2], nine[2][0], nine[2][2]}}
	if t.flat(&c, nine) {
		return c
	}
	if side <= 2 {
		return cell{asks: true}
	}
	c.parts = new([4]cell)
	half := side / 2
	for i := range c.parts {
		x, y := i%2, i/2
		corner := geom.Vec{X: at.X + float64(x)*half, Y: at.Y + float64(y)*half}
		var part [3][3]geom.Vec
		for r := range part {
			for k := range part {
				if r%2 == 0 && k%2 == 0 {
					part[r][k] = nine[y+r/2][x+k/2]
				} else {
					part[r][k] = t.Map(geom.Vec{X: corner.X + float64(k)*half/2, Y: corner.Y + float64(r)*half/2})
				}
			}
		}
		c.parts[i] = t.cell(corner, half, &part)
	}
	return c
}

// flat reports whether the corners of a cell tell what is between them, or the map leads nowhere at all nine places.
func (t *Table) flat(c *cell, nine *[3][3]geom.Vec) bool {
	off, nowhere := 0.0, 0
	for r := range nine {
		for k, v := range nine[r] {
			if !finite(v.X, v.Y) {
				nowhere++
				continue
			}
			d := minus(c.between(float64(k)/2, float64(r)/2), v)
			off = max(off, math.Sqrt(square(d)))
		}
	}
	return nowhere == 9 || nowhere == 0 && off <= 0.75*t.Within
}
