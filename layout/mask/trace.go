package mask

import (
	"errors"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
)

// MaxCorners bounds the corners of all shapes of a mask. They take 16 bytes each.
const MaxCorners = 1 << 25

var errTooMany = errors.New("too many corners")

// tracer follows the borders of one layer from row to row. Borders are directed, with what is covered on their left as the
// picture is seen: down along the left side of a run of pixels, up along its right side, to the right below it and to the
// left above it. So outer rings come out counterclockwise and holes clockwise.
//
// A chain is a piece of border that is not closed yet: it grows at both ends. Its ends are either at the upright borders
// that cross the row above the line that is being looked at, or at the level one that has been followed along that line.
type tracer struct {
	layer layout.Layer
	cell  *layout.Cell
	flat  pen.Flattener
	left  *int // corners that may still come, of all layers

	nodes    []node // corners of chains
	freeNode int32
	ends     []end
	freeEnd  int32

	x, was     []int32 // toggles of the row above the line, and of the one below it
	at, below  []int32 // the ends at them
	runs, next []int32 // the region of each run of pixels in the two rows
	regions    []region
	freeRegion []int32
	merged     []int32 // regions that became part of others in this row

	pixels, polygons, vanished int
}

type node struct {
	x, y int32
	next int32 // in the direction of the border
}

// end is one of the two ends of a chain.
type end struct {
	node  int32
	other int32
}

// region is what hangs together by the sides of pixels, as far as it is known. Its rings are closed.
type region struct {
	parent int32
	row    int32 // the last one in which it has pixels
	rings  [][]int32
}

const none = -1

func newTracer(layer layout.Layer, cell *layout.Cell, o *Options, corners *int) *tracer {
	return &tracer{layer: layer, cell: cell, flat: pen.Flattener{Place: o.Place, Tolerance: o.ToleranceNm}, left: corners, freeNode: none, freeEnd: none}
}

// line goes along the line above row y, with the toggles of that row.
func (t *tracer) line(y int32, row []int32) error {
	t.was = append(t.was[:0], row...)
	t.below = slices.Grow(t.below[:0], len(row))[:len(row)]
	t.join(y)
	if err := t.follow(y); err != nil {
		return err
	}
	if err := t.finish(y); err != nil {
		return err
	}
	t.x, t.was = t.was, t.x
	t.at, t.below = t.below, t.at
	t.runs, t.next = t.next, t.runs
	return nil
}

// join finds the regions of the new row's runs: those of the runs above that they share a side with.
func (t *tracer) join(y int32) {
	t.next = t.next[:0]
	k := 0 // the first run above that may reach the next run
	for i := 0; i < len(t.was); i += 2 {
		from, to := t.was[i], t.was[i+1]
		t.pixels += int(to - from)
		for k < len(t.x) && t.x[k+1] <= from {
			k += 2
		}
		mine := int32(none)
		for m := k; m < len(t.x) && t.x[m] < to; m += 2 {
			above := t.find(t.runs[m/2])
			switch {
			case mine == none:
				mine = above
			case mine != above:
				mine = t.merge(mine, above)
			}
		}
		if mine == none {
			mine = t.newRegion()
		}
		t.next = append(t.next, mine)
	}
	for i := range t.next {
		t.next[i] = t.find(t.next[i])
		t.regions[t.next[i]].row = y
	}
}

func (t *tracer) find(i int32) int32 {
	for t.regions[i].parent != i {
		t.regions[i].parent = t.regions[t.regions[i].parent].parent
		i = t.regions[i].parent
	}
	return i
}

func (t *tracer) merge(a, b int32) int32 {
	if len(t.regions[a].rings) < len(t.regions[b].rings) {
		a, b = b, a
	}
	t.regions[a].rings = append(t.regions[a].rings, t.regions[b].rings...)
	t.regions[b].rings = nil
	t.regions[b].parent = a
	t.merged = append(t.merged, b)
	return a
}

func (t *tracer) newRegion() int32 {
	i := int32(len(t.regions))
	if n := len(t.freeRegion); n > 0 {
		i = t.freeRegion[n-1]
		t.freeRegion = t.freeRegion[:n-1]
	} else {
		t.regions = append(t.regions, region{})
	}
	t.regions[i] = region{parent: i}
	return i
}

