package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/register/align"
)

// alignJSON is the contract of shot align --json.
type alignJSON struct {
	Accepted   bool           `json:"accepted"`
	Map        *[3][3]float64 `json:"map"`
	RmsPx      *float64       `json:"rms_px"`
	Confidence float64        `json:"confidence"`
	Reason     string         `json:"reason"`
}

func (l *aligning) writeJSON(j alignJSON) error {
	e := json.NewEncoder(l.c.OutOrStdout())
	e.SetIndent("", "  ")
	if err := e.Encode(j); err != nil {
		return fmt.Errorf("standard output: %w", err)
	}
	return nil
}

// refuse says that nothing was stored, why, and what to do.
func (l *aligning) refuse(err error) error {
	if l.c.Context().Err() != nil {
		return err
	}
	var failed error
	if l.flags.json {
		reason, _, _ := strings.Cut(err.Error(), "\n")
		failed = l.writeJSON(alignJSON{Reason: reason})
	}
	if !errors.Is(err, align.ErrRefused) {
		return errors.Join(err, failed)
	}
	again := fmt.Sprintf("set three marks by hand, far apart, each good to %g px, by places that are seen in both, in the manner of", l.flags.within)
	if len(l.marks) > 0 {
		again = "look at the marks again, set more, or say with --within how far off they are, in the manner of"
	}
	call := fmt.Sprintf("undermetal shot align %s %s %s", word(l.d.Path), word(l.a.Name), word(l.b.Name))
	for _, at := range []geom.Vec{{X: 0.1, Y: 0.1}, {X: 0.9, Y: 0.1}, {X: 0.5, Y: 0.9}} {
		aw, ah := l.a.Size()
		bw, bh := l.b.Size()
		call += fmt.Sprintf(" --mark %.0f,%.0f=%.0f,%.0f", at.X*aw, at.Y*ah, at.X*bw, at.Y*bh)
	}
	return errors.Join(fmt.Errorf("%w\n    nothing was stored; %s\n    %s\n    or give it its place by points: undermetal shot register %s %s --point PX,PY=X,Y …", err, again, call, word(l.d.Path), word(l.a.Name)), failed)
}

// print says where the photograph lies.
func (l *aligning) print() error {
	m, sigma := l.found.Map, l.found.Sigma
	if l.flags.json {
		linear, ok := m.(register.Linear)
		if !ok {
			return fmt.Errorf("a map of the kind %s has no matrix", m.Kind())
		}
		rows := linear.Coefficients()
		return l.writeJSON(alignJSON{Accepted: true, Map: &rows, RmsPx: &sigma, Confidence: l.found.Confidence})
	}
	p := &printer{w: l.c.OutOrStdout()}
	p.f("%s: laid on %s, %s\n    %21s %21s", l.a.Name, l.b.Name, m.Kind(), "corner, px", "px of the other")
	if l.on != nil {
		p.f(" %25s", "µm of the frame")
	}
	w, h := l.a.Size()
	for _, v := range []geom.Vec{{}, {X: w}, {Y: h}, {X: w, Y: h}} {
		q := m.Apply(v)
		p.f("\n    %10.2f %10.2f %10.2f %10.2f", v.X, v.Y, hundredths(q.X), hundredths(q.Y))
		if l.on != nil {
			at := l.on.ToFrame.Apply(q)
			p.f(" %12.3f %12.3f", um(tidy(at.X)), um(tidy(at.Y)))
		}
	}
	p.f("\n    good to %.2g px of %s%s (standard uncertainty at the worst corner of what both show)\n", sigma, l.b.Name, l.inUm(sigma))
	p.f("    confidence that it is the right place: %s\n", confident(l.found.Confidence))
	middle := geom.Vec{X: w / 2, Y: h / 2}
	j := m.Jacobian(middle)
	over := ""
	if j.Det() < 0 {
		over = ", turned over"
	}
	turned := math.Atan2(j[1][0], j[0][0]) * 180 / math.Pi
	if turned < -179.5 {
		turned += 360 // no minus before 180
	}
	p.f("    a pixel is %.5g px of %s in the middle, rows are turned by %.3g°%s\n", register.Size(m, middle), l.b.Name, tidy(turned), over)
	if l.on != nil && l.on.Registration == nil && !l.flags.dryRun {
		p.f("    %s is registered too now, where it lay: with its lower left corner at the frame's origin\n", l.b.Name)
	}
	printMoved(p, l.moved, l.flags.dryRun)
	return p.err
}

// inUm is a length in px of the other photograph, in µm, as far as that is known.
func (l *aligning) inUm(px float64) string {
	if l.on == nil {
		return ""
	}
	return fmt.Sprintf(", %.2g µm", um(px*register.Size(l.on.ToFrame, l.on.Middle())))
}

// confident does not say 1 of what is never certain.
func confident(c float64) string {
	if c > 0.9999 {
		return "more than 0.9999"
	}
	return fmt.Sprintf("%.4f", c)
}

// warn prints what is doubtful.
func (l *aligning) warn() error {
	p := &printer{w: l.c.ErrOrStderr()}
	if l.nowhere != nil {
		p.f("warning: nothing was stored: %v\n", l.nowhere)
		return p.err
	}
	if err := errors.Join(p.err, warnMoved(p.w, l.d, l.a, l.moved)); err != nil {
		return err
	}
	return warnMapScale(p.w, l.a, l.scale(), "look at the calibrations of both photographs")
}

// scale is that of the map to the frame in the middle; its uncertainty has two parts, that of the other photograph's
// calibration, and at most as much as would move a corner by what the map is uncertain by.
func (l *aligning) scale() dossier.MapScale {
	w, h := l.a.Size()
	middle := geom.Vec{X: w / 2, Y: h / 2}
	nm := register.Size(l.found.Map, middle) * register.Size(l.on.ToFrame, l.found.Map.Apply(middle))
	part := l.found.Sigma / (register.Size(l.found.Map, middle) * math.Hypot(w, h) / 2)
	if l.b.Scale.NmPerPx > 0 {
		part = math.Hypot(part, l.b.Scale.Sigma/l.b.Scale.NmPerPx)
	}
	return dossier.MapScale{NmPerPx: nm, Sigma: nm * part}
}
