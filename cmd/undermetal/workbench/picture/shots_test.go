package picture

import (
	"context"
	"errors"
	"fmt"
	"image"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"undermetal/cmd/undermetal/workbench/view"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/shot"
	"undermetal/layout/stack"
)

// TestDossier: shots of a dossier, one that nobody knows the scale of and one that is calibrated; after the dossier is closed, what
// was seen is still there, and what was not is an error.
func TestDossier(t *testing.T) {
	st, ok := stack.Builtin("cmos-1p2m-well")
	if !ok {
		t.Fatal("no such stack")
	}
	d, err := dossier.Create(t.Context(), filepath.Join(t.TempDir(), "a.dossier"), st)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	c := compose(t, Options{})
	for i, scale := range []shot.Scale{{}, {NmPerPx: 50, Sigma: 0.1}} {
		m := newMade(2000, 1500, 1, 8, rough(8))
		picture, err := d.NewPicture(t.Context())
		if err == nil {
			err = shot.Build(t.Context(), m, func(tiles []shot.Tile) error { return d.AddTiles(t.Context(), picture, tiles) }, func(int) {})
		}
		s := &dossier.Shot{Name: fmt.Sprint("shot", i), Header: m.header, Linked: true, Display: shot.Plain, Scale: scale}
		if err == nil {
			err = d.Edit(t.Context(), "add", func(tx *dossier.Tx) error { return tx.AddShot(s, picture) })
		}
		if err != nil {
			t.Fatal(err)
		}
		l, err := d.Locate(s)
		if err != nil {
			t.Fatal(err)
		}
		ph := c.add(t, l, d.Pyramid(s))
		k := []float64{1, 50}[i]
		if want := geom.Box(0, 0, int(2000*k), int(1500*k)); ph.Box() != want || ph.NmPerPx != k || ph.Scaled != (i == 1) || ph.Registered {
			t.Errorf("%s lies in %v, %+v", s.Name, ph.Box(), ph)
		}
		v := over(ph.Box(), 500, 400)
		img := c.whole(t, &Scene{View: v, Base: Shown{ph, s.Display}})
		from, err := ph.ToFrame.Inverse()
		if err != nil {
			t.Fatal(err)
		}
		differ(t, d.Pyramid(s), from, v, s.Display, img, 2)
		if i == 0 {
			continue
		}
		c.idle()
		if err := d.Close(); err != nil {
			t.Fatal(err)
		}
		again := image.NewRGBA(img.Rect)
		if r, err := c.Draw(t.Context(), &Scene{View: v, Base: Shown{ph, s.Display}}, again); err != nil || r.Err != nil || r.Missing > 0 || string(again.Pix) != string(img.Pix) {
			t.Errorf("after the dossier was closed: %+v, %v", r, err)
		}
		near := &Scene{View: v.Zoom(20, 250, 200), Base: Shown{ph, s.Display}}
		for {
			r, err := c.Draw(t.Context(), near, again)
			if err != nil {
				t.Fatal(err)
			}
			if r.Missing == 0 {
				if r.Err == nil {
					t.Error("a closed dossier gives tiles")
				}
				break
			}
			<-c.ready
		}
	}
}

// TestDamage: where a tile cannot be read, a coarser one is shown, the result says which it was, and nothing waits for it; once
// it can be read, Retry brings it.
func TestDamage(t *testing.T) {
	m := newMade(1024, 1024, 1, 8, rough(8))
	tiles := tilesOf(t, m)
	var damaged atomic.Bool
	damaged.Store(true)
	p := shot.NewPyramid(m.header, func(level, column, row int) ([]byte, error) {
		if level == 0 && column == 1 && row == 2 && damaged.Load() {
			return nil, errNoTile
		}
		return tiles[[3]int{level, column, row}], nil
	})
	l := locate(t, m.header, parse(t, register.Similarity, 100, 0, 0, 0, -100, 102_400))
	c := compose(t, Options{})
	ph := c.add(t, l, p)
	v := over(ph.Box(), 1024, 1024)
	img := image.NewRGBA(image.Rect(0, 0, 1024, 1024))
	s := &Scene{View: v, Base: Shown{ph, shot.Plain}}
	var r Result
	for r.Err == nil || r.Missing > 0 {
		var err error
		if r, err = c.Draw(t.Context(), s, img); err != nil {
			t.Fatal(err)
		}
		if r.Missing > 0 {
			<-c.ready
		}
	}
	if !errors.Is(r.Err, errNoTile) || !strings.Contains(r.Err.Error(), "level 0, tile 1, 2") {
		t.Errorf("error %v", r.Err)
	}
	if at(img, 300, 600) == [3]uint8{} {
		t.Error("nothing is shown where the tile is damaged")
	}
	damaged.Store(false)
	c.Retry()
	differ(t, p, l.FromFrame, v, shot.Plain, c.whole(t, s), 2)
}

