package sweep

import "cmp"

// compareAbove orders two lines that begin at the same height by where they are just above it.
func compareAbove(a, b Line) int {
	if a.X0 != b.X0 {
		return cmp.Compare(a.X0, b.X0)
	}
	return slopeOrder(a, b)
}

// slopeOrder compares dx/dy, exactly: both factors are below 2^31.
func slopeOrder(a, b Line) int {
	dxa, dya := int64(a.X1)-int64(a.X0), int64(a.Y1)-int64(a.Y0)
	dxb, dyb := int64(b.X1)-int64(b.X0), int64(b.Y1)-int64(b.Y0)
	return cmp.Compare(dxa*dyb, dxb*dya)
}

// side returns +1 where the point (x, y) is right of the line, -1 left of it, 0 on it. y is a height of the line.
func (l Line) side(x, y int32) int {
	if x < min(l.X0, l.X1) {
		return -1
	}
	if x > max(l.X0, l.X1) {
		return 1
	}
	ax, ay := int64(l.X1)-int64(l.X0), int64(l.Y1)-int64(l.Y0)
	bx, by := int64(x)-int64(l.X0), int64(y)-int64(l.Y0)
	return cmp.Compare(ay*bx, ax*by) // for an upright line 0: it has passed both tests above
}

// passed returns -1, all bits set, where the point (x, y) is right of the line, else 0. y is a height of the line.
func (l *Line) passed(x, y int32) int {
	ax, ay := int64(l.X1)-int64(l.X0), int64(l.Y1)-int64(l.Y0)
	bx, by := int64(x)-int64(l.X0), int64(y)-int64(l.Y0)
	return int((ax*by - ay*bx) >> 63)
}

// before reports whether line a, which goes on through height y, is left of line b, which begins there, just above y.
func before(a, b Line, y int32) bool {
	s := a.side(b.X0, y)
	return s > 0 || s == 0 && slopeOrder(a, b) <= 0
}
