package picture

import (
	"context"

	"undermetal/layout"
)

// largePx is the height of a picture from which on outlines are two px wide.
const largePx = 400

// layers makes the planes of what is drawn, each in a goroutine of its own.
func (d *drawing) layers() {
	s := d.s
	visible, wide := ^uint64(0), uint64(0)
	if s.View.Height >= largePx {
		wide = ^uint64(0)
	}
	for i, l := range s.Layers[:min(len(s.Layers), layout.MaxLayers)] {
		if l.Hidden {
			visible &^= 1 << i
		}
		if l.Locked {
			wide &^= 1 << i
		}
	}
	for i, of := range []*Drawing{s.Drawing, s.Net, s.Selected} {
		if of == nil {
			continue
		}
		k := &d.c.kept
		if i == 0 && k.mu.TryLock() {
			d.keeps = true
			d.planes[0] = &k.plane
			if k.of == of && k.view == s.View && k.layers == visible && k.wide == wide {
				continue
			}
			k.of, k.view, k.layers, k.wide = of, s.View, visible, wide
		} else {
			d.planes[i] = d.c.planes.Get().(*plane)
		}
		p, layers := d.planes[i], visible
		if i > 0 {
			layers = ^uint64(0) // what was asked for by itself is seen on hidden layers, too
		}
		d.busy.Go(func() {
			p.reset(s.View.Width, s.View.Height)
			p.wide = wide
			w := walk{plane: p, layers: layers}
			w.draw(of, s.View.Screen())
		})
	}
}

// release gives the planes back.
func (d *drawing) release() {
	d.busy.Wait()
	for i, p := range d.planes {
		switch {
		case p == nil:
		case i == 0 && d.keeps:
			d.c.kept.mu.Unlock()
		default:
			d.c.planes.Put(p)
		}
	}
}

// shapes puts the planes on the photographs.
func (d *drawing) shapes(ctx context.Context) error {
	d.busy.Wait()
	for i := range d.planes {
		if d.planes[i] != nil {
			d.f.painters[i].set(d.s.Layers, manner(i), d.s.View.Height)
		}
	}
	return d.stripes(ctx, stripe, func(_, y0, y1 int) {
		for i, p := range d.planes {
			if i == int(lit) && p != nil {
				dim(d.img, y0, y1)
			}
			if p != nil {
				d.f.painters[i].paint(d.img, p, y0, y1)
			}
		}
	})
}
