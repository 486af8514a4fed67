package align

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// bend is a small map from the level to itself, in units in which the level's places are near 1.
type bend struct {
	p            [8]float64
	free         int // 2 shifts, 4 turns and scales, 6 is affine, 8 projective
	cx, cy, unit float64
}

// rows are the derivatives of where a place goes by the parameters, at no bend; x and y in units.
func (b *bend) rows(x, y float64) (rx, ry [8]float64) {
	if b.free <= 4 {
		return [8]float64{1, 0, x, -y}, [8]float64{0, 1, y, x}
	}
	return [8]float64{1, 0, x, y, 0, 0, -x * x, -x * y}, [8]float64{0, 1, 0, 0, x, y, -x * y, -y * y}
}

// step returns how far the bend moves a place of the level, to the first order.
func (b *bend) step(px, py float64) (dx, dy float64) {
	rx, ry := b.rows((px-b.cx)/b.unit, (py-b.cy)/b.unit)
	for i := range b.free {
		dx += rx[i] * b.p[i]
		dy += ry[i] * b.p[i]
	}
	return dx * b.unit, dy * b.unit
}

// matrix is the bend as a map of px of the level.
func (b *bend) matrix() matrix {
	p := b.p // what is not free is 0
	m := matrix{{1 + p[2], p[3], p[0]}, {p[4], 1 + p[5], p[1]}, {p[6], p[7], 1}}
	if b.free <= 4 {
		m = matrix{{1 + p[2], -p[3], p[0]}, {p[3], 1 + p[2], p[1]}, {0, 0, 1}}
	}
	in := matrix{{1 / b.unit, 0, -b.cx / b.unit}, {0, 1 / b.unit, -b.cy / b.unit}, {0, 0, 1}}
	return in.then(m).then(in.inverse())
}

// frame is a bend of nothing about the middle of surfaces.
func frame(all []surface, free int) *bend {
	b := &bend{free: free}
	n := float64(len(all))
	for i := range all {
		b.cx, b.cy = b.cx+all[i].x/n, b.cy+all[i].y/n
	}
	for i := range all {
		b.unit += (all[i].x-b.cx)*(all[i].x-b.cx) + (all[i].y-b.cy)*(all[i].y-b.cy)
	}
	b.unit = max(1, math.Sqrt(b.unit/n))
	return b
}

// loosen makes an affine map of a similarity.
func (b *bend) loosen() {
	k, t := b.p[2], b.p[3]
	b.free, b.p[2], b.p[3], b.p[4], b.p[5] = 6, k, -t, t, k
}

// under is what a surface says at a bend; where the step leaves it, nothing.
func (s *surface) under(b *bend) float64 {
	dx, dy := b.step(s.x, s.y)
	v, _, _, _, _, _ := s.smooth(dx, dy)
	return v
}

// value is the sum over all surfaces at a bend; where a step leaves a surface, it adds nothing.
func value(all []surface, b *bend) (sum float64) {
	for i := range all {
		sum += all[i].under(b)
	}
	return sum
}

// slopes returns the gradient of the surfaces' sum by the parameters, its second derivatives with their signs turned, the
// sum of the squares of single surfaces' gradients, and a size to damp by.
func slopes(all []surface, b *bend) (gradient *mat.VecDense, hessian, squares *mat.SymDense, scale float64) {
	n := b.free
	gradient, hessian, squares = mat.NewVecDense(n, nil), mat.NewSymDense(n, nil), mat.NewSymDense(n, nil)
	own := mat.NewVecDense(n, nil)
	for i := range all {
		s := &all[i]
		dx, dy := b.step(s.x, s.y)
		_, gx, gy, hxx, hxy, hyy := s.smooth(dx, dy)
		rx, ry := b.rows((s.x-b.cx)/b.unit, (s.y-b.cy)/b.unit)
		for j := range n {
			own.SetVec(j, b.unit*(gx*rx[j]+gy*ry[j]))
			for k := j; k < n; k++ {
				h := b.unit * b.unit * (hxx*rx[j]*rx[k] + hxy*(rx[j]*ry[k]+ry[j]*rx[k]) + hyy*ry[j]*ry[k])
				hessian.SetSym(j, k, hessian.At(j, k)-h)
			}
		}
		gradient.AddVec(gradient, own)
		squares.SymRankOne(squares, 1, own)
		scale += b.unit * b.unit * (math.Abs(hxx) + math.Abs(hyy))
	}
	return
}

// climb finds the bend at which the surfaces' sum is highest, from where it is: Newton's steps, damped as Levenberg and
// Marquardt do.
func climb(all []surface, b *bend) {
	best := value(all, b)
	for damp, round := 1e-3, 0; round < 40 && damp < 1e6; round++ {
		gradient, hessian, _, scale := slopes(all, b)
		moved := false
		for ; damp < 1e6; damp *= 8 {
			damped := mat.NewSymDense(b.free, nil)
			damped.CopySym(hessian)
			for j := range b.free {
				damped.SetSym(j, j, damped.At(j, j)+damp*scale)
			}
			var cholesky mat.Cholesky
			var step mat.VecDense
			if !cholesky.Factorize(damped) || cholesky.SolveVecTo(&step, gradient) != nil {
				continue
			}
			next := *b
			largest := 0.0
			for j := range b.free {
				next.p[j] += step.AtVec(j)
				largest = max(largest, math.Abs(step.AtVec(j))*b.unit)
			}
			if v := value(all, &next); v > best {
				*b, best, damp = next, v, damp/20
				moved = largest > 1e-3
				break
			}
		}
		if !moved {
			break
		}
	}
}

// vote tries all shifts, small turns and scales within reach of the surfaces, and leaves b at the best.
func vote(all []surface, b *bend, degrees, percent float64) {
	reach := all[0].reach
	best := math.Inf(-1)
	var at bend
	n := 2*reach + 1
	sum := make([]float32, n*n)
	stepTurn := 1.5 / b.unit // of the level's px at the usual distance from the middle
	for t := -math.Floor(degrees*math.Pi/180/stepTurn) * stepTurn; t <= degrees*math.Pi/180; t += stepTurn {
		for k := -math.Floor(percent/100/stepTurn) * stepTurn; k <= percent/100; k += stepTurn {
			try := bend{free: 4, cx: b.cx, cy: b.cy, unit: b.unit, p: [8]float64{0, 0, k, t}}
			clear(sum)
			for i := range all {
				s := &all[i]
				dx, dy := try.step(s.x, s.y)
				ix, iy := int(math.Round(dx)), int(math.Round(dy))
				for y := max(-reach, -reach-iy); y <= min(reach, reach-iy); y++ {
					x0, x1 := max(-reach, -reach-ix), min(reach, reach-ix)
					if x1 < x0 {
						continue
					}
					to := sum[(y+reach)*n+x0+reach : (y+reach)*n+x1+reach+1]
					from := s.v[(y+iy+reach)*n+x0+ix+reach:]
					for j := range to {
						to[j] += from[j]
					}
				}
			}
			for j, v := range sum {
				if float64(v) > best {
					best = float64(v)
					at = try
					at.p[0], at.p[1] = float64(j%n-reach)/b.unit, float64(j/n-reach)/b.unit
				}
			}
		}
	}
	*b = at
}
