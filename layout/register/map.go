package register

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"undermetal/layout/geom"
)

// Kind says which maps are meant, or what a map is.
type Kind string

// The kinds that can be fitted, each wider than the one before it. The last two are only made by Compose and Inverse.
const (
	Similarity Kind = "similarity" // turn, size and shift, perhaps mirrored: 4 parameters
	Affine     Kind = "affine"     // also two sizes, and axes that are not square to each other: 6
	Projective Kind = "projective" // also a tilted camera: 8
	Spline     Kind = "spline"     // thin-plate spline: through all points, smooth between them

	inverseSpline Kind = "inverse spline"
	chained       Kind = "chain"
)

// kinds in the order of their codes in the parameters of a chain; never reorder.
var kinds = []Kind{Similarity, Affine, Projective, Spline, inverseSpline}

// ParseKind reads the name of a kind that can be fitted.
func ParseKind(s string) (Kind, error) {
	if k := Kind(s); k.Points() > 0 {
		return k, nil
	}
	return "", fmt.Errorf("%q is no kind of map: take similarity, affine, projective or spline", s)
}

// Points is how many control points the kind needs at least; 0 for what cannot be fitted.
func (k Kind) Points() int {
	switch k {
	case Similarity:
		return 2
	case Affine, Spline:
		return 3
	case Projective:
		return 4
	}
	return 0
}

// article returns the kind with its article, for sentences.
func (k Kind) article() string {
	if strings.HasPrefix(string(k), "a") {
		return "an " + string(k)
	}
	return "a " + string(k)
}

// Matrix holds a derivative: {∂X/∂x, ∂X/∂y}, {∂Y/∂x, ∂Y/∂y}.
type Matrix [2][2]float64

// Det is the determinant: how areas change, negative where the sense of turning does.
func (m Matrix) Det() float64 { return m[0][0]*m[1][1] - m[0][1]*m[1][0] }

func (m Matrix) apply(v geom.Vec) geom.Vec {
	return geom.Vec{X: m[0][0]*v.X + m[0][1]*v.Y, Y: m[1][0]*v.X + m[1][1]*v.Y}
}

func (m Matrix) inverse() Matrix {
	d := m.Det()
	return Matrix{{m[1][1] / d, -m[0][1] / d}, {-m[1][0] / d, m[0][0] / d}}
}

func (m Matrix) times(n Matrix) (p Matrix) {
	for i := range p {
		for j := range p {
			p[i][j] = m[i][0]*n[0][j] + m[i][1]*n[1][j]
		}
	}
	return p
}

// Map takes a place to another: pixels of a shot to the frame in nm, or to pixels of another shot.
type Map interface {
	// Apply returns where p goes; coordinates that are no finite numbers where there is no such place (on the horizon
	// of a projective map, beyond the fold of a spline that is undone).
	Apply(p geom.Vec) geom.Vec
	// Jacobian is the derivative at p.
	Jacobian(p geom.Vec) Matrix
	// Inverse returns the way back, or an error where two places go to one.
	Inverse() (Map, error)
	Kind() Kind
	// Parameters is what is to be kept: ParseMap makes the same map of it, to the bit.
	Parameters() []float64
}

// Size is the local scale of m at p, the root of the change of areas: nm per px for a map to the frame.
func Size(m Map, p geom.Vec) float64 { return math.Sqrt(math.Abs(m.Jacobian(p).Det())) }

// Linear is a similarity, an affine or a projective map: a matrix in homogeneous coordinates.
//
//	X = (a·x + b·y + c)/w    Y = (d·x + e·y + f)/w    w = g·x + h·y + i
type Linear struct {
	kind Kind
	m    [3][3]float64
}

// Identity leaves every place where it is.
var Identity Map = Linear{Similarity, [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}}

// Coefficients returns the matrix, row by row.
func (l Linear) Coefficients() [3][3]float64 { return l.m }

// Kind is the narrowest that is known.
func (l Linear) Kind() Kind { return l.kind }

