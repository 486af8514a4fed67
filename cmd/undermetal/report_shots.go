package main

import (
	"context"
	"fmt"
	"math"

	"undermetal/cmd/undermetal/report"
	"undermetal/layout/blocks"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// shots are the photographs, as they were taken and with the tracing over them, and how they came to lie where they do.
func (k *collecting) shots() error {
	shots, err := k.d.Shots()
	if err != nil {
		return err
	}
	if len(shots) == 0 {
		k.left("photographs: the dossier holds none.")
	}
	b := newBar(k.c, "drawing photographs")
	defer b.end()
	for i := range shots {
		b.set(i, len(shots))
		l, err := k.d.Locate(&shots[i])
		if err != nil {
			return err
		}
		s, err := k.shot(l)
		if err != nil {
			return err
		}
		k.r.Shots = append(k.r.Shots, *s)
	}
	return nil
}

func (k *collecting) shot(l *dossier.Located) (*report.Shot, error) {
	s := &report.Shot{Name: l.Name, Note: l.Facts.Note}
	fact := func(name, value string) {
		if value != "" {
			s.Facts = append(s.Facts, report.Fact{Name: name, Value: value})
		}
	}
	figure := func(name string, v float64, unit string) {
		if v > 0 {
			fact(name, fmt.Sprintf("%.4g%s", v, unit))
		}
	}
	fact("Step", l.Facts.Step)
	fact("Size", fmt.Sprintf("%.0f × %.0f px", l.Width, l.Height))
	fact("Objective", l.Facts.Objective)
	figure("Numerical aperture", l.Facts.NA, "")
	figure("Wavelength", l.Facts.WavelengthNm, " nm")
	fact("Illumination", l.Facts.Illumination)
	figure("Camera's pixel", l.Facts.CameraUm, " µm")
	fact("Taken", l.Facts.Taken)
	switch {
	case l.Scale.NmPerPx > 0:
		fact("Scale", l.Scale.String())
		fact("Known by", l.Scale.How)
	case l.Registration == nil:
		fact("Scale", "not known")
	default:
		x, _ := l.NmPerPx(l.Middle())
		fact("Scale", fmt.Sprintf("%.4g µm/px, by its control points: as uncertain as they are and the frame is", um(x)))
	}
	if g := l.Registration; g != nil {
		how := fmt.Sprintf("%s by control points, rms %.3g px (%.3g µm)", g.Kind, g.RmsPx, um(g.RmsNm))
		if g.Laid() {
			how = fmt.Sprintf("%s, laid on another photograph, to %.3g px", g.Kind, g.RmsPx)
		}
		fact("Registered", how)
	}
	fact("SHA-256 of the original", l.SHA256)

	plain, err := k.picture(l, false)
	if err != nil {
		return nil, err
	}
	plain.Caption = "As it was taken."
	if l.ToFrame == nil {
		plain.Caption = "As it was taken; its scale is not known, so that there is no scale bar."
		s.Pictures = append(s.Pictures, *plain)
		return s, nil
	}
	traced, err := k.picture(l, true)
	if err != nil {
		return nil, err
	}
	traced.Caption = "With the tracing over it, each layer in its colour and hatch."
	s.Pictures = append(s.Pictures, *plain, *traced)
	return s, nil
}

// picture draws a whole photograph, with a scale bar where there is a scale.
func (k *collecting) picture(l *dossier.Located, shapes bool) (*report.Picture, error) {
	v, err := newView(k.d, l.Shot, &showFlags{pixels: min(k.f.pixels, int(math.Ceil(l.Width))), shapes: shapes})
	if err != nil {
		return nil, err
	}
	alt := "The photograph " + l.Name
	if shapes {
		alt += " with the tracing over it"
	}
	return pictureOf(k.c.Context(), v, alt, "")
}

// pictureOf draws a view, with the legend of its tracing below it, where it covers nothing.
func pictureOf(ctx context.Context, v *view, alt, caption string) (*report.Picture, error) {
	v.apart = true
	img, err := v.render(ctx, false)
	if err != nil {
		return nil, err
	}
	p, err := report.NewPicture(ctx, img, alt, caption)
	if err != nil {
		return nil, err
	}
	for _, ink := range v.inks {
		swatch, err := report.NewPicture(ctx, shot.Swatch(ink, 27, 15), "", "")
		if err != nil {
			return nil, err
		}
		p.Keys = append(p.Keys, report.Key{Name: ink.Name, Swatch: swatch.Data})
	}
	return p, nil
}

// mostOverlaps is how many pairs of blocks that lie on each other are told, the largest first.
const mostOverlaps = 12

// blockMap is the block map beside the photograph that shows the largest part of the frame.
func (k *collecting) blockMap(found []blocks.Suggestion) error {
	m, err := mapOf(k.d, found)
	if err != nil {
		return err
	}
	if len(m.Blocks) == 0 {
		k.left("the block map: no block was named (undermetal blocks set).")
		return nil
	}
	out := &report.BlockMap{}
	to, err := k.plane(m, out)
	if err != nil {
		return err
	}
	out.Die = onPlane(m.Die.Region, to)
	for i := range m.Blocks {
		b := &m.Blocks[i]
		x := report.Block{Name: b.Name, Status: b.Status, Source: cited(&b.Block), Reason: b.Reason, Rings: onPlane(b.Pieces, to), Area: "no region"}
		if len(b.Pieces) > 0 {
			x.Area = fmt.Sprintf("%.6g µm²", b.AreaNm2/1e6)
			if m.Die.From != blocks.Unknown {
				x.Share = percentOf(b.Share, 1)
			}
		}
		if len(x.Rings) > 0 && !allNumbers(x.Rings) {
			x.Rings = nil
			out.Notes = append(out.Notes, b.Name+" is not drawn: it lies where the photograph's map into the frame leads nowhere.")
		}
		for _, s := range b.Support {
			x.Support = append(x.Support, fmt.Sprintf("Recognised inside: %d × %s.", s.Count, s.Name))
		}
		out.Blocks = append(out.Blocks, x)
	}
	note := func(format string, args ...any) { out.Notes = append(out.Notes, fmt.Sprintf(format, args...)) }
	switch m.Die.From {
	case blocks.Stated:
		note("Shares are of the die's outline, %.6g µm². %s of it has no name.", m.DieNm2/1e6, percentOf(m.UncoveredNm2, m.DieNm2))
	case blocks.Photographs:
		note("The die's outline is not stated: shares are of what the photographs show, %.6g µm². %s of it has no name.", m.DieNm2/1e6, percentOf(m.UncoveredNm2, m.DieNm2))
	default:
		note("The die's outline is not known, and so are shares.")
	}
	if len(m.NoRegion) > 0 {
		note("In a diagram, and not found on the die: %s.", someNames(m.NoRegion))
	}
	if len(m.NoDiagram) > 0 {
		note("On the die, and in no diagram: %s.", someNames(m.NoDiagram))
	}
	for i, o := range m.Overlaps {
		if i == mostOverlaps {
			note("%d more pairs of blocks lie on each other: undermetal blocks list tells them.", len(m.Overlaps)-i)
			break
		}
		note("%s and %s both cover %.6g µm².", o.A, o.B, o.AreaNm2/1e6)
	}
	for _, s := range m.Elsewhere {
		note("Recognised, and in no block: %d × %s.", s.Count, s.Name)
	}
	k.r.Blocks = out
	return nil
}

// allNumbers reports whether all places are numbers.
func allNumbers(rings [][][2]float64) bool {
	for _, r := range rings {
		for _, p := range r {
			if s := p[0] + p[1]; math.IsNaN(s) || math.IsInf(s, 0) {
				return false
			}
		}
	}
	return true
}

// plane chooses what the block map is drawn in: the pixels of the photograph that shows the largest part of the frame, else the frame
// around all regions, y down. It returns the way there from the frame.
func (k *collecting) plane(m *blocks.Map, out *report.BlockMap) (func(geom.Vec) geom.Vec, error) {
	shots, err := k.d.Shots()
	if err != nil {
		return nil, err
	}
	var best *dossier.Located
	size := 0.0
	for i := range shots {
		l, err := k.d.Locate(&shots[i])
		if err != nil {
			return nil, err
		}
		if l.ToFrame == nil || best != nil && best.Registration != nil && l.Registration == nil {
			continue
		}
		x, y := l.NmPerPx(l.Middle())
		if s := x * l.Width * y * l.Height; best == nil || best.Registration == nil && l.Registration != nil || s > size {
			best, size = l, s
		}
	}
	if best != nil {
		if out.Photo, err = k.picture(best, false); err != nil {
			return nil, err
		}
		out.Photo.Caption = "The photograph " + best.Name + ", which the map lies on."
		out.Width, out.Height = best.Width, best.Height
		return best.FromFrame.Apply, nil
	}
	box := geom.EmptyRect()
	for i := range m.Blocks {
		box = box.Union(m.Blocks[i].Box)
	}
	for _, pg := range m.Die.Region {
		box = box.Union(pg.Bounds())
	}
	if box.Empty() {
		return func(v geom.Vec) geom.Vec { return v }, nil
	}
	margin := float64(max(box.Width(), box.Height())) / 40
	left, top := float64(box.Min.X)-margin, float64(box.Max.Y)+margin
	out.Width, out.Height = float64(box.Width())+2*margin, float64(box.Height())+2*margin
	return func(v geom.Vec) geom.Vec { return geom.Vec{X: v.X - left, Y: top - v.Y} }, nil
}

// onPlane takes polygons to the plane that the block map is drawn in; long edges are bent as a map bends them.
func onPlane(pgs []geom.Polygon, to func(geom.Vec) geom.Vec) (rings [][][2]float64) {
	const steps = 8
	for _, pg := range pgs {
		for _, r := range pg {
			var ring [][2]float64
			for i, p := range r {
				q := r[(i+1)%len(r)]
				for s := range steps {
					t := float64(s) / steps
					v := to(geom.Vec{X: float64(p.X) + t*float64(q.X-p.X), Y: float64(p.Y) + t*float64(q.Y-p.Y)})
					ring = append(ring, [2]float64{v.X, v.Y})
				}
			}
			rings = append(rings, ring)
		}
	}
	return rings
}
