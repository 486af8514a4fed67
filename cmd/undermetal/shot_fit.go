package main

import (
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/shot"
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
		p.f("    %5d %10.2f %10.2f %12.3f %12.3f %8.2f %8.2f %9.4f %9s", i+1, at.From.X, at.From.Y, um(at.To.X), um(at.To.Y), hundredths(e.X), hundredths(e.Y), um(tidy(lengthOf(f.Residuals[i]))), missed(f.LeaveOneOut[i]))
		if f.Outlier[i] {
			p.f("  does not go with the others")
		}
		p.f("\n")
	}
	p.f("    rms %.3g px, %.4g µm%s\n", tidy(f.RmsFrom), um(tidy(f.Rms)), leftOut(f))
	at := r.middle()
	j := f.Map.Jacobian(at)
	p.f("    scale %s at the middle of the points, rows turned by %.3g° against the frame's x\n", scaleOf(f, at), tidy(math.Atan2(j[1][0], j[0][0])*180/math.Pi))
	for _, line := range r.others() {
		p.f("    %s\n", line)
	}
	r.printMoved(p)
	return p.err
}

// tidy takes rounding errors, and the minus before a zero, away.
func tidy(v float64) float64 {
	if math.Abs(v) < 1e-6 {
		return 0
	}
	return v
}

// hundredths is what two decimals show, without the minus before a zero.
func hundredths(v float64) float64 { return math.Round(v*100)/100 + 0 }

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
		return fmt.Sprintf("; left out one by one, %.4g µm", um(tidy(loo)))
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

// scaleOf is the scale of a fit at a place, with its uncertainty where the points say it.
func scaleOf(f *register.Fit, at geom.Vec) mapScale {
	nm := register.Size(f.Map, at)
	return mapScale{nm, nm * f.SigmaScale}
}

// mapScale is the scale of a map; Sigma is NaN where the points do not say it.
type mapScale struct{ NmPerPx, Sigma float64 }

// String has five digits where no uncertainty, or one of rounding errors, says how many are right.
func (s mapScale) String() string {
	if s.Sigma > 1e-6*s.NmPerPx {
		return shot.Scale{NmPerPx: s.NmPerPx, Sigma: s.Sigma}.String()
	}
	return fmt.Sprintf("%.5g µm/px", um(s.NmPerPx))
}

// agrees reports whether a calibration differs by three standard deviations or less.
func (s mapScale) agrees(c shot.Scale) bool {
	sigma := c.Sigma
	if !math.IsNaN(s.Sigma) {
		sigma = math.Hypot(sigma, s.Sigma)
	}
	return math.Abs(s.NmPerPx-c.NmPerPx) <= 3*sigma+1e-9*c.NmPerPx
}

// registered returns the scale of a registered photograph's map at the middle of its control points, or of itself where
// it has none. The map is fitted once more, since its uncertainty is not kept.
func registered(d *dossier.Dossier, p *placed) (mapScale, error) {
	kept, err := d.ControlPoints(p.ID)
	if err != nil {
		return mapScale{}, err
	}
	var points []register.Point
	for _, k := range kept {
		points = append(points, register.Point{From: geom.Vec{X: k.PX, Y: k.PY}, To: geom.Vec{X: k.X, Y: k.Y}, Sigma: k.SigmaPx})
	}
	at := geom.Vec{X: p.w / 2, Y: p.h / 2}
	if len(points) > 0 {
		at = meanOf(points)
	}
	s := mapScale{register.Size(p.to, at), math.NaN()}
	if kind := p.to.Kind(); kind.Points() > 0 && kind != register.Spline {
		if f, err := register.FitPoints(kind, points, register.ToFrame); err == nil {
			s.Sigma = s.NmPerPx * scaleOf(f, at).Sigma / register.Size(f.Map, at)
		}
	}
	return s, nil
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
			texts = append(texts, fmt.Sprintf("%s %.4g µm", kind, um(tidy(loo))))
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

// printMoved says what became of the shapes that were traced over the photograph.
func (r *registering) printMoved(p *printer) {
	would, all := "", 0
	if r.flags.dryRun {
		would = "would be "
	}
	var texts []string
	for _, layer := range slices.Sorted(maps.Keys(r.moved.byLayer)) {
		n := r.moved.byLayer[layer]
		all += n
		texts = append(texts, fmt.Sprintf("%d on %s", n, layer))
	}
	if all > 0 {
		p.f("    %smoved with it: %s that %s traced over it (%s), by up to %.4g µm\n", would, counted(all, "shape"), map[bool]string{true: "was", false: "were"}[all == 1], strings.Join(texts, ", "), um(r.moved.furthest))
	}
	if r.flags.dryRun {
		p.f("    nothing was stored\n")
	}
}

// warn prints what is doubtful about the fit.
func (r *registering) warn(w io.Writer) error {
	p, f := &printer{w: w}, r.fit
	if len(r.points) == r.kind.Points() {
		p.f("warning: %s: %d points determine a map of the kind %s exactly: nothing says how well it fits; give more\n", r.s.Name, len(r.points), string(r.kind))
	}
	if f.Mirrored {
		p.f("warning: %s: the points turn the photograph over, as if it were taken from behind\n    if it was not, look whether two of them are exchanged, or y counts downward in the frame's places: it counts upward\n", r.s.Name)
	}
	for _, kind := range []register.Kind{register.Affine, register.Projective, register.Spline} {
		if own, loo := looRms(f), r.looOf(kind); own > 1e-3 && loo < own/2 {
			p.f("warning: %s: a map of the kind %s misses points that are left out by less than half as much (%.4g instead of %.4g µm): --map %s\n", r.s.Name, string(kind), um(loo), um(own), string(kind))
			break
		}
	}
	if n := r.moved.inCells; n > 0 {
		p.f("warning: %s: %s in cells that %s traced over it stayed, since cells have coordinates of their own: look where their placements lie\n", r.s.Name, counted(n, "shape"), map[bool]string{true: "was", false: "were"}[n == 1])
	}
	if len(r.moved.byLayer) > 0 {
		n, err := holds(r.d, "labels", "placements", "traced areas", "verdicts", "notes", "blocks")
		if err != nil {
			return err
		}
		if n > 0 {
			p.f("warning: %s: labels, placements, traced areas, verdicts, notes and blocks (%d in all) stay where they are: nobody knows which photograph they are from\n", r.s.Name, n)
		}
	}
	if p.err != nil {
		return p.err
	}
	return warnMapScale(w, r.s, scaleOf(f, r.middle()))
}

// warnMapScale prints a warning where a photograph's map and its calibration say different scales.
func warnMapScale(w io.Writer, s *dossier.Shot, of mapScale) error {
	if s.Scale.NmPerPx == 0 || of.agrees(s.Scale) {
		return nil
	}
	p := &printer{w: w}
	p.f("warning: %s: by its registration %s, by its calibration %s: more than three standard deviations apart\n    look at the control points again, or calibrate it anew with --keep-shapes\n", s.Name, of.String(), s.Scale.String())
	return p.err
}