// follow goes along the line from left to right, from one place where an upright border comes from above or goes on below
// to the next. At each, two or four borders meet; of four, each of the two covered pixels keeps its own.
func (t *tracer) follow(y int32) error {
	above, under := false, false // covered left of x, in the two rows
	level := int32(none)         // the end that is carried along the line
	for i, k := 0, 0; i < len(t.x) || k < len(t.was); {
		var x int32
		up := i < len(t.x) && (k == len(t.was) || t.x[i] <= t.was[k])
		down := k < len(t.was) && (i == len(t.x) || t.was[k] <= t.x[i])
		if up {
			x = t.x[i]
		} else {
			x = t.was[k]
		}
		left, right := above != under, (above != up) != (under != down)
		var err error
		switch {
		case up && down && !left && !right:
			t.below[k] = t.at[i] // straight on
		case up && down && left && right && above: // covered: upper left and lower right
			err = t.close(level, t.at[i], x, y, t.runs[i/2])
			level, t.below[k], err = t.begin(x, y, err)
		case up && down && left && right: // covered: upper right and lower left
			t.prepend(level, x, y)
			t.below[k] = level
			t.append(t.at[i], x, y)
			level = t.at[i]
		case up && left && above: // right along the line, then up
			err = t.close(level, t.at[i], x, y, t.runs[i/2])
			level = none
		case up && left: // down, then left
			err = t.close(t.at[i], level, x, y, t.runs[i/2])
			level = none
		case up && !above: // down, then right
			t.append(t.at[i], x, y)
			level = t.at[i]
		case up: // from the right, then up
			t.prepend(t.at[i], x, y)
			level = t.at[i]
		case left && above: // right along the line, then down
			t.append(level, x, y)
			t.below[k], level = level, none
		case left: // up from below, then left
			t.prepend(level, x, y)
			t.below[k], level = level, none
		case !under: // from the right, then down
			level, t.below[k], err = t.begin(x, y, nil)
		default: // up from below, then right
			t.below[k], level, err = t.begin(x, y, nil)
		}
		if err != nil {
			return err
		}
		if up {
			above = !above
			i++
		}
		if down {
			under = !under
			k++
		}
	}
	return nil
}

// finish makes shapes of the regions that have no pixel in the row below the line.
func (t *tracer) finish(y int32) error {
	for _, m := range t.runs {
		i := t.find(m)
		r := &t.regions[i]
		if r.row == y || r.rings == nil {
			continue
		}
		rings := r.rings
		r.rings = nil
		t.freeRegion = append(t.freeRegion, i)
		if err := t.shape(rings); err != nil {
			return err
		}
	}
	t.freeRegion = append(t.freeRegion, t.merged...) // no run has them any more
	t.merged = t.merged[:0]
	return nil
}

// shape makes a polygon of the rings of a region, the outer one first.
func (t *tracer) shape(rings [][]int32) error {
	outer := slices.IndexFunc(rings, func(r []int32) bool { return doubleArea(r) < 0 }) // y points downward
	rings[0], rings[outer] = rings[outer], rings[0]
	var pg geom.Polygon
	for i, r := range rings {
		ring, err := t.ring(r)
		if err != nil {
			return err
		}
		if !pen.Covers(ring) {
			if i == 0 {
				t.vanished++
				return nil
			}
			continue
		}
		pg = append(pg, ring)
	}
	t.polygons++
	t.cell.Shapes = append(t.cell.Shapes, layout.Shape{Layer: t.layer, Polygon: pg})
	return nil
}

func doubleArea(r []int32) (sum int) {
	n := len(r)
	for i := 0; i < n; i += 2 {
		k := (i + 2) % n
		sum += int(r[i])*int(r[k+1]) - int(r[k])*int(r[i+1])
	}
	return sum
}

// ring takes a ring to the frame.
func (t *tracer) ring(r []int32) (geom.Ring, error) {
	at := func(i int) geom.Vec { return geom.Vec{X: float64(r[i]), Y: float64(r[i+1])} }
	if err := t.flat.Move(at(0)); err != nil {
		return nil, err
	}
	for i := 0; i < len(r); i += 2 {
		if err := t.flat.Line(at(i), at((i+2)%len(r))); err != nil {
			return nil, err
		}
	}
	return slices.Clone(pen.ClosedOutline(t.flat.Points)), nil
}
