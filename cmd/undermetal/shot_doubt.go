package main

import (
	"io"
	"strconv"

	"undermetal/cmd/undermetal/shared"
	"undermetal/layout/register"
)

// farRmsPx is an rms, in pixels, that marks read by eye do not have where the map is the right one: they are good to a pixel or
// two (common practice).
const farRmsPx = 5

// warnMisfit warns of points that the map was made of though they do not go with the others, and of a fit that is bad as a
// whole, where the points are too few to tell which is wrong.
func (r *registering) warnMisfit(p *printer) {
	var odd []string
	for i := range r.points {
		if r.odd(i) {
			odd = append(odd, strconv.Itoa(i+1))
		}
	}
	switch {
	case len(odd) == 1:
		p.f("warning: %s: point %s does not go with the others, and the map is made of it all the same\n", r.s.Name, odd[0])
	case len(odd) > 1:
		p.f("warning: %s: points %s do not go with the others, and the map is made of them all the same\n", r.s.Name, someNames(odd))
	case r.fit.RmsFrom > farRmsPx:
		p.f("warning: %s: the map misses its points by %.3g px rms, and marks are read to a pixel or two\n", r.s.Name, shared.Tidy(r.fit.RmsFrom))
	default:
		return
	}
	p.f("    look whether a figure is mistyped, or points are exchanged; without a wrong one, call it again")
	if !r.flags.dryRun {
		p.f(", or undermetal undo %s", word(r.file))
	}
	p.f("\n")
}

// farScale is a factor between the scales of two photographs that no two lenses for one die are apart by (an overview has some
// µm a pixel, an electron micrograph some nm), while nm for µm is a thousand.
const farScale = 300

// warnUnit prints a warning where the map makes this photograph's pixels out of all proportion to those of another, as where its
// places are in another unit.
func (r *registering) warnUnit(w io.Writer) error {
	shots, err := r.d.Shots()
	if err != nil {
		return err
	}
	own := register.Size(r.fit.Map, r.middle())
	for i := range shots {
		if shots[i].ID == r.s.ID {
			continue
		}
		l, err := r.d.Locate(&shots[i])
		if err != nil {
			return err
		}
		if l.ToFrame == nil {
			continue
		}
		if other := register.Size(l.ToFrame, l.Middle()); own > farScale*other || other > farScale*own {
			p := &printer{w: w}
			p.f("warning: %s: a pixel of it is %s µm by these points, one of %s %s µm\n    look whether all places are in µm\n", r.s.Name, plainUm(own), shots[i].Name, plainUm(other))
			return p.err
		}
	}
	return nil
}

// plainUm writes so many nm in µm to three digits, without an exponent.
func plainUm(nm float64) string {
	v, _ := strconv.ParseFloat(strconv.FormatFloat(um(nm), 'g', 3, 64), 64)
	return strconv.FormatFloat(v, 'f', -1, 64)
}
