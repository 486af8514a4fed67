package main

import (
	"context"
	"image"
	"math"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/shot"
)

// paintShapes draws what of the tracing lies in a view, cells that are placed there too, and returns the inks that it
// took.
func (v *view) paintShapes(ctx context.Context, img *image.RGBA) (inks []shot.Ink, err error) {
	if !v.f.shapes {
		return nil, nil
	}
	lib := v.lib
	if lib == nil {
		if lib, err = v.d.Library(); err != nil {
			return nil, err
		}
	}
	top := v.top
	if top == nil {
		top = lib.Cells[0]
	}
	flat, err := layout.Flatten(top)
	if err != nil {
		return nil, err
	}
	box := v.p.Around(v.x0, v.y0, v.x0+v.k*float64(v.width), v.y0+v.k*float64(v.height))
	sight := v.sight()
	polygons := make([][]geom.Polygon, len(lib.Layers))
	walk := layout.Walk{Layers: ^uint64(0), Overlaps: box.Overlaps, Yield: func(p *layout.Placed) bool {
		if pg := p.Transform.ApplyPolygon(p.Shape.Polygon); sight.sees(pg) {
			polygons[p.Shape.Layer] = append(polygons[p.Shape.Layer], sight.bent(pg))
		}
		return ctx.Err() == nil
	}}
	walk.Run(flat)
	for i, name := range lib.Layers {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if len(polygons[i]) > 0 {
			ink := shot.InkFor(i, name)
			shot.Paint(img, ink, polygons[i], sight.at)
			inks = append(inks, ink)
		}
	}
	return inks, nil
}

// sight takes places of the frame to a picture.
type sight struct {
	v     *view
	from  register.Map
	sense bool    // how the map turns in the middle of the picture
	step  float64 // nm: edges longer than this are bent as the map bends them; 0: it leaves lines straight
}

func (v *view) sight() *sight {
	middle := v.middle()
	s := &sight{v: v, from: v.p.FromFrame, sense: v.p.ToFrame.Jacobian(middle).Det() > 0}
	if _, straight := v.p.ToFrame.(register.Linear); !straight {
		s.step = register.Size(v.p.ToFrame, middle) * v.k * float64(v.width) / 64
	}
	return s
}

// at returns where in the picture a place lies.
func (s *sight) at(pt geom.Point) (x, y float64) {
	q := s.from.Apply(geom.Vec{X: float64(pt.X), Y: float64(pt.Y)})
	return (q.X - s.v.x0) / s.v.k, (q.Y - s.v.y0) / s.v.k
}

// sees reports whether the map knows all corners of a polygon: none is beyond the horizon of a projective map, where it
// turns the other way round, or where a spline has no place.
func (s *sight) sees(pg geom.Polygon) bool {
	for _, ring := range pg {
		for _, pt := range ring {
			v := geom.Vec{X: float64(pt.X), Y: float64(pt.Y)}
			q, det := s.from.Apply(v), s.from.Jacobian(v).Det()
			if math.IsNaN(q.X+q.Y) || math.IsInf(q.X+q.Y, 0) || math.IsNaN(det) || det > 0 != s.sense {
				return false
			}
		}
	}
	return true
}

// bent puts places on the edges of a polygon that a spline bends.
func (s *sight) bent(pg geom.Polygon) geom.Polygon {
	if !(s.step > 0) {
		return pg
	}
	const most = 256 // pieces of an edge
	var out geom.Polygon
	for _, ring := range pg {
		var r geom.Ring
		for i, a := range ring {
			b := ring[(i+1)%len(ring)]
			dx, dy := float64(b.X-a.X), float64(b.Y-a.Y)
			n := max(1, math.Min(most, math.Ceil(math.Hypot(dx, dy)/s.step)))
			for t := range int(n) {
				r = append(r, geom.Vec{X: float64(a.X) + dx*float64(t)/n, Y: float64(a.Y) + dy*float64(t)/n}.Round())
			}
		}
		out = append(out, r)
	}
	return out
}