// Apply is as in Map.
func (l Linear) Apply(p geom.Vec) geom.Vec {
	m := &l.m
	v := geom.Vec{X: m[0][0]*p.X + m[0][1]*p.Y + m[0][2], Y: m[1][0]*p.X + m[1][1]*p.Y + m[1][2]}
	if l.kind == Projective {
		w := l.depth(p)
		return geom.Vec{X: v.X / w, Y: v.Y / w}
	}
	return v
}

// depth is the w of a place: 0 on the horizon, and of one sign on either side of it.
func (l Linear) depth(p geom.Vec) float64 { return l.m[2][0]*p.X + l.m[2][1]*p.Y + l.m[2][2] }

// Jacobian is as in Map: for X = n/w, dX = (dn − X·dw)/w.
func (l Linear) Jacobian(p geom.Vec) Matrix {
	m := &l.m
	if l.kind != Projective {
		return Matrix{{m[0][0], m[0][1]}, {m[1][0], m[1][1]}}
	}
	q, w := l.Apply(p), l.depth(p)
	return Matrix{
		{(m[0][0] - q.X*m[2][0]) / w, (m[0][1] - q.X*m[2][1]) / w},
		{(m[1][0] - q.Y*m[2][0]) / w, (m[1][1] - q.Y*m[2][1]) / w},
	}
}

// Inverse is the adjugate over the determinant; affine maps keep their last row exactly.
func (l Linear) Inverse() (Map, error) {
	if err := l.check(); err != nil {
		return nil, err
	}
	det, _ := l.determinant()
	inv := Linear{kind: l.kind}
	for i := range 3 {
		for j := range 3 {
			inv.m[j][i] = l.cofactor(i, j) / det
		}
	}
	if l.kind != Projective {
		inv.m[2] = [3]float64{0, 0, 1}
	}
	inv = inv.unit()
	if err := inv.check(); err != nil {
		return nil, err
	}
	return inv, nil
}

// cofactor is that of row i, column j, with its sign.
func (l Linear) cofactor(i, j int) float64 {
	i1, i2, j1, j2 := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
	return l.m[i1][j1]*l.m[i2][j2] - l.m[i1][j2]*l.m[i2][j1]
}

// determinant returns it with the sum of the sizes of its six terms, against which it is to be judged.
func (l Linear) determinant() (det, terms float64) {
	for j := range 3 {
		j1, j2 := (j+1)%3, (j+2)%3
		a, b := l.m[0][j]*l.m[1][j1]*l.m[2][j2], l.m[0][j]*l.m[1][j2]*l.m[2][j1]
		det, terms = det+a-b, terms+math.Abs(a)+math.Abs(b)
	}
	return det, terms
}

// check returns an error where the map cannot be undone in float64: its determinant is lost in the rounding of its terms.
func (l Linear) check() error {
	if det, terms := l.determinant(); !(math.Abs(det) > 1e-12*terms) || math.IsInf(terms, 0) {
		return fmt.Errorf("%s map that takes all places to one line or point, or beyond all numbers: it has no inverse; fit it anew", l.kind.article())
	}
	return nil
}

// unit scales the matrix so that its last entry is 1, where that can be.
func (l Linear) unit() Linear {
	if i := l.m[2][2]; l.kind == Projective && i != 0 {
		scaled := l
		for r := range 3 {
			for c := range 3 {
				scaled.m[r][c] /= i
			}
		}
		if finite(scaled.Parameters()...) {
			return scaled
		}
	}
	return l
}

// Parameters are a, b, c, d, e, f, and for a projective map also g, h, i.
func (l Linear) Parameters() []float64 {
	p := slices.Concat(l.m[0][:], l.m[1][:])
	if l.kind == Projective {
		p = append(p, l.m[2][:]...)
	}
	return p
}

// times is the matrix product: what o does first, then l.
func (l Linear) times(o Linear) Linear {
	p := Linear{kind: kinds[max(slices.Index(kinds, l.kind), slices.Index(kinds, o.kind))]}
	for i := range 3 {
		for j := range 3 {
			p.m[i][j] = l.m[i][0]*o.m[0][j] + l.m[i][1]*o.m[1][j] + l.m[i][2]*o.m[2][j]
		}
	}
	return p.unit()
}

func finite(all ...float64) bool {
	return !slices.ContainsFunc(all, func(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) })
}
