package workbench

import (
	"bytes"
	"context"
	"errors"
	"image"
	"math"

	"undermetal/cmd/undermetal/workbench/desk"
	"undermetal/cmd/undermetal/workbench/glyph"
	"undermetal/cmd/undermetal/workbench/graphics"
	"undermetal/cmd/undermetal/workbench/picture"
)

// manner is how a picture is put into cells.
type manner struct {
	pixels      Pixels // not Auto
	style       glyph.Style
	cell        image.Point // px of a cell, of real pixels
	most        image.Point // px of one sixel picture
	columns     int
	rows        int
	left, above int // cells before and over it
}

// px is how large the picture is, and how many times as high as wide a px is.
func (m *manner) px() (size image.Point, aspect float64) {
	if m.pixels == Glyphs {
		w, h := m.style.Size()
		return image.Pt(m.columns*w, m.rows*h), m.style.Aspect(m.cell.X, m.cell.Y)
	}
	return image.Pt(m.columns*m.cell.X, m.rows*m.cell.Y), 1
}

// middleOf returns the place in the picture, in px, that the middle of a cell of the screen has.
func (m *manner) middleOf(x, y int) (px, py float64) {
	w, h := m.cell.X, m.cell.Y
	if m.pixels == Glyphs {
		w, h = m.style.Size()
	}
	return (float64(x-m.left) + 0.5) * float64(w), (float64(y-m.above) + 0.5) * float64(h)
}

// job is a picture to be drawn.
type job struct {
	manner manner
	panes  []pane
}

// pane is a desk.Pane; Bar says whether it is to have a scale bar in cells.
type pane struct {
	desk.Pane
	Bar bool
}

// drawn is a picture that was drawn.
type drawn struct {
	manner manner
	grid   glyph.Grid
	bytes  bytes.Buffer // of real pixels: what to write
	bars   []bar        // of glyphs
	err    error        // what is missing for good, or could not be shown
}

// bar is a scale bar in cells of the picture.
type bar struct {
	x, y, w int
	text    string
}

// barOf is the scale bar of a pane, at its lower left; ok is false where it has no room or nobody knows the scale.
func (m *manner) barOf(p *desk.Pane) (b bar, ok bool) {
	if p.Scene.View.NmPerPx <= 0 || p.Scene.Base.Photo != nil && !p.Scene.Base.Photo.Scaled {
		return bar{}, false
	}
	_, px, text := picture.BarFor(p.Scene.View)
	w, h := m.style.Size()
	b = bar{x: p.Box.Min.X/w + 1, y: p.Box.Max.Y/h - 1, w: int(math.Round(px / float64(w))), text: text}
	return b, b.w > 1 && b.w+len(text)+3 < p.Box.Dx()/w
}

// renderer draws pictures in a goroutine of its own: the latest one that was asked for, and none twice.
type renderer struct {
	composer *picture.Composer
	jobs     chan job    // the one to be drawn next
	done     chan *drawn // to be shown
	free     chan *drawn
	hook     func(where string)

	img   *image.RGBA
	sixel graphics.Sixel
	kitty graphics.Kitty
}

func newRenderer(c *picture.Composer, hook func(string)) *renderer {
	r := &renderer{composer: c, jobs: make(chan job, 1), done: make(chan *drawn, 2), free: make(chan *drawn, 2), hook: hook}
	r.free <- &drawn{}
	r.free <- &drawn{}
	return r
}

// ask has a picture be drawn instead of the one that waits, if any. It is for one goroutine, and never waits.
func (r *renderer) ask(j job) {
	select {
	case <-r.jobs:
	default:
	}
	r.jobs <- j
}

// run draws until the context ends.
func (r *renderer) run(ctx context.Context) {
	for {
		var d *drawn
		select {
		case d = <-r.free:
		case <-ctx.Done():
			return
		}
		select {
		case j := <-r.jobs:
			if r.hook != nil {
				r.hook("picture")
			}
			r.draw(ctx, &j, d)
		case <-ctx.Done():
			return
		}
		if ctx.Err() != nil {
			return
		}
		r.done <- d // there is room: there are two of them
	}
}

// draw draws all panes, and makes of them what the terminal wants.
func (r *renderer) draw(ctx context.Context, j *job, d *drawn) {
	d.manner, d.err, d.bars = j.manner, nil, d.bars[:0]
	d.bytes.Reset()
	size, _ := j.manner.px()
	if size.X < 1 || size.Y < 1 {
		d.grid = glyph.Grid{}
		return
	}
	r.canvas(size)
	for i := range j.panes {
		p := &j.panes[i]
		v := p.Scene.View
		box := image.Rect(0, 0, v.Width, v.Height).Add(p.Box.Min)
		if v.Width < 1 || v.Height < 1 || !box.In(r.img.Rect) {
			continue // made for another size: the next one is on its way
		}
		own := image.RGBA{Pix: r.img.Pix[r.img.PixOffset(box.Min.X, box.Min.Y):], Stride: r.img.Stride, Rect: image.Rect(0, 0, v.Width, v.Height)}
		if j.manner.pixels == Glyphs && p.Bar {
			if b, ok := j.manner.barOf(&p.Pane); ok {
				d.bars = append(d.bars, b)
			}
		}
		result, err := r.composer.Draw(ctx, &p.Scene, &own)
		d.err = errors.Join(d.err, result.Err, err)
	}
	switch j.manner.pixels {
	case Kitty:
		d.err = errors.Join(d.err, r.sendKitty(d))
	case Sixel:
		d.err = errors.Join(d.err, r.sendSixel(d))
	default:
		d.grid.Fit(r.img, j.manner.style)
	}
}

// canvas gets a black picture of a size.
func (r *renderer) canvas(size image.Point) {
	if r.img == nil || r.img.Rect.Size() != size {
		r.img = image.NewRGBA(image.Rectangle{Max: size})
	} else {
		clear(r.img.Pix)
	}
	for i := 3; i < len(r.img.Pix); i += 4 {
		r.img.Pix[i] = 255
	}
}
