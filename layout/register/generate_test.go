package register

import (
	"math"
	"math/rand/v2"

	"undermetal/layout/geom"

	"pgregory.net/rapid"
)

// camera is a map such as a photograph on a somewhat tilted stage has: 100 nm a pixel, turned, horizon far outside.
func camera(kind Kind) Linear {
	l := Linear{kind, [3][3]float64{{99.9, 5, 1e4}, {5, -99.9, 4e5}, {0, 0, 1}}}
	if kind != Similarity {
		l.m[0][0], l.m[1][0] = 101, 7
	}
	if kind == Projective {
		l.m[2][0], l.m[2][1] = 1e-5, -8e-6
	}
	return l
}

// bent is camera with a lens that bends by up to 60 nm, half a pixel, over the width of the picture.
type bent struct{ Linear }

func (b bent) Apply(p geom.Vec) geom.Vec {
	q := b.Linear.Apply(p)
	q.X += 60 * math.Sin(p.X/3000) * math.Cos(p.Y/2500)
	q.Y += 60 * math.Cos(p.X/3500+1)
	return q
}

// scattered returns n points, one in each cell of a raster over a picture of 4000 × 3000 px, whose targets err by sigma
// nm in each coordinate.
func scattered(r *rand.Rand, n int, m Map, sigma float64) []Point {
	columns := int(math.Ceil(math.Sqrt(float64(n))))
	points := make([]Point, n)
	for i := range points {
		p := geom.Vec{X: 4000 * (float64(i%columns) + r.Float64()) / float64(columns), Y: 3000 * (float64(i/columns) + r.Float64()) / float64(columns)}
		q := m.Apply(p)
		points[i] = Point{From: p, To: geom.Vec{X: q.X + sigma*r.NormFloat64(), Y: q.Y + sigma*r.NormFloat64()}}
	}
	return points
}

// drawLinear draws a map of the kind, of 1 to 1000 nm a pixel, either way round, without horizon in the picture.
func drawLinear(t *rapid.T, kind Kind) Linear {
	scale := math.Pow(10, rapid.Float64Range(0, 3).Draw(t, "log scale"))
	sin, cos := math.Sincos(rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "angle"))
	side := float64(rapid.SampledFrom([]int{1, -1}).Draw(t, "side"))
	l := Linear{kind, [3][3]float64{
		{scale * cos, -scale * sin * side, rapid.Float64Range(-1e6, 1e6).Draw(t, "x")},
		{scale * sin, scale * cos * side, rapid.Float64Range(-1e6, 1e6).Draw(t, "y")}, {0, 0, 1}}}
	if kind != Similarity {
		stretch, skew := rapid.Float64Range(0.5, 2).Draw(t, "stretch"), rapid.Float64Range(-0.5, 0.5).Draw(t, "skew")
		l = l.times(Linear{kind, [3][3]float64{{stretch, skew, 0}, {0, 1, 0}, {0, 0, 1}}})
	}
	if kind == Projective {
		l = l.times(Linear{kind, [3][3]float64{{1, 0, 0}, {0, 1, 0}, {rapid.Float64Range(-1e-4, 1e-4).Draw(t, "g"), rapid.Float64Range(-1e-4, 1e-4).Draw(t, "h"), 1}}})
	}
	return l
}

// drawPlace draws a pixel of a picture of 4000 × 3000.
func drawPlace(t *rapid.T) geom.Vec {
	return geom.Vec{X: rapid.Float64Range(0, 4000).Draw(t, "px"), Y: rapid.Float64Range(0, 3000).Draw(t, "py")}
}

// drawMap draws a map of any kind that can be fitted; a spline bends by about a hundredth of the picture.
func drawMap(t *rapid.T) Map {
	kind := rapid.SampledFrom(kinds[:4]).Draw(t, "kind")
	if kind != Spline {
		return drawLinear(t, kind)
	}
	l := drawLinear(t, Affine)
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	points := scattered(r, rapid.IntRange(4, 20).Draw(t, "points"), l, 10*Size(l, geom.Vec{}))
	f, err := FitPoints(Spline, points, ToFrame)
	if err != nil {
		t.Skip(err)
	}
	return f.Map
}

func distance(p, q geom.Vec) float64 { return math.Hypot(p.X-q.X, p.Y-q.Y) }
