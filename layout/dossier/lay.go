package dossier

import (
	"errors"
	"fmt"

	"undermetal/layout/geom"
	"undermetal/layout/register"
)

// ErrNowhere is wrapped by the error for a shot of which nobody knows where it lies in the frame.
var ErrNowhere = errors.New("nobody knows where it lies in the frame")

// ErrFixes is wrapped by the error for a shot that fixes the frame: the others lie where they do by it.
var ErrFixes = errors.New("it fixes the frame, and cannot have its place from another")

// Laying is what a shot is laid on another by.
type Laying struct {
	On         *Shot
	Map        register.Map // the shot's pixels to those of On
	SigmaPx    float64      // its standard uncertainty at the worst corner, in px of On
	KeepShapes bool
}

// CanLayOn finds out where a shot lies on which others are to be laid. One that is calibrated and not registered lies with
// its lower left corner at the frame's origin, as long as none is registered; where others are, the error wraps ErrNowhere.
func (r reads) CanLayOn(s *Shot) (*Located, error) {
	l, err := r.Locate(s)
	if err != nil {
		return nil, err
	}
	if l.ToFrame == nil {
		return nil, fmt.Errorf("%s is neither calibrated nor registered: %w", s.Name, ErrNowhere)
	}
	if l.Registration == nil {
		maps, err := r.Registrations()
		if err != nil {
			return nil, err
		}
		if len(maps) > 0 {
			return nil, fmt.Errorf("%s is calibrated but not registered, while others are: %w", s.Name, ErrNowhere)
		}
	}
	return l, nil
}

// Lay registers a shot on another, through the other's map to the frame, and moves the shapes that were traced over it, as
// Register does. Where the other one was calibrated only, it is registered first, with its lower left corner at the frame's
// origin, where it was taken to lie: it fixes the frame from then on.
func (tx *Tx) Lay(s *Shot, l *Laying) (m Moved, err error) {
	on, err := tx.canLay(s, l)
	if err != nil {
		return m, err
	}
	if on.Registration == nil {
		if _, err := tx.Register(l.On, on.asItLies()); err != nil {
			return m, fmt.Errorf("%s: %w", l.On.Name, err)
		}
	}
	return tx.Register(s, l.through(s, on))
}

// TryLay returns what Lay would move, and its errors about places, map and shapes, and changes nothing.
func (r reads) TryLay(s *Shot, l *Laying) (m Moved, err error) {
	on, err := r.canLay(s, l)
	if err != nil {
		return m, err
	}
	return r.TryRegister(s, l.through(s, on))
}

// canLay returns where the other shot lies.
func (r reads) canLay(s *Shot, l *Laying) (*Located, error) {
	if err := r.CanBeLaid(s); err != nil {
		return nil, err
	}
	return r.CanLayOn(l.On)
}

// CanBeLaid returns an error that wraps ErrFixes for a shot that the frame has its scale, or its place, from: the only one
// that is registered by control points, or the one whose calibration counts. Laid on another it would lie by itself.
func (r reads) CanBeLaid(s *Shot) error {
	maps, err := r.Registrations()
	if err != nil {
		return err
	}
	if g := maps[s.ID]; g == nil || g.Laid() {
		return nil
	}
	first, fixes, err := r.FrameScale()
	if err != nil {
		return err
	}
	others := 0
	for id, g := range maps {
		if id != s.ID && !g.Laid() {
			others++
		}
	}
	if others == 0 || fixes && first.ID == s.ID {
		return fmt.Errorf("%s: %w", s.Name, ErrFixes)
	}
	return nil
}

// through goes on from the pixels of the other shot to the frame. What is px of the other in SigmaPx is px of s, and nm, as
// in the middle of s.
func (l *Laying) through(s *Shot, on *Located) *Registering {
	w, h := s.Size()
	middle := geom.Vec{X: w / 2, Y: h / 2}
	return &Registering{Map: register.Compose(l.Map, on.ToFrame), KeepShapes: l.KeepShapes,
		RmsPx: l.SigmaPx / register.Size(l.Map, middle), RmsNm: l.SigmaPx * register.Size(on.ToFrame, l.Map.Apply(middle))}
}

// asItLies is the registration that leaves a calibrated shot where it is: by its two lower corners.
func (l *Located) asItLies() *Registering {
	p, q := ControlPoint{PY: l.Height}, ControlPoint{PX: l.Width, PY: l.Height}
	q.X = l.Width * l.Scale.NmPerPx
	return &Registering{Map: l.ToFrame, Points: []ControlPoint{p, q}, Residuals: []float64{0, 0}}
}
