package desk

import (
	"errors"
	"fmt"
	"math"

	"undermetal/cmd/undermetal/shared"
	"undermetal/layout/dossier"
)

// accept registers the photograph by the pairs: one edit. A first photograph that is calibrated only is registered where it
// lies in the same edit: it fixes the frame from then on.
func (d *Desk) accept() error {
	p := d.pairs
	if p == nil {
		return errors.New("nothing is being registered: 2 begins it")
	}
	if p.fit == nil {
		if p.err != nil {
			return p.err
		}
		return fmt.Errorf("the map (%s) wants %d pairs, and has %d: Space sets more", p.kind, p.kind.Points(), len(p.points))
	}
	l := d.photos[d.over].l
	n := &dossier.Registering{Map: p.fit.Map, RmsPx: p.fit.RmsFrom, RmsNm: p.fit.Rms}
	for i, q := range p.points {
		c := dossier.ControlPoint{PX: q.From.X, PY: q.From.Y, X: q.To.X, Y: q.To.Y, SigmaPx: q.Sigma}
		if err := l.CheckPoint(c); err != nil {
			return fmt.Errorf("pair %d: %w", i+1, err)
		}
		n.Points = append(n.Points, c)
		e := p.fit.ResidualsFrom[i]
		n.Residuals = append(n.Residuals, math.Hypot(e.X, e.Y))
	}
	var first *dossier.Located
	if b := d.photos[d.base].l; b.ToFrame != nil && b.Registration == nil {
		first = b
	}
	var moved dossier.Moved
	what := fmt.Sprintf("register shot %s: %s, %s, rms %.3g px", l.Name, p.kind, counted(len(n.Points), "control point"), shared.Tidy(n.RmsPx))
	err := d.doEdit(what, func(tx *dossier.Tx) (err error) {
		if first != nil {
			if _, err := tx.CanLayOn(first.Shot); err != nil {
				return err
			}
			if _, err := tx.Register(first.Shot, asItLies(first)); err != nil {
				return fmt.Errorf("%s: %w", first.Name, err)
			}
		}
		moved, err = tx.Register(l.Shot, n)
		return err
	})
	if errors.Is(err, dossier.ErrCorner) {
		return fmt.Errorf("%w: set pairs near that corner too, or take an affine map", err)
	}
	if err != nil {
		return err
	}
	shapes := 0
	for _, k := range moved.ByLayer {
		shapes += k
	}
	text := ""
	if shapes > 0 {
		text = fmt.Sprintf("; %s moved with it, %s µm at most", counted(shapes, "shape"), um(moved.Furthest))
	}
	d.good("%s%s", what, text)
	return nil
}

// asItLies leaves a calibrated photograph where it is: by its two lower corners, as dossier.Tx.Lay does.
func asItLies(l *dossier.Located) *dossier.Registering {
	p, q := dossier.ControlPoint{PY: l.Height}, dossier.ControlPoint{PX: l.Width, PY: l.Height}
	q.X = l.Width * l.Scale.NmPerPx
	return &dossier.Registering{Map: l.ToFrame, Points: []dossier.ControlPoint{p, q}, Residuals: []float64{0, 0}}
}
