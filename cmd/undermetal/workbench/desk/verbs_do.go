package desk

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/shot"
)

// goTo goes to a place, as "120.5,88" or "120.5 88".
func (d *Desk) goTo(a []string) error {
	v, err := d.placeOf(a)
	if err != nil {
		return err
	}
	d.jump(v, geom.EmptyRect())
	d.say("%s µm", place(v))
	return nil
}

func (d *Desk) cursorTo(a []string) error {
	if len(a) == 1 && strings.HasSuffix(a[0], "px") {
		return d.cursorToPx(strings.TrimSuffix(a[0], "px"))
	}
	v, err := d.placeOf(a)
	if err != nil {
		return err
	}
	if !d.inFrame() && d.eye == 0 {
		return errors.New("nobody knows where the photograph lies: give pixels, as in :at 120.5,88px, from its upper left corner")
	}
	d.eye = 0
	d.moveCursor(v)
	return nil
}

// cursorToPx sets the cursor to a pixel of the photograph that it is in.
func (d *Desk) cursorToPx(text string) error {
	px, err := pair(text)
	if err != nil {
		return err
	}
	i := d.base
	if d.eye == 1 {
		i = d.over
	}
	if i < 0 || d.photos[i].shown == nil {
		return errors.New("there is no photograph here")
	}
	if l := d.photos[i].l; !l.Inside(px) {
		return fmt.Errorf("%s has %.0f × %.0f pixels: that lies beside it", l.Name, l.Width, l.Height)
	}
	d.moveCursor(d.photos[i].shown.ToFrame.Apply(px))
	return nil
}

func (d *Desk) placeOf(a []string) (geom.Vec, error) {
	if len(a) == 2 {
		return framePoint(a[0] + "," + a[1])
	}
	if len(a) != 1 {
		return geom.Vec{}, errUsage
	}
	return d.framePoint(a[0])
}

func (d *Desk) stationVerb(a []string) error {
	all := []string{"look", "register", "trace", "ask", "name", "hand"}
	if len(a) != 1 || !slices.Contains(all, a[0]) {
		return errUsage
	}
	d.enter(station(slices.Index(all, a[0])))
	return nil
}

func (d *Desk) shotCandidates([]string) (out []Candidate) {
	for _, p := range d.photos {
		out = append(out, Candidate{p.l.Name, p.l.Facts.Step})
	}
	return out
}

func (d *Desk) baseVerb(a []string) error {
	if len(a) != 1 {
		return errUsage
	}
	i, err := d.photoNamed(a[0])
	if err == nil {
		d.takePhoto(i)
	}
	return err
}

func (d *Desk) overVerb(a []string) error {
	if len(a) != 1 {
		return errUsage
	}
	i, err := d.photoNamed(a[0])
	if err == nil {
		d.takeSecond(i)
	}
	return err
}

func (d *Desk) showVerb(a []string) error {
	if len(a) != 1 || !slices.Contains(modeWords[:], a[0]) {
		return errUsage
	}
	return d.setMode(picture.Mode(slices.Index(modeWords[:], a[0])))
}

func (d *Desk) contrastVerb(a []string) error {
	if len(a) < 2 || len(a) > 3 {
		return errUsage
	}
	var v [3]float64
	for i, w := range a {
		var err error
		if v[i], err = number(w); err != nil {
			return err
		}
	}
	d.shownAs(func(s *shot.Display) {
		s.Low, s.High = v[0], v[1]
		if len(a) == 3 {
			s.Gamma = v[2]
		}
	})
	return nil
}

func (d *Desk) channelVerb(a []string) error {
	all := []string{"all", "red", "green", "blue"}
	if len(a) != 1 || !slices.Contains(all, a[0]) {
		return errUsage
	}
	d.shownAs(func(s *shot.Display) { s.Channel = slices.Index(all, a[0]) })
	return nil
}

func (d *Desk) layerCandidates([]string) (out []Candidate) {
	for i := range d.layers {
		out = append(out, Candidate{d.layerName(i), d.stack.Layers[i].Role.String()})
	}
	return out
}

func (d *Desk) layerVerb(a []string) error {
	if len(a) != 1 {
		return errUsage
	}
	i, err := d.layerNamed(a[0])
	if err == nil {
		d.drawOn(i)
		d.refresh()
	}
	return err
}

func (d *Desk) hideVerb(a []string) error {
	if len(a) == 0 {
		return errUsage
	}
	for _, name := range a {
		i, err := d.layerNamed(name)
		if err != nil {
			return err
		}
		d.hide(i)
	}
	return nil
}

