package dossier

import (
	"errors"
	"fmt"
	"math"

	"undermetal/layout/geom"
	"undermetal/layout/register"
)

// ErrTraced is wrapped by the errors of Register and Calibrate that are due to what was traced over the shot: where that is
// left where it is, they do not come.
var ErrTraced = errors.New("what was traced over it cannot go with it")

// Registering is what a shot is to be registered by.
type Registering struct {
	Map        register.Map   // its pixels to the frame
	Points     []ControlPoint // it was fitted to; none where it was found by laying the photograph on another
	Residuals  []float64      // in px, of the points in their order
	RmsPx      float64        // of the residuals; without points the standard uncertainty
	RmsNm      float64
	KeepShapes bool // leave what was traced over the shot where it is
}

// Moved is what became of the shapes that were traced over a shot.
type Moved struct {
	ByLayer  map[string]int
	Furthest float64 // nm
	InCells  int     // that stay: a cell has coordinates of its own, and may be placed elsewhere too
}

// Register says where a shot lies: it keeps the points and the map, and moves the shapes of the die that were traced over
// the shot from where it lay to where it lies now, with its biases, which stay what they were in px. Other things that are drawn do not know their shot, and stay.
func (tx *Tx) Register(s *Shot, n *Registering) (m Moved, err error) {
	g := &Registration{Shot: s.ID, Kind: string(n.Map.Kind()), Parameters: n.Map.Parameters(), Residuals: n.Residuals, RmsPx: n.RmsPx, RmsNm: n.RmsNm}
	if m, err = tx.registering(s, n, tx.SetShape); err == nil && !n.KeepShapes {
		err = tx.growWithMap(s, n.Map)
	}
	if err == nil {
		err = errors.Join(tx.SetControlPoints(s.ID, n.Points), tx.SetRegistration(g))
	}
	return m, err
}

// growWithMap lets the biases of a shot grow with its pixels, which a map is about to take elsewhere.
func (tx *Tx) growWithMap(s *Shot, to register.Map) error {
	before, err := tx.Locate(s)
	if err != nil || before.ToFrame == nil {
		return err
	}
	at := before.Middle()
	return tx.growBiases(s.ID, register.Size(to, at)/register.Size(before.ToFrame, at))
}

// TryRegister returns what Register would move, and its errors about map and shapes, and changes nothing.
func (r reads) TryRegister(s *Shot, n *Registering) (Moved, error) {
	return r.registering(s, n, func(*Shape) error { return nil })
}

func (r reads) registering(s *Shot, n *Registering, set func(*Shape) error) (m Moved, err error) {
	if err := s.CheckMap(n.Map); err != nil {
		return m, err
	}
	if n.KeepShapes {
		return m, nil
	}
	before, err := r.Locate(s)
	if err != nil {
		return m, fmt.Errorf("%w: %w", ErrTraced, err)
	}
	if before.FromFrame == nil {
		return m, nil
	}
	return r.moveShapes(s.ID, before.FromFrame, n.Map, set)
}

// moveShapes takes the shapes of the die that were traced over a shot back to its pixels and from there to where these lie
// now.
func (r reads) moveShapes(shot int64, back, there register.Map, set func(*Shape) error) (m Moved, err error) {
	m.ByLayer = map[string]int{}
	if m.InCells, err = r.count("SELECT count(*) FROM shape WHERE shot = ? AND cell <> ?", shot, Frame); err != nil {
		return m, err
	}
	shapes, err := query(r, "SELECT "+shapeColumns+" FROM shape s WHERE shot = ? AND cell = ? ORDER BY id", scanShape, shot, Frame)
	for i := 0; i < len(shapes) && err == nil; i++ {
		s := &shapes[i]
		var far float64
		if far, err = s.move(back, there); err == nil && far > 0 {
			m.Furthest = max(m.Furthest, far)
			m.ByLayer[s.Layer]++
			err = set(s)
		}
	}
	return m, err
}

// move moves a shape, its edges as uncertain in pixels as before, and returns how far its corners went, in nm.
func (s *Shape) move(back, there register.Map) (far float64, err error) {
	for i, ring := range s.Polygon {
		before := make(geom.Ring, len(ring))
		for k, pt := range ring {
			from := geom.Vec{X: float64(pt.X), Y: float64(pt.Y)}
			px := back.Apply(from)
			to := there.Apply(px)
			if i == 0 && k == 0 {
				if grows := register.Size(back, from) * register.Size(there, px); s.SigmaNm > 0 && grows > 0 {
					s.SigmaNm *= grows
				}
			}
			if !inFrame(to) {
				return 0, fmt.Errorf("%w: a shape on %s at (%g, %g) µm would leave the frame", ErrTraced, s.Layer, from.X/1000, from.Y/1000)
			}
			before[k], ring[k] = pt, to.Round()
			far = max(far, math.Hypot(float64(ring[k].X-pt.X), float64(ring[k].Y-pt.Y)))
		}
		if before.Area() != 0 && ring.Area() == 0 {
			return 0, fmt.Errorf("%w: a shape on %s at (%g, %g) µm would become smaller than the frame's grid of 1 nm", ErrTraced, s.Layer, float64(before[0].X)/1000, float64(before[0].Y)/1000)
		}
	}
	return far, nil
}
