package svg

import (
	"math"

	"undermetal/layout/geom"
)

// path is an outline in an element's own units. Each step has its points in at, absolute:
//
//	M, L  1  where it goes
//	Q     2  the control point, the end
//	C     3  two control points, the end
//	A     5  of an ellipse: its centre, two conjugate half axes as vectors, the angles (from, over) in rad, the end
//	Z     0
//
// An arc stays an ellipse, since any other curve would miss it by a part of its radius, and nobody knows here how many
// nm that is.
type path struct {
	steps []byte
	at    []geom.Vec
}

// stepPoints is how many points a step has.
func stepPoints(step byte) int {
	switch step {
	case 'M', 'L':
		return 1
	case 'Q':
		return 2
	case 'C':
		return 3
	case 'A':
		return 5
	}
	return 0
}

func (p *path) add(step byte, at ...geom.Vec) {
	p.steps = append(p.steps, step)
	p.at = append(p.at, at...)
}

// parsePath reads path data: SVG 1.1 (second edition) §8.3 and SVG 2 §9.3 (from memory). There a program may draw what
// stands before a mistake; here it is an error, so that nothing gets lost without a word.
func parsePath(d string) (*path, error) {
	p := &pathParser{scanner: scanner{s: d}, path: &path{}}
	for p.space(); !p.done(); p.space() {
		c := p.s[p.at]
		if !isCommand(c) {
			return nil, p.fail("a command is missing (one of M L H V C S Q T A Z, capital or small), %s", p.found())
		}
		if len(p.path.steps) == 0 && c|0x20 != 'm' {
			return nil, p.fail("a path begins with M or m, %s", p.found())
		}
		p.at++
		p.space()
		if err := p.command(c); err != nil {
			return nil, err
		}
	}
	return p.path, nil
}

func isCommand(c byte) bool {
	switch c | 0x20 {
	case 'm', 'l', 'h', 'v', 'c', 's', 'q', 't', 'a', 'z':
		return true
	}
	return false
}

type pathParser struct {
	scanner
	path    *path
	now     geom.Vec // the current point
	start   geom.Vec // of the subpath
	closed  bool     // the last step was Z
	control geom.Vec // the last control point, for S and T
	last    byte     // the last command in small letters
}

// command reads the arguments of c, and those of its repetitions.
func (p *pathParser) command(c byte) error {
	small, relative := c|0x20, c&0x20 != 0
	if small == 'z' {
		p.path.add('Z')
		p.now, p.closed, p.last = p.start, true, 'z'
		return nil
	}
	for first := true; ; first = false {
		if !first && small == 'm' {
			small = 'l'
		}
		if err := p.once(small, relative); err != nil {
			return err
		}
		p.last = small
		at := p.at
		comma := p.separator()
		if !p.more() {
			if comma {
				return p.fail("a number is missing behind the comma, %s", p.found())
			}
			p.at = at
			return nil
		}
	}
}

// once reads the arguments of one command.
func (p *pathParser) once(small byte, relative bool) error {
	var v [6]float64
	n := map[byte]int{'m': 2, 'l': 2, 'h': 1, 'v': 1, 'c': 6, 's': 4, 'q': 4, 't': 2}[small]
	if small == 'a' {
		return p.arc(relative)
	}
	if err := p.numbers(v[:n]); err != nil {
		return err
	}
	base := geom.Vec{}
	if relative {
		base = p.now
	}
	point := func(i int) geom.Vec { return geom.Vec{X: base.X + v[i], Y: base.Y + v[i+1]} }
	if small == 'm' {
		p.now = point(0)
		p.start, p.closed = p.now, false
		p.path.add('M', p.now)
		return nil
	}
	p.goOn()
	switch small {
	case 'l':
		p.line(point(0))
	case 'h':
		p.line(geom.Vec{X: base.X + v[0], Y: p.now.Y})
	case 'v':
		p.line(geom.Vec{X: p.now.X, Y: base.Y + v[0]})
	case 'c':
		p.cubic(point(0), point(2), point(4))
	case 's':
		p.cubic(p.mirrored('c', 's'), point(0), point(2))
	case 'q':
		p.quadratic(point(0), point(2))
	case 't':
		p.quadratic(p.mirrored('q', 't'), point(0))
	}
	return nil
}

