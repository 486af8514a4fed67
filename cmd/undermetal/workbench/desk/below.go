package desk

import (
	"cmp"
	"math"
	"slices"

	"undermetal/layout/geom"
)

// below is what lies under the cursor: it is asked for several times a frame, and looked up once.
type below struct {
	known   bool
	at      geom.Point
	version int    // of the drawing
	seen    uint64 // layers that are not hidden
	open    uint64 // nor locked
	layer   int    // that is drawn on
	live    *live

	names  []string // of open layers
	failed error
	piece  int // of live; -1: none
	device int // of live; -1: none
}

// below returns what lies at a point.
func (d *Desk) below(p geom.Point) *below {
	now := below{at: p, version: d.version, layer: d.layer, live: d.live}
	for i, l := range d.layers {
		if !l.Hidden {
			now.seen |= 1 << i
			if !l.Locked {
				now.open |= 1 << i
			}
		}
	}
	b := &d.lies
	if b.known && b.at == now.at && b.version == now.version && b.seen == now.seen && b.open == now.open && b.layer == now.layer && b.live == now.live {
		return b
	}
	*b = now
	b.known = true
	b.names, b.failed = d.namesAt(p)
	b.piece, b.device = d.findPiece(p), d.findDevice(p)
	return b
}

// namesAt are the open layers of what is drawn at a point.
func (d *Desk) namesAt(p geom.Point) (names []string, err error) {
	shapes, err := d.near()(geom.Rect{Min: p, Max: p})
	for _, s := range shapes {
		if !slices.Contains(names, s.Layer) && s.Polygon.Locate(p) != geom.Outside {
			names = append(names, s.Layer)
		}
	}
	return names, err
}

// findPiece is the piece at a point: on the layer to draw on, else the topmost that is seen; -1 where there is none. Of several as good
// the first.
func (d *Desk) findPiece(p geom.Point) int {
	if d.live == nil {
		return -1
	}
	best, bestAt := -1, -1
	d.live.eachAt(p, func(k int) {
		c := &d.live.pieces[k]
		i := int(c.layer)
		if i >= len(d.layers) || d.layers[i].Hidden || c.net == 0 {
			return
		}
		rank := d.level(i)
		if i == d.layer {
			rank = math.MaxInt
		}
		if (rank > bestAt || rank == bestAt && k < best) && c.pg.Locate(p) != geom.Outside {
			best, bestAt = k, rank
		}
	})
	return best
}

// inBlock is how many pieces lie in one block.
const inBlock = 32

// block is a box around some pieces that lie near each other.
type block struct {
	box  geom.Rect
	from int // in live.byPlace, inBlock of them or what there are
}

// arrange puts the pieces into blocks: by rows of the die, and in a row from left to right.
func (l *live) arrange() {
	all := geom.EmptyRect()
	for i := range l.pieces {
		l.byPlace = append(l.byPlace, int32(i))
		all = all.Union(l.pieces[i].box)
	}
	if len(l.pieces) == 0 {
		return
	}
	high := int(float64(all.Height())/math.Sqrt(float64(len(l.pieces))/inBlock)) + 1
	row := func(k int32) int { b := l.pieces[k].box; return ((b.Min.Y+b.Max.Y)/2 - all.Min.Y) / high }
	slices.SortFunc(l.byPlace, func(a, b int32) int {
		return cmp.Or(cmp.Compare(row(a), row(b)), cmp.Compare(l.pieces[a].box.Min.X, l.pieces[b].box.Min.X), cmp.Compare(a, b))
	})
	for from := 0; from < len(l.byPlace); from += inBlock {
		b := block{geom.EmptyRect(), from}
		for _, k := range l.byPlace[from:min(from+inBlock, len(l.byPlace))] {
			b.box = b.box.Union(l.pieces[k].box)
		}
		l.blocks = append(l.blocks, b)
	}
}

// eachAt tells of all pieces whose boxes hold a point.
func (l *live) eachAt(p geom.Point, found func(k int)) {
	for i := range l.blocks {
		b := &l.blocks[i]
		if !b.box.Contains(p) {
			continue
		}
		for _, k := range l.byPlace[b.from:min(b.from+inBlock, len(l.byPlace))] {
			if l.pieces[k].box.Contains(p) {
				found(int(k))
			}
		}
	}
}
