package picture

import (
	"fmt"
	"image"

	"undermetal/cmd/undermetal/workbench/view"
	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// Mode says how two photographs are shown.
type Mode int

// The ways to show one photograph or two.
const (
	Alone Mode = iota // Base
	Blend             // both: Part of Over
	Blink             // Base, or with Second, Over: the caller changes Second as time goes
	Split             // Base left of a line at Part of the width, Over right of it
)

// Shown is a photograph with its contrast, gamma and channel.
type Shown struct {
	Photo   *Photo // nil: none
	Display shot.Display
}

// Scene is what a picture shows. It is a plain value: a Composer keeps nothing of it, and whoever made it may change a copy.
type Scene struct {
	View   view.View
	Base   Shown
	Over   Shown // both have to be registered, unless Mode is Alone
	Mode   Mode
	Part   float64
	Second bool

	Drawing  *Drawing // nil: none; so with the next two
	Layers   []Layer  // of all three, by index; those that are missing are shown in inks of their own
	Net      *Drawing // is lit, and all else darkened
	Selected *Drawing

	Lines   []Line
	Ruler   *Ruler
	Arrows  []Arrow // of control points
	Enlarge float64 // how many times as long as they are residuals are drawn; 0: 1. See Enlarging
	Bar     bool    // a scale bar, with its text: for pictures of real pixels. See BarFor for others
	Text    bool    // the ruler has its text beside it
}

// Line is drawn through places of the frame, nm: a polygon on its way, a marquee, a pointer.
type Line struct {
	Places []geom.Vec
	Closed bool
	Ink    shot.Ink // its colour; the line has a dark rim
}

// Ruler is a measured distance between two places of the frame, with what is written beside it.
type Ruler struct {
	A, B geom.Vec
	Text string
}

// Arrow is the residual of a control point: where it was to lie in the frame, and by how much the map misses it, in nm.
type Arrow struct {
	At, Residual geom.Vec
	Outlier      bool // it does not go with the others: told by a ring, and by its colour
}

// two reports whether the other photograph takes part.
func (s *Scene) two() bool { return s.Mode != Alone && s.Over.Photo != nil }

// check returns an error that says why a scene cannot be shown in a picture.
func (s *Scene) check(img *image.RGBA) error {
	v := s.View
	if img.Rect.Min != (image.Point{}) || img.Rect.Dx() != v.Width || img.Rect.Dy() != v.Height {
		return fmt.Errorf("a picture %v for a view of %d × %d px: it is to begin at (0, 0) and to have its size", img.Rect, v.Width, v.Height)
	}
	if !(v.NmPerPx > 0) {
		return fmt.Errorf("a view of %g nm a px: give more than 0", v.NmPerPx)
	}
	if !(s.Part >= 0 && s.Part <= 1) {
		return fmt.Errorf("a part of %g: give 0 to 1", s.Part)
	}
	for _, d := range []*Drawing{s.Drawing, s.Net, s.Selected} {
		if d != nil && len(d.Layers) > layout.MaxLayers {
			return fmt.Errorf("a drawing of %d layers: there may be %d", len(d.Layers), layout.MaxLayers)
		}
	}
	for _, p := range []Shown{s.Base, s.Over} {
		if p.Photo == nil {
			continue
		}
		if err := p.Display.Check(p.Photo.pyramid.Channels); err != nil {
			return fmt.Errorf("shot %q: %w", p.Photo.Name, err)
		}
		if s.two() && s.Base.Photo != nil && !p.Photo.Registered {
			return fmt.Errorf("shot %q is not registered, so that nobody knows where it lies on another photograph\n    undermetal shot register gives it its place", p.Photo.Name)
		}
	}
	return nil
}
