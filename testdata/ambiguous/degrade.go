package ambiguous

import (
	"math/rand/v2"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/region"
	"undermetal/layout/stack"
)

// Fault is a thing that a hand got wrong.
type Fault string

// The faults, and how likely each is at level 1; at others in proportion.
const (
	EdgesOff            Fault = "edges off"                  // always: each corner by 1 to 2 px times the level
	ContactsMissing     Fault = "contacts missing"           // each contact or via, 8 %
	ContactsMoved       Fault = "contacts moved"             // each, 15 %, by half a feature to a whole one
	MetalMissing        Fault = "metal missing"              // 50 %: a gap in a line
	MetalFalse          Fault = "metal bridge where none is" // 40 %
	OpeningsClosed      Fault = "openings of a mesh closed"  // each opening of a waffle or a ring, 15 %, by a third to two thirds
	DiffusionContinuous Fault = "diffusion continuous"       // 40 %, where it ends or is missing beneath a plate
	DiffusionOmitted    Fault = "diffusion omitted"          // 40 %, beneath gates
	LabelsMissing       Fault = "labels missing"             // each label, 40 %
	AreaEnds            Fault = "traced area ends inside"    // 30 %
)

// Faults lists all faults in the order in which they are made.
var Faults = []Fault{MetalMissing, MetalFalse, DiffusionContinuous, DiffusionOmitted, OpeningsClosed, ContactsMissing, ContactsMoved,
	LabelsMissing, EdgesOff, AreaEnds}

// hand is somebody who traces a case.
type hand struct {
	*rand.Rand
	c     *Case
	level float64
	px    float64 // nm
}

// Degrade returns a case as a hand traces it from photographs of 50 to 100 nm a pixel, finer where features are small: with
// faults that are the more frequent and the larger the higher the level is, which goes from 0 (none) to 1. What is true
// stays; where nets are named, places may lie on nothing any more, but the place that is asked about lies on its layer.
// Outlines stay valid, and Case.Faults says which faults were made. The same seed gives the same case; c is not changed.
func Degrade(c Case, seed uint64, level float64) Case {
	c = clone(c)
	level = min(max(level, 0), 1)
	if level == 0 {
		return c
	}
	h := &hand{Rand: rand.New(rand.NewPCG(seed, 0x68616e64)), c: &c, level: level}
	h.px = min(50+50*h.Float64(), float64(c.FeatureNm)/10)
	if h.chance(0.5) {
		h.note(MetalMissing, h.gap())
	}
	if h.chance(0.4) {
		h.note(MetalFalse, h.bridge())
	}
	if h.chance(0.4) {
		h.note(DiffusionContinuous, h.continuous())
	}
	if h.chance(0.4) && !slices.Contains(c.Faults, DiffusionContinuous) {
		h.note(DiffusionOmitted, h.omit())
	}
	h.note(OpeningsClosed, h.closeOpenings())
	h.contacts()
	h.labels()
	h.edges()
	if h.chance(0.3) {
		h.note(AreaEnds, h.end())
	}
	return c
}

// WithoutContacts returns a case without its contacts, as if they had not been traced yet; vias stay.
func WithoutContacts(c Case) Case {
	c = clone(c)
	c.Top.Shapes = slices.DeleteFunc(c.Top.Shapes, func(s layout.Shape) bool { return reachesDiffusion(c.Stack, s.Layer) })
	return c
}

func reachesDiffusion(st *stack.Stack, l layout.Layer) bool {
	return slices.ContainsFunc(st.Layers[l].Joins, func(j layout.Layer) bool { return st.Layers[j].Role == stack.Diffusion })
}

// clone copies what a hand may change; polygons are replaced, never changed.
func clone(c Case) Case {
	top := *c.Top
	top.Shapes, top.Labels = slices.Clone(top.Shapes), slices.Clone(top.Labels)
	lib := *c.Library
	lib.Cells, lib.Traced = []*layout.Cell{&top}, slices.Clone(lib.Traced)
	c.Top, c.Library, c.Faults = &top, &lib, slices.Clone(c.Faults)
	return c
}

func (h *hand) chance(p float64) bool { return h.Float64() < p*h.level }

func (h *hand) note(f Fault, made bool) {
	if made && !slices.Contains(h.c.Faults, f) {
		h.c.Faults = append(h.c.Faults, f)
	}
}

func (h *hand) role(l layout.Layer) stack.Role { return h.c.Stack.Layers[l].Role }

