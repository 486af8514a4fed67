package picture

import (
	"context"
	"image"
	"math"
	"runtime"

	"undermetal/layout/shot"
)

// shown returns the photographs that are seen, one over the other, and the one that will be seen at the next blink, if any.
func (s *Scene) shown() (seen []Shown, next *Shown) {
	switch {
	case s.two() && s.Base.Photo == nil:
		return []Shown{s.Over}, nil
	case s.Base.Photo == nil:
		return nil, nil
	case s.two() && s.Mode == Blink && s.Second:
		return []Shown{s.Over}, &s.Base
	case s.two() && s.Mode == Blink:
		return []Shown{s.Base}, &s.Over
	case s.two():
		return []Shown{s.Base, s.Over}, nil
	}
	return []Shown{s.Base}, nil
}

// rows is how many rows of samples make a row of px: as many as make their sides about equal.
func (s *Scene) rows() int { return max(1, min(8, int(math.Round(s.View.Aspect)))) }

// found is what was looked at of a photograph.
type found struct {
	Shown
	level    int
	samplers []*sampler // one a worker
}

// find prepares to draw a photograph.
func (d *drawing) find(p Shown, workers int) found {
	f := found{Shown: p, level: p.Photo.level(d.s.View, d.s.rows(), float64(d.c.bytes)/4)}
	curve := d.c.curve(p.Display)
	for range workers {
		f.samplers = append(f.samplers, newSampler(p.Photo, d.s.View, f.level, p.Display, curve))
	}
	return f
}

// gather takes note of the tiles that were looked at.
func (d *drawing) gather(f found, hidden bool) {
	v := d.s.View
	middle := f.Photo.to(v, f.level).place(float64(v.Width)/2, float64(v.Height)/2)
	g := gather(f.Photo, f.level, middle, f.samplers)
	g.hidden = hidden
	d.found = append(d.found, g)
}

// photographs draws one photograph or two.
func (d *drawing) photographs(ctx context.Context) error {
	s := d.s
	shown, next := s.shown()
	workers := runtime.GOMAXPROCS(0)
	var photos []found
	rows := stripe
	for _, p := range shown {
		f := d.find(p, workers)
		if f.samplers[0].w.table != nil { // as many as one builds at once
			rows = tableSide
		}
		photos = append(photos, f)
	}
	over := make([]*image.RGBA, workers)
	err := d.stripes(ctx, rows, func(worker, y0, y1 int) {
		own := part(d.img, y0, y1)
		for y := range y1 - y0 {
			clear(own.Pix[y*own.Stride:][:4*s.View.Width])
		}
		if len(photos) > 0 {
			photos[0].samplers[worker].draw(&own, y0, s.rows())
		}
		if len(photos) == 2 {
			if over[worker] == nil {
				over[worker] = image.NewRGBA(image.Rect(0, 0, s.View.Width, rows))
			}
			other := part(over[worker], 0, y1-y0)
			clear(other.Pix)
			photos[1].samplers[worker].draw(&other, y0, s.rows())
			if s.Mode == Split {
				shot.Split(&own, &other, s.Part)
			} else {
				shot.Blend(&own, &other, s.Part)
			}
		}
		shot.Blacken(&own)
	})
	for _, f := range photos {
		d.gather(f, false)
	}
	if next != nil {
		f := d.find(*next, 1)
		f.samplers[0].look(s.View.Width, s.View.Height)
		d.gather(f, true)
	}
	return err
}

// draw draws rows of a picture, which begin at y0 of the whole one, each of some rows of samples.
func (s *sampler) draw(img *image.RGBA, y0, rows int) {
	wide := 4 * img.Rect.Dx()
	for y := range img.Rect.Dy() {
		dst := img.Pix[y*img.Stride:][:wide]
		if rows == 1 {
			s.row(dst, float64(y0+y)+0.5)
			continue
		}
		for len(s.rows) < rows {
			s.rows = append(s.rows, make([]uint8, wide))
		}
		for i, r := range s.rows[:rows] {
			clear(r)
			s.row(r, float64(y0+y)+(float64(i)+0.5)/float64(rows))
		}
		mean(dst, s.rows[:rows])
	}
}
