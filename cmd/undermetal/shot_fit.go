package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"undermetal/cmd/undermetal/shared"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/register"
)

func lengthOf(v geom.Vec) float64 { return math.Hypot(v.X, v.Y) }

// print lists the points with what the fit misses them by, and sums up.
func (r *registering) print(w io.Writer) error {
	p, f := &printer{w: w}, r.fit
	rule := ""
	if r.flags.kind == "" {
		rule = ", the simplest map: --map takes another"
	}
	p.f("%s: %s by %s%s\n", r.s.Name, r.kind, counted(len(r.points), "control point"), rule)
	p.f("    %5s %21s %25s %17s %9s %9s\n", "point", "px", "µm of the frame", "off by px", "µm", "left out")
	for i, at := range r.points {
		e := f.ResidualsFrom[i]
		p.f("    %5d %10.2f %10.2f %12.3f %12.3f %8.2f %8.2f %9.4f %9s", i+1, at.From.X, at.From.Y, um(at.To.X), um(at.To.Y), shared.Hundredths(e.X), shared.Hundredths(e.Y), um(shared.Tidy(lengthOf(f.Residuals[i]))), missed(f.LeaveOneOut[i]))
		if r.odd(i) {
			p.f("  does not go with the others")
		}
		p.f("\n")
	}
	p.f("    rms %.3g px, %.4g µm%s\n", shared.Tidy(f.RmsFrom), um(shared.Tidy(f.Rms)), leftOut(f))
	at := r.middle()
	j := f.Map.Jacobian(at)
	p.f("    scale %s at the middle of the points, rows turned by %.3g° against the frame's x\n", dossier.ScaleOf(f, at), shared.Tidy(math.Atan2(j[1][0], j[0][0])*180/math.Pi))
	for _, line := range r.others() {
		p.f("    %s\n", line)
	}
	printMoved(p, r.moved, r.flags.dryRun)
	return p.err
}

// readTo is how well in px a point is read at best, unless its sigma says otherwise: to a pixel, as for shot calibrate. One
// that is missed by less goes with the others, however well these fit.
func (r *registering) readTo(i int) float64 {
	if s := r.points[i].Sigma; s > 0 {
		return s
	}
	return 1
}

// odd reports whether a point does not go with the others.
func (r *registering) odd(i int) bool {
	return r.fit.Outlier[i] && r.fit.LeaveOneOut[i] >= r.readTo(i)*register.Size(r.fit.Map, r.points[i].From)
}

// missed writes in µm what a fit without a point misses it by.
func missed(nm float64) string {
	if math.IsNaN(nm) {
		return "–"
	}
	return fmt.Sprintf("%.4f", um(nm))
}

// looRms is the root mean square of what is missed when points are left out; NaN where one cannot be.
func looRms(f *register.Fit) float64 {
	var sum float64
	for _, v := range f.LeaveOneOut {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(f.LeaveOneOut)))
}

func leftOut(f *register.Fit) string {
	if loo := looRms(f); !math.IsNaN(loo) {
		return fmt.Sprintf("; left out one by one, %.4g µm", um(shared.Tidy(loo)))
	}
	return ""
}

// middle is the mean of the control points, in px.
func (r *registering) middle() (m geom.Vec) { return meanOf(r.points) }

func meanOf(points []register.Point) (m geom.Vec) {
	n := float64(len(points))
	for _, p := range points {
		m.X, m.Y = m.X+p.From.X/n, m.Y+p.From.Y/n
	}
	return m
}

// otherKinds are compared with the chosen one where points are left over for it; a spline of many takes too long.
const mostForOthers = 300

// others says what the other kinds of map miss points by that are left out.
func (r *registering) others() (lines []string) {
	var texts []string
	for _, kind := range []register.Kind{register.Similarity, register.Affine, register.Projective, register.Spline} {
		if kind == r.kind {
			continue
		}
		if loo := r.looOf(kind); !math.IsNaN(loo) {
			texts = append(texts, fmt.Sprintf("%s %.4g µm", kind, um(shared.Tidy(loo))))
		}
	}
	if len(texts) > 0 {
		lines = append(lines, "left out one by one, others miss them by: "+strings.Join(texts, ", "))
	}
	return lines
}

func (r *registering) looOf(kind register.Kind) float64 {
	n := len(r.points)
	if n <= kind.Points() || n > mostForOthers {
		return math.NaN()
	}
	f, err := register.FitPoints(kind, r.points, register.ToFrame)
	if err != nil {
		return math.NaN()
	}
	return looRms(f)
}

// warn prints what is doubtful about the fit.
func (r *registering) warn(w io.Writer) error {
	p, f := &printer{w: w}, r.fit
	if len(r.points) == r.kind.Points() {
		p.f("warning: %s: %d points determine a map of the kind %s exactly: nothing says how well it fits; give more\n", r.s.Name, len(r.points), string(r.kind))
	}
	r.warnMisfit(p)
	if f.Mirrored {
		p.f("warning: %s: the points turn the photograph over, as if it were taken from behind\n    if it was not, look whether two of them are exchanged, or y counts downward in the frame's places: it counts upward\n", r.s.Name)
	}
	for _, kind := range []register.Kind{register.Affine, register.Projective, register.Spline} {
		if own, loo := looRms(f), r.looOf(kind); own > 1e-3 && loo < own/2 {
			p.f("warning: %s: a map of the kind %s misses points that are left out by less than half as much (%.4g instead of %.4g µm): --map %s\n", r.s.Name, string(kind), um(loo), um(own), string(kind))
			break
		}
	}
	if err := errors.Join(p.err, r.warnUnit(w), warnMoved(w, r.d, r.s, r.moved), warnLaid(w, r.d, r.s)); err != nil {
		return err
	}
	return warnMapScale(w, r.s, dossier.ScaleOf(f, r.middle()), "look at the control points again")
}
