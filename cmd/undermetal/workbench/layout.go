package workbench

// rect is a part of the screen, in cells.
type rect struct{ x, y, w, h int }

func (r rect) holds(x, y int) bool { return x >= r.x && x < r.x+r.w && y >= r.y && y < r.y+r.h }

const (
	narrow    = 70 // columns: below, the list lies over the picture while keys go to it, and is folded away otherwise
	leastSide = 24
	mostSide  = 48
)

// areas are the parts of a screen.
type areas struct {
	head, picture, side, foot rect
	walk                      rect // above the foot, where there is something to lead through
}

const mostWalk = 3 // rows of the walk

// giveWalk takes rows for the walk from the picture and the list, as far as they can spare them.
func (a *areas) giveWalk(rows int) {
	h := max(a.picture.h, a.side.h)
	n := min(rows, mostWalk, h/3)
	if n < 1 || a.foot.h == 0 {
		return
	}
	a.picture.h, a.side.h = min(a.picture.h, h-n), min(a.side.h, h-n)
	a.walk = rect{a.foot.x, a.foot.y - n, a.foot.w, n}
}

// divide gives every part its cells. The list takes a third of the columns where there is one; on a narrow screen it lies over
// the picture as long as keys go to it.
func divide(columns, rows int, list, focus bool) areas {
	var a areas
	a.head = rect{0, 0, columns, min(1, rows)}
	a.foot = rect{0, rows - 1, columns, 1}
	if rows < 2 {
		a.foot = rect{}
	}
	middle := rect{0, a.head.h, columns, max(0, rows-a.head.h-a.foot.h)}
	a.picture = middle
	if !list || middle.h == 0 {
		return a
	}
	if columns < narrow {
		if focus {
			a.side, a.picture.w = middle, 0
		}
		return a
	}
	w := max(leastSide, min(mostSide, columns/3))
	a.side = rect{columns - w, middle.y, w, middle.h}
	a.picture.w = columns - w - 1 // a column for the line between
	return a
}
