package check

import (
	"math"

	"undermetal/layout/geom"
)

// offShots finds shapes of the top cell that reach beyond the photograph that they were traced over by more than the
// tolerance, and those that were traced over none that is known and lie on none at all. What lies in placed cells is not
// looked at: a cell is placed elsewhere, too.
func (d *drawing) offShots() error {
	if len(d.opt.Shots) == 0 {
		return nil
	}
	for i := range d.top.Shapes {
		s := &d.top.Shapes[i]
		if !d.checked(s.Layer) {
			continue
		}
		over := -1
		if d.opt.Over != nil {
			over = d.opt.Over(i)
		}
		if over < -1 {
			continue
		}
		if over >= 0 {
			shot := &d.opt.Shots[over]
			by, p := beyond(s.Polygon, shot.Outline)
			if by > float64(d.opt.ToleranceNm) {
				f := at(OffShot, s.Layer, p, "reaches %s beyond the photograph %s that it was traced over: cut it off, or register the photograph anew", um(nearest(by)), shot.Name)
				f.Gap, f.HasGap = nearest(by), true
				d.add(f)
			}
			continue
		}
		if on := d.onAnyShot(s.Polygon); !on && len(s.Polygon) > 0 && len(s.Polygon[0]) > 0 {
			d.add(at(OffShot, s.Layer, s.Polygon[0][0], "lies on no photograph: move it, or register the one that it was traced over"))
		}
	}
	return nil
}

func (d *drawing) onAnyShot(pg geom.Polygon) bool {
	for i := range d.opt.Shots {
		out := d.opt.Shots[i].Outline
		if !pg.Bounds().Overlaps(out.Bounds()) {
			continue
		}
		if by, _ := beyond(pg, out); by == 0 || meets(pg, out) {
			return true
		}
	}
	return false
}

// meets reports whether the outlines of two polygons have a point in common, or one holds a corner of the other.
func meets(a, b geom.Polygon) bool {
	for _, r := range a {
		for i, p := range r {
			if b.Locate(p) != geom.Outside {
				return true
			}
			for _, s := range b {
				for k, q := range s {
					if geom.SegmentsMeet(p, r[(i+1)%len(r)], q, s[(k+1)%len(s)]) {
						return true
					}
				}
			}
		}
	}
	return len(b) > 0 && len(b[0]) > 0 && a.Locate(b[0][0]) != geom.Outside
}

// beyond returns the corner of pg that lies farthest outside of another polygon, and how far, in nm; 0: none does.
func beyond(pg, of geom.Polygon) (most float64, at geom.Point) {
	for _, r := range pg {
		for _, p := range r {
			if of.Locate(p) != geom.Outside {
				continue
			}
			least := math.Inf(1)
			for _, s := range of {
				for k, a := range s {
					if b := s[(k+1)%len(s)]; a != b {
						e := border{a: a, b: b}
						least = min(least, onto(toVec(p), &e).minus(toVec(p)).length())
					}
				}
			}
			if least > most {
				most, at = least, p
			}
		}
	}
	return most, at
}
