package check

import (
	"math"

	"undermetal/layout/geom"
	"undermetal/layout/stack"
)

// slivers finds pieces of conductors and contacts that are narrower than the tolerance everywhere. A straight piece is as
// wide as the narrowest strip that holds it; a bent one is taken for narrow where twice its area by its perimeter, which is
// less than its width, is below half of the tolerance.
func (d *drawing) slivers() error {
	tol := float64(d.opt.ToleranceNm)
	suspects := map[int32][]geom.Point{}
	for i := range d.pieces {
		p := &d.pieces[i]
		if d.checked(p.layer) && d.whole(p) && p.narrow() < tol { // no convex piece below tol has more
			suspects[int32(i)] = nil
		}
	}
	if len(suspects) == 0 {
		return d.ctx.Err()
	}
	for l := range d.conduct {
		for _, b := range d.conduct[l].borders {
			if ps, ok := suspects[b.piece]; ok {
				suspects[b.piece] = append(ps, b.a, b.b)
			}
		}
	}
	for i := range d.pieces {
		ps, ok := suspects[int32(i)]
		if !ok {
			continue
		}
		p := &d.pieces[i]
		width := ringWidth(hull(ps))
		if bent := p.narrow(); width >= tol && bent < tol/2 {
			width = bent
		}
		if width < tol {
			f := at(Sliver, p.layer, p.place(), "a piece only %s wide: remove it, or draw it as wide as it is", um(nearest(width)))
			f.Gap, f.HasGap = nearest(width), true
			d.add(f)
		}
	}
	return d.ctx.Err()
}

// narrow returns twice the area by the perimeter, in nm, to a millionth: sums of areas differ in their last bits with strips.
func (p *piece) narrow() float64 { return math.Round(2*p.area/p.perimeter*1e6) / 1e6 }

// whole reports whether a piece is all of a connected part of its layer, which sources and drains are not.
func (d *drawing) whole(p *piece) bool {
	switch d.st.Layers[p.layer].Role {
	case stack.Metal, stack.Contact, stack.Gate, stack.Diffusion:
		return p.perimeter > 0 && !p.crossing
	}
	return false
}