func (d *Desk) sizeVerb(a []string) error {
	if len(a) != 1 {
		return errUsage
	}
	v, err := pair(a[0])
	if err != nil {
		if v.X, err = number(a[0]); err != nil {
			return err
		}
		v.Y = v.X
	}
	var p geom.Point
	if err := errors.Join(setLength(&p.X, v.X), setLength(&p.Y, v.Y)); err != nil {
		return err
	}
	d.stamp = p
	return nil
}

func (d *Desk) readingCandidates([]string) (out []Candidate) {
	k, err := d.questionHere()
	if err != nil {
		return nil
	}
	for _, r := range d.live.questions[k].Readings {
		out = append(out, Candidate{r.Reading, fmt.Sprintf("%.3g %%", 100*r.Probability)})
	}
	return append(out, Candidate{"open", "leave it open"})
}

func (d *Desk) answerVerb(reading string) error {
	k, err := d.questionHere()
	if err != nil {
		return err
	}
	q := d.live.questions[k]
	if reading == "open" {
		return d.answer(q, "")
	}
	for _, r := range q.Readings {
		if r.Reading == reading {
			return d.answer(q, reading)
		}
	}
	return fmt.Errorf("%s has no reading %q: Tab lists them", q.Kind, reading)
}

func (d *Desk) pairVerb(a []string) error {
	v, err := d.placeOf(a)
	if err != nil {
		return err
	}
	return d.pairTo(v)
}

func (d *Desk) mapVerb(a []string) error {
	if len(a) != 1 {
		return errUsage
	}
	k, err := register.ParseKind(a[0])
	if err == nil {
		d.setKind(k)
	}
	return err
}

// calibrateVerb gives the first photograph a scale.
func (d *Desk) calibrateVerb(a []string) error {
	if len(a) != 2 {
		return errUsage
	}
	if err := d.onlyInDie("a photograph's scale"); err != nil {
		return err
	}
	if d.base < 0 {
		return errors.New("there is no photograph: :shot add FILE brings one in")
	}
	var v [2]float64
	for i, w := range a {
		var err error
		if v[i], err = number(w); err != nil {
			return err
		}
	}
	scale, err := shot.Typed(v[0], v[1])
	if err != nil {
		return err
	}
	return d.calibrate(scale)
}

// lengthVerb gives the first photograph a scale by what the ruler lies along.
func (d *Desk) lengthVerb(a []string) error {
	if len(a) < 1 || len(a) > 2 {
		return errUsage
	}
	if err := d.onlyInDie("a photograph's scale"); err != nil {
		return err
	}
	var v [2]float64
	for i, w := range a {
		var err error
		if v[i], err = number(w); err != nil {
			return err
		}
	}
	switch {
	case d.base < 0:
		return errors.New("there is no photograph: :shot add FILE brings one in")
	case d.ruler == nil:
		return errors.New("lay the ruler along something of known length first: 1, r, Space at both ends")
	case !(v[0] > 0 && v[0] <= 1e6 && v[1] >= 0 && v[1] < v[0]):
		return errors.New("give a length in µm, and how uncertain it is, as in :length 8 0.02")
	}
	shown := d.photos[d.base].shown
	p, q := shown.FromFrame.Apply(d.ruler.A), shown.FromFrame.Apply(d.ruler.B)
	scale, err := shot.FromPoints(p.X, p.Y, q.X, q.Y, v[0]*1000, v[1]*1000, 1) // a mark set by eye is good to about a pixel
	if err != nil {
		return err
	}
	if err := d.calibrate(scale); err != nil {
		return err
	}
	d.ruler = nil
	if len(a) == 1 {
		d.good("%s; the length is taken as exact: a second figure says how well it is known", d.said.text)
	}
	return nil
}

func (d *Desk) calibrate(scale shot.Scale) error {
	s := *d.photos[d.base].l.Shot
	what := fmt.Sprintf("calibrate shot %s: %s", s.Name, scale)
	if err := d.doEdit(what, func(tx *dossier.Tx) error {
		_, err := tx.Calibrate(&s, scale, false)
		return err
	}); err != nil {
		return err
	}
	d.good("%s", what)
	return nil
}

// intoVerb goes into a cell, of an array into the member that is named.
func (d *Desk) intoVerb(a []string) error {
	if len(a) == 0 {
		return d.goInto(nil)
	}
	if len(a) != 1 {
		return errUsage
	}
	v, err := pair(a[0])
	if err != nil || v != vec(v.Round()) {
		return errUsage
	}
	return d.goInto(&[2]int{int(v.X), int(v.Y)})
}

// clipPlace takes the cursor's place to the system's clipboard.
func (d *Desk) clipPlace() error {
	if d.opt.Clip == nil {
		return errors.New("there is no clipboard here")
	}
	text := strings.ReplaceAll(place(d.at().cursor), " ", "")
	d.opt.Clip(text)
	d.good("copied: %s", text)
	return nil
}
