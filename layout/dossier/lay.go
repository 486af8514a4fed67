package dossier

import (
	"errors"
	"fmt"

	"undermetal/layout/register"
)

// ErrNowhere is wrapped by the error for a shot of which nobody knows where it lies in the frame.
var ErrNowhere = errors.New("nobody knows where it lies in the frame")

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
	on, err := tx.CanLayOn(l.On)
	if err != nil {
		return m, err
	}
	if on.Registration == nil {
		if _, err := tx.Register(l.On, on.asItLies()); err != nil {
			return m, fmt.Errorf("%s: %w", l.On.Name, err)
		}
	}
	return tx.Register(s, l.through(on))
}

// TryLay returns what Lay would move, and its errors about places, map and shapes, and changes nothing.
func (r reads) TryLay(s *Shot, l *Laying) (m Moved, err error) {
	on, err := r.CanLayOn(l.On)
	if err != nil {
		return m, err
	}
	return r.TryRegister(s, l.through(on))
}

// through goes on from the pixels of the other shot to the frame. Figures in px are taken to the middle of the shot.
func (l *Laying) through(on *Located) *Registering {
	m := register.Compose(l.Map, on.ToFrame)
	back, err := l.Map.Inverse()
	n := &Registering{Map: m, RmsPx: l.SigmaPx, RmsNm: l.SigmaPx * register.Size(on.ToFrame, on.Middle()), KeepShapes: l.KeepShapes}
	if err == nil { // else Register refuses the map
		n.RmsPx *= register.Size(back, on.Middle())
	}
	return n
}

// asItLies is the registration that leaves a calibrated shot where it is: by its two lower corners.
func (l *Located) asItLies() *Registering {
	p, q := ControlPoint{PY: l.Height}, ControlPoint{PX: l.Width, PY: l.Height}
	q.X = l.Width * l.Scale.NmPerPx
	return &Registering{Map: l.ToFrame, Points: []ControlPoint{p, q}, Residuals: []float64{0, 0}}
}