func (h *hand) contacts() {
	shapes := h.c.Top.Shapes[:0]
	for _, s := range h.c.Top.Shapes {
		if h.role(s.Layer) == stack.Contact {
			if h.chance(0.08) {
				h.note(ContactsMissing, true)
				continue
			}
			if h.chance(0.15) {
				f := float64(h.c.FeatureNm) * (0.5 + 0.5*h.Float64())
				s.Polygon = geom.Move(h.toward(f)).ApplyPolygon(s.Polygon)
				h.note(ContactsMoved, true)
			}
		}
		shapes = append(shapes, s)
	}
	h.c.Top.Shapes = shapes
}

func (h *hand) labels() {
	n := len(h.c.Top.Labels)
	h.c.Top.Labels = slices.DeleteFunc(h.c.Top.Labels, func(layout.Label) bool { return h.chance(0.4) })
	h.note(LabelsMissing, len(h.c.Top.Labels) < n)
}

// edges moves all corners. Long edges get corners of their own, as a hand sets them.
func (h *hand) edges() {
	for i := range h.c.Top.Shapes {
		s := &h.c.Top.Shapes[i]
		for by := h.level * h.px; by > 1; by /= 2 {
			var pg geom.Polygon
			for _, r := range s.Polygon {
				pg = append(pg, h.jitter(r, by))
			}
			if _, bad := pg.Fault(); !bad {
				s.Polygon = pg
				h.note(EdgesOff, true)
				break
			}
		}
	}
}

func (h *hand) jitter(r geom.Ring, by float64) geom.Ring {
	var out geom.Ring
	move := func(p geom.Point) { out = append(out, p.Add(h.toward(by*(1+h.Float64())))) }
	long := 4 * h.c.FeatureNm
	for i, p := range r {
		q := r[(i+1)%len(r)]
		move(p)
		if d := q.Sub(p); max(d.X, -d.X, d.Y, -d.Y) > long && h.chance(0.5) {
			t := 0.3 + 0.4*h.Float64()
			move(p.Add(geom.Vec{X: float64(d.X) * t, Y: float64(d.Y) * t}.Round()))
		}
	}
	return out
}

// end lets the traced area end between the place that is asked about and the border of its structure, and drops what lies beyond.
func (h *hand) end() bool {
	area := geom.EmptyRect()
	for i := range h.c.Top.Shapes {
		area = area.Union(h.c.Top.Shapes[i].Polygon.Bounds())
	}
	f := h.c.FeatureNm
	area = geom.Rect{Min: area.Min.Sub(geom.Point{X: f, Y: f}), Max: area.Max.Add(geom.Point{X: f, Y: f})}
	at, box := h.c.Place.At, h.c.Box
	sides := []struct {
		border   *int
		from, to int
	}{{&area.Min.X, at.X, box.Min.X}, {&area.Max.X, at.X, box.Max.X}, {&area.Min.Y, at.Y, box.Min.Y}, {&area.Max.Y, at.Y, box.Max.Y}}
	sides = slices.DeleteFunc(sides, func(s struct {
		border   *int
		from, to int
	}) bool {
		return max(s.to-s.from, s.from-s.to) < 4*f
	})
	if len(sides) == 0 {
		return false
	}
	side := sides[h.IntN(len(sides))]
	*side.border = side.from + int(float64(side.to-side.from)*(0.4+0.5*h.Float64()))
	h.crop(area)
	return true
}

func (h *hand) crop(area geom.Rect) {
	frame := geom.Polygon{area.Ring()}
	shapes := h.c.Top.Shapes[:0:0]
	for _, s := range h.c.Top.Shapes {
		if b := s.Polygon.Bounds(); area.Contains(b.Min) && area.Contains(b.Max) {
			shapes = append(shapes, s)
		} else if b.Overlaps(area) {
			_, inside := region.Cut(s.Polygon, frame)
			for _, pg := range inside {
				shapes = append(shapes, layout.Shape{Layer: s.Layer, Polygon: pg})
			}
		}
	}
	h.c.Top.Shapes = shapes
	h.c.Top.Labels = slices.DeleteFunc(h.c.Top.Labels, func(l layout.Label) bool { return !area.Contains(l.At) })
	for l := range h.c.Stack.Layers {
		h.c.Library.Traced = append(h.c.Library.Traced, layout.Shape{Layer: layout.Layer(l), Polygon: frame})
	}
}
