package desk

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"undermetal/cmd/undermetal/shared"
	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/register"
)

// pairing is the registration of the second photograph that is under way.
type pairing struct {
	shot   int64
	points []register.Point
	kind   register.Kind
	from   *geom.Vec // the half of a pair that is set: px of the photograph,
	to     *geom.Vec // or nm of the frame
	fit    *register.Fit
	err    error          // why there is none
	shown  *picture.Photo // the photograph where the fit takes it
	box    geom.Rect      // of the photograph, when it was looked at last
	one    bool           // one photograph at a time, and not side by side
	over   bool           // the fit's picture lies over the first photograph
}

// beside reports whether both photographs are seen, side by side.
func (d *Desk) beside() bool {
	return d.station == registering && d.pairs != nil && !d.pairs.one && !d.pairs.over
}

// enterPairs begins with what the dossier has of the second photograph.
func (d *Desk) enterPairs() {
	if d.pairs != nil || d.base < 0 || d.over < 0 {
		return
	}
	if !d.try(d.open(d.over)) {
		return
	}
	l := d.photos[d.over].l
	p := &pairing{shot: l.ID, kind: register.Similarity}
	if l.Registration != nil && !l.Registration.Laid() {
		if k, err := register.ParseKind(l.Registration.Kind); err == nil {
			p.kind = k
		}
	}
	points, err := d.file.ControlPoints(l.ID)
	if !d.try(err) {
		return
	}
	for _, c := range points {
		p.points = append(p.points, register.Point{From: geom.Vec{X: c.PX, Y: c.PY}, To: geom.Vec{X: c.X, Y: c.Y}, Sigma: c.SigmaPx})
	}
	d.pairs, d.mode = p, picture.Alone
	d.fitPanes()
	d.otherEye()
	d.refit()
	d.say("register %s on %s: Space sets a place in one, Tab goes to the other", l.Name, d.photos[d.base].l.Name)
}

// leavePairs gives up pairs that were not accepted.
func (d *Desk) leavePairs() {
	d.pairs, d.eye = nil, 0
	d.fitPanes()
	if d.station == registering {
		d.enterPairs()
	}
	d.fitPanes()
}

// forget drops what an edit has made wrong: pairs of a photograph that is gone.
func (p *pairing) forget(d *Desk) {
	if d.over < 0 || d.photos[d.over].l.ID != p.shot || d.base < 0 {
		d.pairs, d.eye = nil, 0
		d.fitPanes()
		return
	}
	d.otherEye()
	d.refit()
}

// otherEye shows all of the second photograph, where it does not lie any more where it was looked at.
func (d *Desk) otherEye() {
	if box := d.second2().Box(); box != d.pairs.box {
		d.pairs.box = box
		d.eyes[1].view = d.eyes[1].view.Fit(box, fitRim)
		d.eyes[1].cursor = d.eyes[1].view.Middle
	}
}

// known says why the first photograph cannot be registered on; nil where it can.
func (d *Desk) known() error {
	if d.base < 0 || d.over < 0 {
		return errors.New("two photographs are wanted: b and o choose them")
	}
	if l := d.photos[d.base].l; l.ToFrame == nil {
		return fmt.Errorf("nobody knows where %s lies: the ruler (1, r) and :length UM SIGMA give it a scale, and the frame its origin; so does :calibrate NM SIGMA, in nm per pixel", l.Name)
	}
	return nil
}

// setHalf sets the half of a pair that belongs to the photograph with the cursor.
func (d *Desk) setHalf() {
	p := d.pairs
	if p == nil {
		d.try(d.known())
		return
	}
	at := d.at().cursor
	if d.eye == 1 {
		px := d.second2().FromFrame.Apply(at)
		if l := d.photos[d.over].l; !l.Inside(px) {
			d.warn("that lies beside %s", l.Name)
			return
		}
		p.from = &px
	} else {
		if !d.try(d.known()) {
			return
		}
		p.to = &at
	}
	if p.from == nil || p.to == nil {
		d.switchEye()
		other := d.photos[d.base].l.Name
		if d.eye == 1 {
			other = d.photos[d.over].l.Name
		}
		d.say("half a pair: now the same place in %s, and Space; Esc gives it up", other)
		return
	}
	p.points = append(p.points, register.Point{From: *p.from, To: *p.to})
	p.from, p.to = nil, nil
	d.refit()
	d.refresh()
	d.sayFit()
}

