package desk

import (
	"errors"
	"fmt"
	"math"

	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/layout/dossier"
	"undermetal/layout/shot"
)

// photo is a shot of the dossier, and what is shown of it.
type photo struct {
	l       *dossier.Located
	shown   *picture.Photo // nil until it is looked at
	display shot.Display
}

// open makes a photograph one that can be shown.
func (d *Desk) open(i int) error {
	p := d.photos[i]
	if p.shown != nil {
		return nil
	}
	shown, err := d.composer.Add(p.l, d.file.Pyramid(p.l.Shot))
	if err != nil {
		return err
	}
	p.shown = shown
	return nil
}

// lay chooses the photographs; -1 stands for none.
func (d *Desk) lay(base, over int) error {
	for _, i := range []int{base, over} {
		if i >= 0 {
			if err := d.open(i); err != nil {
				return err
			}
		}
	}
	moved := base != d.base && base >= 0 && (d.base < 0 || !d.photos[d.base].shared() || !d.photos[base].shared())
	d.base, d.over = base, over
	d.bounds()
	if moved {
		d.look()
	}
	return nil
}

// second2 is the photograph of the second eye.
func (d *Desk) second2() *picture.Photo {
	if d.over < 0 {
		return nil
	}
	return d.photos[d.over].shown
}

func (d *Desk) nextBase(by int) {
	n := len(d.photos)
	if n == 0 {
		d.warn("there are no photographs: :shot add FILE brings one in")
		return
	}
	base, over := ((d.base+by)%n+n)%n, d.over
	if over == base {
		over = d.base
	}
	if d.try(d.lay(base, over)) {
		d.leavePairs()
		d.say("%s", d.photos[base].l.Name)
	}
}

func (d *Desk) nextOver(by int) {
	n := len(d.photos)
	if n < 2 {
		d.warn("there is no second photograph: :shot add FILE brings one in")
		return
	}
	over := d.over
	for range n {
		if over = ((over+by)%n + n) % n; over != d.base {
			break
		}
	}
	if d.try(d.lay(d.base, over)) {
		d.leavePairs()
		d.say("second photograph: %s", d.photos[over].l.Name)
	}
}

var modeWords = [...]string{picture.Alone: "alone", picture.Blend: "blend", picture.Blink: "blink", picture.Split: "split"}

// setMode chooses how two photographs are shown.
func (d *Desk) setMode(m picture.Mode) error {
	if m != picture.Alone {
		if d.base < 0 || d.over < 0 {
			return errors.New("one photograph can only be shown alone: O chooses a second one")
		}
		if err := d.open(d.over); err != nil {
			return err
		}
		for _, i := range []int{d.base, d.over} {
			if !d.photos[i].shared() {
				return fmt.Errorf("%s has no place in the frame: register it first (2)", d.photos[i].l.Name)
			}
		}
	}
	d.mode, d.second = m, false
	return nil
}

func (d *Desk) nextMode() {
	if d.try(d.setMode((d.mode + 1) % 4)) {
		d.say("%s", modeWords[d.mode])
	}
}

func (d *Desk) morePart(by float64) { d.part = max(0, min(1, math.Round((d.part+by)*100)/100)) }

// shownAs changes how the photograph is shown; it is no edit.
func (d *Desk) shownAs(f func(*shot.Display)) {
	if d.base < 0 {
		d.warn("there is no photograph")
		return
	}
	p := d.photos[d.base]
	if d.eye == 1 && d.over >= 0 {
		p = d.photos[d.over]
	}
	s := p.display
	f(&s)
	s.Low, s.High = math.Round(max(0, min(0.98, s.Low))*1000)/1000, math.Round(max(0.02, min(1, s.High))*1000)/1000
	if err := s.Check(p.l.Header.Channels); err != nil {
		d.fail(err)
		return
	}
	p.display = s
	d.say("black %.3g, white %.3g, gamma %.3g, %s", s.Low, s.High, s.Gamma, channelWords[s.Channel])
}

var channelWords = [...]string{"all channels", "red", "green", "blue"}

// keepDisplay stores how the photograph is shown.
func (d *Desk) keepDisplay() {
	if d.base < 0 {
		return
	}
	p := d.photos[d.base]
	s := *p.l.Shot
	s.Display = p.display
	d.edit(fmt.Sprintf("show shot %s: black %.3g, white %.3g, gamma %.3g", s.Name, s.Display.Low, s.Display.High, s.Display.Gamma), func(tx *dossier.Tx) error { return tx.SetShot(&s) })
}

// photoNamed finds a photograph by its name.
func (d *Desk) photoNamed(name string) (int, error) {
	for i, p := range d.photos {
		if p.l.Name == name {
			return i, nil
		}
	}
	return -1, fmt.Errorf("there is no photograph %q", name)
}

// shared reports whether it lies where other photographs lie.
func (p *photo) shared() bool { return p.l.Registration != nil }