// goOn begins a new subpath where the last one was closed and no M follows.
func (p *pathParser) goOn() {
	if p.closed {
		p.path.add('M', p.now)
		p.closed = false
	}
}

// mirrored returns the last control point, mirrored at the current one, if the last command was one of these; the
// current point otherwise.
func (p *pathParser) mirrored(a, b byte) geom.Vec {
	if p.last != a && p.last != b {
		return p.now
	}
	return geom.Vec{X: 2*p.now.X - p.control.X, Y: 2*p.now.Y - p.control.Y}
}

func (p *pathParser) line(to geom.Vec) {
	p.path.add('L', to)
	p.now = to
}

func (p *pathParser) cubic(a, b, to geom.Vec) {
	p.path.add('C', a, b, to)
	p.control, p.now = b, to
}

func (p *pathParser) quadratic(a, to geom.Vec) {
	p.path.add('Q', a, to)
	p.control, p.now = a, to
}

func (p *pathParser) arc(relative bool) error {
	var v [5]float64
	if err := p.numbers(v[:3]); err != nil {
		return err
	}
	p.separator()
	large, err := p.flag()
	if err != nil {
		return err
	}
	p.separator()
	sweep, err := p.flag()
	if err != nil {
		return err
	}
	p.separator()
	if err := p.numbers(v[3:]); err != nil {
		return err
	}
	to := geom.Vec{X: v[3], Y: v[4]}
	if relative {
		to = geom.Vec{X: p.now.X + v[3], Y: p.now.Y + v[4]}
	}
	p.goOn()
	p.path.arcTo(p.now, v[0], v[1], v[2], large, sweep, to)
	p.now = to
	return nil
}

// arcTo adds an arc of an ellipse with radii rx and ry, turned by degrees, from a point to another. Radii that are too
// small are enlarged, a radius of 0 makes a straight line, and an arc to where it begins is nothing: SVG 1.1 F.6
// (from memory).
func (p *path) arcTo(from geom.Vec, rx, ry, degrees float64, large, sweep bool, to geom.Vec) {
	rx, ry = math.Abs(rx), math.Abs(ry)
	switch {
	case from == to:
		return
	case rx == 0 || ry == 0:
		p.add('L', to)
		return
	}
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	hx, hy := (from.X-to.X)/2, (from.Y-to.Y)/2
	x, y := (cos*hx+sin*hy)/rx, (cos*hy-sin*hx)/ry // half the chord, where the ellipse is a unit circle
	k := 0.0
	if d := x*x + y*y; d > 1 {
		s := math.Sqrt(d)
		rx, ry, x, y = rx*s, ry*s, x/s, y/s
	} else {
		k = math.Sqrt((1 - d) / d)
	}
	if large == sweep {
		k = -k
	}
	cx, cy := k*y, -k*x // the centre there, seen from the middle of the chord
	start := math.Atan2(y-cy, x-cx)
	over := math.Atan2(-y-cy, -x-cx) - start
	switch {
	case sweep && over < 0:
		over += 2 * math.Pi
	case !sweep && over > 0:
		over -= 2 * math.Pi
	}
	u, w := geom.Vec{X: cos * rx, Y: sin * rx}, geom.Vec{X: -sin * ry, Y: cos * ry}
	centre := geom.Vec{X: (from.X+to.X)/2 + u.X*cx + w.X*cy, Y: (from.Y+to.Y)/2 + u.Y*cx + w.Y*cy}
	p.add('A', centre, u, w, geom.Vec{X: start, Y: over}, to)
}
