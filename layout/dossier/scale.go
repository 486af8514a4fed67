package dossier

import (
	"errors"
	"fmt"
	"math"

	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/shot"
)

// MapScale is the scale of a map to the frame at some place; Sigma, its standard uncertainty, is NaN where nobody knows it.
type MapScale struct{ NmPerPx, Sigma float64 }

// ScaleOf is the scale of a fit to control points at a place, with the uncertainty that the points leave.
func ScaleOf(f *register.Fit, at geom.Vec) MapScale {
	nm := register.Size(f.Map, at)
	return MapScale{nm, nm * f.SigmaScale}
}

// String has five digits where no uncertainty, or one of rounding errors, says how many are right.
func (s MapScale) String() string {
	if s.Sigma > 1e-6*s.NmPerPx {
		return shot.Scale{NmPerPx: s.NmPerPx, Sigma: s.Sigma}.String()
	}
	return fmt.Sprintf("%.5g µm/px", s.NmPerPx/1000)
}

// Agrees reports whether a calibration differs by three standard deviations or less.
func (s MapScale) Agrees(c shot.Scale) bool {
	sigma := c.Sigma
	if !math.IsNaN(s.Sigma) {
		sigma = math.Hypot(sigma, s.Sigma)
	}
	return math.Abs(s.NmPerPx-c.NmPerPx) <= 3*sigma+1e-9*c.NmPerPx
}

// MapScale returns the scale of a registered shot's map at the middle of its control points, or of the photograph where it
// has none. The map is fitted once more, since its uncertainty is not kept; of a shot that was laid on another, the scale is
// as uncertain as would move a corner by what is kept of that.
func (r reads) MapScale(l *Located) (MapScale, error) {
	kept, err := r.ControlPoints(l.ID)
	if err != nil {
		return MapScale{}, err
	}
	at := l.Middle()
	var points []register.Point
	for i, k := range kept {
		p := register.Point{From: geom.Vec{X: k.PX, Y: k.PY}, To: geom.Vec{X: k.X, Y: k.Y}, Sigma: k.SigmaPx}
		points = append(points, p)
		if i == 0 {
			at = geom.Vec{}
		}
		at = geom.Vec{X: at.X + k.PX/float64(len(kept)), Y: at.Y + k.PY/float64(len(kept))}
	}
	s := MapScale{register.Size(l.ToFrame, at), math.NaN()}
	if l.Registration.Laid() {
		s.Sigma = s.NmPerPx * l.Registration.RmsPx / math.Hypot(l.Width/2, l.Height/2)
		return s, nil
	}
	if kind := l.ToFrame.Kind(); kind.Points() > 0 && kind != register.Spline {
		if f, err := register.FitPoints(kind, points, register.ToFrame); err == nil {
			s.Sigma = s.NmPerPx * ScaleOf(f, at).Sigma / register.Size(f.Map, at)
		}
	}
	return s, nil
}

// FrameScale returns the shot that the frame has its scale from, and whether it really has: the first shot in the list that
// is registered by control points and calibrated; as long as none is registered, the first that is calibrated; nil where
// there is none. One that was laid on another shot has its scale from that. Where the shot is registered and its map says
// another scale than its calibration, the frame has its scale from the control points, and fixes is false.
func (r reads) FrameScale() (first *Shot, fixes bool, err error) {
	shots, err := r.Shots()
	if err != nil {
		return nil, false, err
	}
	maps, err := r.Registrations()
	if err != nil {
		return nil, false, err
	}
	for i := range shots {
		g := maps[shots[i].ID]
		if shots[i].Scale.NmPerPx > 0 && (len(maps) == 0 || g != nil && !g.Laid()) {
			first = &shots[i]
			break
		}
	}
	if first == nil {
		return nil, false, nil
	}
	l, err := r.Locate(first)
	if err != nil || l.Registration == nil {
		return first, err == nil, err
	}
	k, err := r.MapScale(l)
	return first, err == nil && k.Agrees(first.Scale), err
}

// Calibrate gives a shot a scale. Where the frame has its scale from the shot, everything that is drawn, and the maps of
// registered shots, grow with it, by the factor that is returned; else what was traced over the shot, as long as that is
// not registered, goes with its corner, which is the frame's origin, whatever the others say. keepShapes leaves all of that
// as it is.
func (tx *Tx) Calibrate(s *Shot, scale shot.Scale, keepShapes bool) (factor float64, err error) {
	factor = 1
	if !keepShapes {
		if factor, err = tx.growWith(s, scale); err != nil {
			return 1, err
		}
	}
	s.Scale = scale
	return factor, tx.SetShot(s)
}

// growWith is what Calibrate does to what is drawn.
func (tx *Tx) growWith(s *Shot, scale shot.Scale) (factor float64, err error) {
	first, fixes, err := tx.FrameScale()
	if err != nil {
		return 1, err
	}
	before, err := tx.Locate(s)
	switch {
	case err != nil:
		return 1, err
	case fixes && first.ID == s.ID:
		factor = scale.NmPerPx / s.Scale.NmPerPx
		if factor == 1 {
			return 1, nil
		}
		return factor, tx.Rescale(factor)
	case before.Registration == nil && before.FromFrame != nil:
		if _, err = tx.moveShapes(s.ID, before.FromFrame, atCorner(scale.NmPerPx, before.Height), tx.SetShape); err == nil {
			err = tx.growBiases(s.ID, scale.NmPerPx/s.Scale.NmPerPx)
		}
	}
	return 1, err
}

// Registrations returns those of all shots, by the shots' ids.
func (r reads) Registrations() (map[int64]*Registration, error) {
	shots, err := r.Shots()
	if err != nil {
		return nil, err
	}
	all := map[int64]*Registration{}
	for _, s := range shots {
		g, err := r.Registration(s.ID)
		switch {
		case err == nil:
			all[s.ID] = g
		case !errors.Is(err, ErrMissing):
			return nil, err
		}
	}
	return all, nil
}