// pairTo ends a pair with a typed place of the frame.
func (d *Desk) pairTo(to geom.Vec) error {
	p := d.pairs
	if p == nil {
		return errors.New("nothing is being registered: 2 begins it")
	}
	if p.from == nil {
		px := d.second2().FromFrame.Apply(d.eyes[1].cursor)
		p.from = &px
	}
	p.points = append(p.points, register.Point{From: *p.from, To: to})
	p.from, p.to = nil, nil
	d.refit()
	d.refresh()
	d.sayFit()
	return nil
}

// switchEye goes to the other photograph; where a fit tells the place there, to that.
func (d *Desk) switchEye() {
	p := d.pairs
	if p == nil || d.station != registering {
		return
	}
	old := d.at().cursor
	d.eye = 1 - d.eye
	if p.fit == nil || p.over {
		return
	}
	second := d.second2()
	if d.eye == 1 {
		back, err := p.fit.Map.Inverse()
		if err != nil {
			return
		}
		if px := back.Apply(old); d.photos[d.over].l.Inside(px) {
			d.moveCursor(second.ToFrame.Apply(px))
		}
		return
	}
	if to := p.fit.Map.Apply(second.FromFrame.Apply(old)); math.Abs(to.X) <= geom.Limit && math.Abs(to.Y) <= geom.Limit {
		d.moveCursor(to)
	}
}

// refit fits the map to the pairs.
func (d *Desk) refit() {
	p := d.pairs
	p.fit, p.err, p.shown = nil, nil, nil
	if len(p.points) < p.kind.Points() {
		p.over = false
		d.fitPanes()
		return
	}
	if p.fit, p.err = register.FitPoints(p.kind, p.points, register.ToFrame); p.err != nil {
		p.fit, p.over = nil, false
		d.fitPanes()
		return
	}
	l := *d.photos[d.over].l
	back, err := p.fit.Map.Inverse()
	if err == nil {
		l.ToFrame, l.FromFrame = p.fit.Map, back
		l.Registration = &dossier.Registration{Shot: l.ID, Kind: string(p.kind)}
		p.shown, err = d.second2().At(&l)
	}
	if err != nil {
		p.err = err
	}
}

func (d *Desk) sayFit() {
	p := d.pairs
	switch {
	case p.err != nil:
		d.fail(p.err)
	case p.fit == nil:
		d.say("%s: the map (%s) wants %d", counted(len(p.points), "pair"), p.kind, p.kind.Points())
	default:
		out := 0
		for _, o := range p.fit.Outlier {
			if o {
				out++
			}
		}
		text := fmt.Sprintf("%s by %s: off by %.3g px, %s µm", p.kind, counted(len(p.points), "pair"), shared.Tidy(p.fit.RmsFrom), um(p.fit.Rms))
		if out > 0 {
			d.warn("%s; %s does not go with the others", text, counted(out, "pair"))
			return
		}
		if len(p.points) == p.kind.Points() {
			text += "; no pair is left over to tell how well it fits"
		}
		d.say("%s", text)
	}
}

// setKind chooses the map.
func (d *Desk) setKind(k register.Kind) {
	if d.pairs == nil {
		d.warn("nothing is being registered: 2 begins it")
		return
	}
	d.pairs.kind = k
	d.refit()
	d.refresh()
	d.sayFit()
}

var kinds = []register.Kind{register.Similarity, register.Affine, register.Projective, register.Spline}

func (d *Desk) nextKind() {
	if d.pairs != nil {
		d.setKind(kinds[(slices.Index(kinds, d.pairs.kind)+1)%len(kinds)])
	}
}

// dropPair takes away the half that is set, or the pair next to the cursor.
func (d *Desk) dropPair() {
	p := d.pairs
	if p == nil {
		return
	}
	if p.from != nil || p.to != nil {
		p.from, p.to = nil, nil
		d.say("half a pair less")
		return
	}
	best, off := -1, math.Inf(1)
	for i, q := range p.points {
		at := q.To
		if d.eye == 1 {
			at = d.second2().ToFrame.Apply(q.From)
		}
		c := d.at().cursor
		if o := math.Hypot(at.X-c.X, at.Y-c.Y); o < off {
			best, off = i, o
		}
	}
	if best < 0 {
		d.say("there are no pairs")
		return
	}
	p.points = slices.Delete(p.points, best, best+1)
	d.refit()
	d.refresh()
	d.sayFit()
}