// TestTwo: a photograph and its negative, the other way up, blend to one grey, blink to either, and split to both.
func TestTwo(t *testing.T) {
	m := newMade(300, 200, 1, 8, func(x, y, _ int) int { return 40 + (x+2*y)/4 })
	n := newMade(300, 200, 1, 8, func(x, y, _ int) int { return 255 - (40 + (299-x+2*(199-y))/4) })
	c := compose(t, Options{})
	a := c.add(t, locate(t, m.header, parse(t, register.Similarity, 100, 0, 0, 0, -100, 20_000)), pyramidOf(t, m))
	b := c.add(t, locate(t, n.header, parse(t, register.Similarity, -100, 0, 30_000, 0, 100, 0)), pyramidOf(t, n))
	v := over(geom.Box(0, 0, 30_000, 20_000), 150, 100)
	s := Scene{View: v, Base: Shown{a, shot.Plain}, Over: Shown{b, shot.Plain}}
	with := func(mode Mode, part float64, second bool) *image.RGBA {
		s := s
		s.Mode, s.Part, s.Second = mode, part, second
		return c.whole(t, &s)
	}
	alone, half, other, split := with(Alone, 0, false), with(Blend, 0.5, false), with(Blink, 0, true), with(Split, 0.5, false)
	if fmt.Sprint(with(Blink, 0, false).Pix) != fmt.Sprint(alone.Pix) || fmt.Sprint(with(Blend, 1, false).Pix) != fmt.Sprint(other.Pix) {
		t.Error("the first blink is not the first photograph, or a blend of 1 not the second")
	}
	for y := range 100 {
		for x := range 150 {
			p, q := int(at(alone, x, y)[0]), int(at(other, x, y)[0])
			if d := p + q - 255; d < -2 || d > 2 {
				t.Fatalf("(%d, %d): %d and %d", x, y, p, q)
			}
			if g := int(at(half, x, y)[0]); g < 126 || g > 129 {
				t.Fatalf("(%d, %d): blended to %d", x, y, g)
			}
			want := at(alone, x, y)
			if x > 76 {
				want = at(other, x, y)
			}
			if got := at(split, x, y); (x < 74 || x > 76) && got != want {
				t.Fatalf("(%d, %d): split to %v, want %v", x, y, got, want)
			}
		}
	}
	s.Mode = Blend
	loose := *a
	loose.Registered = false
	s.Base.Photo = &loose
	if _, err := c.Draw(t.Context(), &s, alone); err == nil || !strings.Contains(err.Error(), "not registered") {
		t.Errorf("a photograph without a place is blended: %v", err)
	}
}

// TestManyAtOnce: pictures drawn at once by several goroutines are those that are drawn one by one; a context that has ended ends
// a picture; after Close pictures are still drawn with what is there.
func TestManyAtOnce(t *testing.T) {
	h, p := endless(t, 1<<13, 1, nil)
	c := compose(t, Options{})
	ph := c.add(t, locate(t, h, parse(t, register.Similarity, 50, 0, 0, 0, -50, 50*(1<<13))), p)
	d := grid(40, 3)
	views := make([]*Scene, 6)
	var want []*image.RGBA
	for i := range views {
		v := view.View{Middle: geom.Vec{X: float64(60_000 * (i + 1)), Y: 90_000}, NmPerPx: 60, Width: 120, Height: 90}
		views[i] = &Scene{View: v, Base: Shown{ph, shot.Plain}, Drawing: d}
		want = append(want, c.whole(t, views[i]))
	}
	var all sync.WaitGroup
	for i := range views {
		all.Go(func() {
			img := image.NewRGBA(want[i].Rect)
			for range 10 {
				if _, err := c.Draw(t.Context(), views[i], img); err != nil || string(img.Pix) != string(want[i].Pix) {
					t.Errorf("view %d is another, %v", i, err)
					return
				}
			}
		})
	}
	all.Wait()
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := c.Draw(ended, views[0], image.NewRGBA(want[0].Rect)); !errors.Is(err, context.Canceled) {
		t.Errorf("after the end: %v", err)
	}
	c.Close()
	img := image.NewRGBA(want[0].Rect)
	if _, err := c.Draw(t.Context(), views[0], img); err != nil || string(img.Pix) != string(want[0].Pix) {
		t.Errorf("after Close: %v", err)
	}
}
