package pen

import "undermetal/layout/geom"

// DistinctNeighbours drops every point that repeats the one before it, in place.
func DistinctNeighbours(points []geom.Point) []geom.Point {
	n := 0
	for i, p := range points {
		if i == 0 || p != points[n-1] {
			points[n] = p
			n++
		}
	}
	return points[:n]
}

// ClosedOutline drops every point of a closed outline that repeats the one before it, in place; with the last one, that
// is a point that closes it again.
func ClosedOutline(points []geom.Point) []geom.Point {
	points = DistinctNeighbours(points)
	for len(points) > 1 && points[len(points)-1] == points[0] {
		points = points[:len(points)-1]
	}
	return points
}

// Covers reports whether the points do not all lie on one line.
func Covers(points []geom.Point) bool {
	for i := 2; i < len(points); i++ {
		if geom.Side(points[0], points[1], points[i]) != 0 {
			return true
		}
	}
	return false
}
