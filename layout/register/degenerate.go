package register

import (
	"fmt"
	"math"
	"strings"

	"undermetal/layout/geom"
)

// onLine is how narrow points may lie about a line, as a part of their extent along it: in a photograph of some
// thousand pixels a tenth of a pixel, less than the hand errs, so that nothing beside the line is known.
const onLine = 1e-4

// tellsSides is how wide they must lie so that they tell a picture from its mirror image.
const tellsSides = 1e-2

// checkPoints returns an error, with the numbers of the points, where no map of that kind, or more than one, fits best.
func checkPoints(k Kind, points []Point) error {
	need := k.Points()
	if need == 0 {
		return fmt.Errorf("%q is no kind of map that can be fitted: take similarity, affine, projective or spline", string(k))
	}
	if len(points) < need {
		return fmt.Errorf("%s for %s map, which needs %d: add %d", counted(len(points)), k.article(), need, need-len(points))
	}
	if k == Spline && len(points) > maxSpline {
		return fmt.Errorf("%s for a spline, which takes at most %d: thin them out, or fit a projective map", counted(len(points)), maxSpline)
	}
	var without []int
	from, to := make([]geom.Vec, len(points)), make([]geom.Vec, len(points))
	for i, p := range points {
		from[i], to[i] = p.From, p.To
		if big := max(math.Abs(p.From.X), math.Abs(p.From.Y), math.Abs(p.To.X), math.Abs(p.To.Y)); !(big <= maxCoordinate) {
			return fmt.Errorf("point %d goes from (%g, %g) to (%g, %g): coordinates are numbers within ±%g", i+1, p.From.X, p.From.Y, p.To.X, p.To.Y, float64(maxCoordinate))
		}
		if !(p.Sigma >= 0 && !math.IsInf(p.Sigma, 0)) {
			return fmt.Errorf("point %d has the uncertainty %g: give a standard deviation in px, or 0 for all points to let them count alike", i+1, p.Sigma)
		}
		if p.Sigma == 0 {
			without = append(without, i)
		}
	}
	if n := len(without); n > 0 && n < len(points) {
		return fmt.Errorf("no uncertainty at %s, but at others: give it for all points, or for none to let them count alike", named(without))
	}
	if err := determines(k, from, "lie"); err != nil {
		return err
	}
	return determines(k, to, "have their targets")
}

// maxCoordinate keeps squares and products of coordinates far from overflow: a kilometre in nm.
const maxCoordinate = 1e12

func counted(n int) string {
	if n == 1 {
		return "1 control point"
	}
	return fmt.Sprintf("%d control points", n)
}

// determines looks at one side of the points: enough different places, not all on a line; for a projective map four of
// which no three are on a line, which there are unless all, or all but one, lie on one.
func determines(k Kind, places []geom.Vec, lie string) error {
	first, seen := []int{}, map[geom.Vec]int{}
	var doubles []int
	for i, p := range places {
		if j, ok := seen[p]; ok {
			if len(doubles) == 0 || places[doubles[0]] == p {
				if len(doubles) == 0 {
					doubles = []int{j}
				}
				doubles = append(doubles, i)
			}
			continue
		}
		seen[p] = i
		first = append(first, i)
	}
	if len(doubles) > 0 && (k == Spline || len(first) < k.Points()) {
		p := places[doubles[0]]
		return fmt.Errorf("%s %s at the same place, (%.10g, %.10g); %s map needs %d different ones%s", named(doubles), lie, p.X, p.Y, k.article(), k.Points(), onceEach(k))
	}
	if k == Similarity {
		return nil
	}
	all := momentsOf(places, first)
	if all.narrow() <= onLine*all.long() {
		return fmt.Errorf("%s %s on one line: add one well beside it, or take a similarity", named(first), lie)
	}
	if k != Projective {
		return nil
	}
	for at, i := range first {
		if m := all.without(places[i]); m.narrow() <= onLine*m.long() {
			rest := append(append([]int{}, first[:at]...), first[at+1:]...)
			return fmt.Errorf("%s %s on one line, all but point %d: a projective map needs four places of which no three are on a line; add one beside it, or take an affine map", named(rest), lie, i+1)
		}
	}
	return nil
}

func onceEach(k Kind) string {
	if k == Spline {
		return ", each once"
	}
	return ""
}

// named lists points by their numbers, counted from 1; of many the first ones.
func named(ids []int) string {
	const most = 12
	if len(ids) == 1 {
		return fmt.Sprintf("point %d", ids[0]+1)
	}
	var words []string
	for _, i := range ids[:min(len(ids), most)] {
		words = append(words, fmt.Sprint(i+1))
	}
	if len(ids) > most {
		return fmt.Sprintf("points %s … (%d in all)", strings.Join(words, ", "), len(ids))
	}
	last := len(words) - 1
	return fmt.Sprintf("points %s and %s", strings.Join(words[:last], ", "), words[last])
}

// moments are those of a set of places about their mean.
type moments struct {
	n          float64
	mean       geom.Vec
	xx, xy, yy float64
}

func momentsOf(places []geom.Vec, which []int) moments {
	m := moments{n: float64(len(which))}
	for _, i := range which {
		m.mean.X += places[i].X / m.n
		m.mean.Y += places[i].Y / m.n
	}
	for _, i := range which {
		x, y := places[i].X-m.mean.X, places[i].Y-m.mean.Y
		m.xx, m.xy, m.yy = m.xx+x*x, m.xy+x*y, m.yy+y*y
	}
	return m
}

// without returns the moments of the set without one of its places, about the new mean (the mean itself is not kept).
func (m moments) without(p geom.Vec) moments {
	x, y, f := p.X-m.mean.X, p.Y-m.mean.Y, m.n/(m.n-1)
	return moments{n: m.n - 1, xx: m.xx - f*x*x, xy: m.xy - f*x*y, yy: m.yy - f*y*y}
}

// long and narrow are the extents along and across the main axis: the roots of the two eigenvalues.
func (m moments) long() float64 {
	return math.Sqrt(max(0, (m.xx+m.yy+math.Hypot(m.xx-m.yy, 2*m.xy))/2))
}

func (m moments) narrow() float64 {
	if l := m.long(); l > 0 {
		return math.Sqrt(max(0, m.xx*m.yy-m.xy*m.xy)) / l
	}
	return 0
}

// closest returns the pair nearest to each other.
func closest(places []geom.Vec) (i, j int, distance float64) {
	distance = math.Inf(1)
	for a, p := range places {
		for b, q := range places[:a] {
			if d := math.Hypot(p.X-q.X, p.Y-q.Y); d < distance {
				i, j, distance = b, a, d
			}
		}
	}
	return i, j, distance
}
