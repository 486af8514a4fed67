package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"

	"undermetal/cmd/undermetal/shared"
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
	if !errors.Is(err, align.ErrRefused) {
		return err // a map was found, and cannot be kept
	}
	var failed error
	if l.flags.json {
		reason, _, _ := strings.Cut(err.Error(), "\n")
		failed = l.writeJSON(alignJSON{Reason: reason})
	}
	points := fmt.Sprintf("give it its place by points: undermetal shot register %s %s --point PX,PY=X,Y …", word(l.d.Path), word(l.a.Name))
	aw, ah := l.a.Size()
	bw, bh := l.b.Size()
	if min(aw, ah, bw, bh) < align.LeastSide {
		return errors.Join(fmt.Errorf("%w\n    nothing was stored; %s", err, points), failed)
	}
	again := fmt.Sprintf("set three marks by hand, far apart, each good to %g px, by places that are seen in both, in the manner of", l.flags.within)
	if len(l.marks) > 0 {
		again = "look at the marks again, set more, or say with --within how far off they are, in the manner of"
	}
	call := fmt.Sprintf("undermetal shot align %s %s %s", word(l.d.Path), word(l.a.Name), word(l.b.Name)) + strings.Repeat(" --mark AX,AY=BX,BY", 3)
	return errors.Join(fmt.Errorf("%w\n    nothing was stored; %s\n    %s\n    or %s", err, again, call, points), failed)
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
		p.f("\n    %10.2f %10.2f %10.2f %10.2f", v.X, v.Y, shared.Hundredths(q.X), shared.Hundredths(q.Y))
		if l.on != nil {
			at := l.on.ToFrame.Apply(q)
			p.f(" %12.3f %12.3f", um(shared.Tidy(at.X)), um(shared.Tidy(at.Y)))
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
	p.f("    a pixel is %.5g px of %s in the middle, rows are turned by %.3g°%s\n", register.Size(m, middle), l.b.Name, shared.Tidy(turned), over)
	if l.on != nil && l.on.Registration == nil && !l.flags.dryRun {
		p.f("    %s is registered too now, where it lay: with its lower left corner at the frame's origin\n", l.b.Name)
	}
	if l.points > 0 && !l.flags.dryRun {
		p.f("    its %s went: it lies by %s now\n", counted(l.points, "control point"), l.b.Name)
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
	if _, matrix := l.on.ToFrame.(register.Linear); !matrix {
		w, h := l.a.Size()
		for _, v := range []geom.Vec{{}, {X: w}, {Y: h}, {X: w, Y: h}} {
			if q := l.found.Map.Apply(v); !l.on.Inside(q) {
				p.f("warning: the corner (%.0f, %.0f) lies beyond %s, whose %s is not known there: its place is worse known than is said\n", v.X, v.Y, l.b.Name, l.on.Registration.Kind)
				break
			}
		}
	}
	if l.flags.dryRun {
		return p.err
	}
	return errors.Join(p.err, warnCalibrated(p.w, l.d, l.a))
}
