package geojson

import (
	"encoding/json"
	"math"

	"undermetal/layout/geom"
)

// coords are positions in lists. depth says how deep the positions lie: 0 a position by itself, 1 in a list, 2 in lists in
// a list, 3 one deeper.
type coords struct {
	depth  int
	points []geom.Point // all of them, in nm
	lists  []int        // where in points each innermost list ends
	groups []int        // where in lists each list of lists ends
}

// ring returns the k-th innermost list.
func (c *coords) list(k int) []geom.Point {
	from := 0
	if k > 0 {
		from = c.lists[k-1]
	}
	return c.points[from:c.lists[k]]
}

// group returns the range of innermost lists in the k-th list of lists.
func (c *coords) group(k int) (from, to int) {
	if k > 0 {
		from = c.groups[k-1]
	}
	return from, c.groups[k]
}

const maxDepth = 3

// coordinates reads the member of that name; nil where it is null or an empty list.
func (r *reader) coordinates() (*coords, error) {
	t, err := r.token()
	if err != nil || t == nil {
		return nil, err
	}
	if t != json.Delim('[') {
		return nil, r.fail(correct, "coordinates must be a list; found %s", what(t))
	}
	c := &coords{}
	depth, err := r.inList(c, 0)
	if err != nil {
		return nil, err
	}
	if len(c.points) == 0 {
		return nil, nil
	}
	c.depth = depth
	return c, nil
}

// inList reads the rest of a list whose opening bracket has been read, and returns how deep its positions lie: 0 for a
// position. outer is how many lists it lies in.
func (r *reader) inList(c *coords, outer int) (depth int, err error) {
	depth = -1
	for {
		t, err := r.token()
		if err != nil {
			return 0, err
		}
		switch t := t.(type) {
		case float64:
			if depth >= 0 {
				return 0, r.fail(correct, "a number among lists of coordinates")
			}
			return 0, r.position(c, t)
		case json.Delim:
			if t == ']' {
				return max(depth, 0) + 1, r.endList(c, depth, outer)
			}
			if t != '[' {
				return 0, r.fail(correct, "found %s among coordinates", what(t))
			}
			if outer == maxDepth {
				return 0, r.fail(correct, "coordinates lie in more than %d lists", maxDepth)
			}
			d, err := r.inList(c, outer+1)
			if err != nil {
				return 0, err
			}
			if depth >= 0 && d != depth {
				return 0, r.fail(correct, "lists of coordinates that are not equally deep")
			}
			depth = d
		default:
			return 0, r.fail(correct, "found %s among coordinates", what(t))
		}
	}
}

// endList closes a list that holds what is depth deep; -1: it is empty.
func (r *reader) endList(c *coords, depth, outer int) error {
	switch depth {
	case -1:
		if outer > 0 {
			return r.fail(correct, "an empty list where positions belong")
		}
	case 0:
		c.lists = append(c.lists, len(c.points))
	case 1:
		c.groups = append(c.groups, len(c.lists))
	}
	return nil
}

// position reads the rest of a position whose first number has been read.
func (r *reader) position(c *coords, x float64) error {
	t, err := r.token()
	if err != nil {
		return err
	}
	y, ok := t.(float64)
	if !ok {
		return r.fail(correct, "a position has two numbers; found %s", what(t))
	}
	for n := 0; ; n++ {
		t, err := r.token()
		if err != nil {
			return err
		}
		if t == json.Delim(']') {
			if n > 0 {
				r.note("positions with more than two numbers, of which two count")
			}
			break
		}
		if _, ok := t.(float64); !ok {
			return r.fail(correct, "a position has numbers only; found %s", what(t))
		}
	}
	v := geom.Vec{X: x * 1000, Y: y * 1000}
	if !(math.Abs(v.X) <= geom.Limit && math.Abs(v.Y) <= geom.Limit) {
		return r.fail(moveNearer, "(%.6g, %.6g) µm is outside the frame of ±%.3f µm", x, y, geom.Limit/1e3)
	}
	p := v.Round()
	if math.Abs(v.X-float64(p.X)) > 1e-3 || math.Abs(v.Y-float64(p.Y)) > 1e-3 {
		r.note("positions between nanometres, rounded")
	}
	c.points = append(c.points, p)
	return nil
}
