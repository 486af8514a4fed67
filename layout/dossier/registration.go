package dossier

import (
	"encoding/binary"
	"fmt"
	"math"

	"undermetal/layout/geom"
	"undermetal/layout/register"
)

// ControlPoint is a place that is known in a shot, in pixels, and in the frame, in nm.
type ControlPoint struct {
	ID, Shot int64
	PX, PY   float64
	X, Y     float64
	SigmaPx  float64 // of each pixel coordinate
}

// CheckPoint returns an error where a place is not one of the shot's and the frame's: outside the upright photograph, or
// beyond the frame.
func (s *Shot) CheckPoint(p ControlPoint) error {
	if err := finite(p.PX, p.PY, p.X, p.Y, p.SigmaPx); err != nil {
		return err
	}
	if w, h := s.Size(); !(p.PX >= 0 && p.PX <= w && p.PY >= 0 && p.PY <= h) {
		return fmt.Errorf("(%g, %g) lies outside of %s, which has %.0f × %.0f pixels", p.PX, p.PY, s.Name, w, h)
	}
	if !(max(p.X, -p.X, p.Y, -p.Y) <= geom.Limit) {
		return fmt.Errorf("(%g, %g) µm lies outside the frame, which reaches to ±%.0f µm", p.X/1000, p.Y/1000, geom.Limit/1000.0)
	}
	if p.SigmaPx < 0 {
		return fmt.Errorf("an uncertainty of %g px: give a standard deviation, 0 or more", p.SigmaPx)
	}
	return nil
}

// shotWithID returns a shot.
func (r reads) shotWithID(id int64) (*Shot, error) {
	s, err := one(r, missing("shot %d", id), "SELECT "+shotColumns+" FROM shot WHERE id = ?", scanShot, id)
	return &s, err
}

// ControlPoints returns those of a shot.
func (r reads) ControlPoints(shot int64) ([]ControlPoint, error) {
	points, err := query(r, "SELECT id, shot, px, py, x, y, sigma_px FROM control_point WHERE shot = ? ORDER BY id", func(scan func(...any) error) (p ControlPoint, err error) {
		return p, scan(&p.ID, &p.Shot, &p.PX, &p.PY, &p.X, &p.Y, &p.SigmaPx)
	}, shot)
	if err != nil || len(points) == 0 {
		return nil, err
	}
	return points, r.checkPoints(shot, points)
}

// checkPoints is for control points of a shot that are read or written.
func (r reads) checkPoints(shot int64, points []ControlPoint) error {
	s, err := r.shotWithID(shot)
	for i := 0; i < len(points) && err == nil; i++ {
		if err = s.CheckPoint(points[i]); err != nil {
			err = fmt.Errorf("control point %d of shot %q: %w", i+1, s.Name, err)
		}
	}
	return err
}

// SetControlPoints replaces those of a shot, and sets their ids. They lie on the photograph and in the frame.
func (tx *Tx) SetControlPoints(shot int64, points []ControlPoint) error {
	if err := tx.checkPoints(shot, points); err != nil {
		return err
	}
	if _, err := tx.exec("DELETE FROM control_point WHERE shot = ?", shot); err != nil {
		return err
	}
	for i := range points {
		p := &points[i]
		var err error
		if p.ID, err = tx.insert("control_point", shot, p.PX, p.PY, p.X, p.Y, p.SigmaPx); err != nil {
			return err
		}
		p.Shot = shot
	}
	return nil
}

// Registration is a fitted map from a shot's pixels to the frame.
type Registration struct {
	Shot       int64
	Kind       string    // of map
	Parameters []float64 // their meaning goes with the kind
	Residuals  []float64 // in px, of the control points in their order
	RmsPx      float64
	RmsNm      float64
}

// Laid reports whether the map was found by laying the photograph on another, without control points: then RmsPx and RmsNm
// are the map's standard uncertainty against that photograph, at the worst corner of what both show.
func (g *Registration) Laid() bool { return len(g.Residuals) == 0 }

// Map is the fitted map.
func (g *Registration) Map() (register.Map, error) {
	return register.ParseMap(register.Kind(g.Kind), g.Parameters)
}

// Registration returns that of a shot.
func (r reads) Registration(shot int64) (*Registration, error) {
	g, err := one(r, missing("a registration of shot %d", shot), "SELECT shot, kind, parameters, residuals, rms_px, rms_nm FROM registration WHERE shot = ?", func(scan func(...any) error) (g Registration, err error) {
		var p, q []byte
		if err := scan(&g.Shot, &g.Kind, &p, &q, &g.RmsPx, &g.RmsNm); err != nil {
			return g, err
		}
		g.Parameters, g.Residuals = unpackFloats(p), unpackFloats(q)
		return g, g.checkNumbers()
	}, shot)
	return &g, err
}

// check returns an error where a registration is none. One that is read may be of a map that this program does not know.
func (g *Registration) check() error {
	if err := g.checkNumbers(); err != nil {
		return err
	}
	if _, err := g.Map(); err != nil {
		return fmt.Errorf("the registration of shot %d: %w", g.Shot, err)
	}
	return nil
}

func (g *Registration) checkNumbers() error {
	if err := finite(append(append([]float64{g.RmsPx, g.RmsNm}, g.Parameters...), g.Residuals...)...); err != nil {
		return fmt.Errorf("the registration of shot %d: %w", g.Shot, err)
	}
	return nil
}

// SetRegistration replaces that of its shot.
func (tx *Tx) SetRegistration(g *Registration) error {
	if err := g.check(); err != nil {
		return err
	}
	if _, err := tx.exec("DELETE FROM registration WHERE shot = ?", g.Shot); err != nil {
		return err
	}
	_, err := tx.insert("registration", g.Shot, g.Kind, packFloats(g.Parameters), packFloats(g.Residuals), g.RmsPx, g.RmsNm)
	return err
}

// finite returns an error where a number is none.
func finite(all ...float64) error {
	for _, v := range all {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("%g cannot be kept: numbers must be finite", v)
		}
	}
	return nil
}

func packFloats(v []float64) []byte {
	b := make([]byte, 0, 8*len(v))
	for _, x := range v {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
	}
	return b
}

func unpackFloats(b []byte) []float64 {
	var v []float64
	for ; len(b) >= 8; b = b[8:] {
		v = append(v, math.Float64frombits(binary.LittleEndian.Uint64(b)))
	}
	return v
}
