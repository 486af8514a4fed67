package picture

import (
	"image"
	"math"
	"math/rand/v2"
	"sync"
	"sync/atomic"
	"testing"

	"undermetal/cmd/undermetal/workbench/view"
	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/shot"
)

// differ compares with the picture that layout/shot draws, slowly and px by px, of the same part: by no more than most tones a
// channel. What is beside the photograph is black.
func differ(t *testing.T, p *shot.Pyramid, l register.Map, v view.View, d shot.Display, got *image.RGBA, most int) {
	t.Helper()
	want := image.NewRGBA(got.Rect)
	err := p.View(t.Context(), want, func(x, y float64) (float64, float64) {
		q := l.Apply(v.ToFrame(x, y))
		return q.X, q.Y
	}, d)
	if err != nil {
		t.Fatal(err)
	}
	shot.Blacken(want)
	rim, off, worst := 0, 0, 0
	for y := range got.Rect.Dy() {
		for x := range got.Rect.Dx() {
			a, b := at(got, x, y), at(want, x, y)
			n := 0
			for c := range a {
				n = max(n, int(a[c])-int(b[c]), int(b[c])-int(a[c]))
			}
			if n > most && (a == [3]uint8{} || b == [3]uint8{}) {
				rim++ // a centre that lies on the photograph's rim, to the last bit
				continue
			}
			if worst = max(worst, n); n > most {
				off++
			}
		}
	}
	if off > 0 || rim > 2 {
		t.Fatalf("%+v: %d px are off, the worst by %d tones; %d px of the rim", v, off, worst, rim)
	}
}

// TestLikeTheSlowWay: a picture that is whole is the one that layout/shot draws, in every orientation and depth, turned,
// small and large, with contrast, gamma and single channels.
func TestLikeTheSlowWay(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 7))
	for o := shot.TopLeft; o <= shot.LeftBottom; o++ {
		for _, kind := range [][2]int{{1, 8}, {3, 8}, {1, 16}, {3, 16}} {
			m := newMade(701, 530, kind[0], kind[1], rough(kind[1]))
			m.header.Orientation = o
			p := pyramidOf(t, m)
			l := locate(t, m.header, parse(t, register.Affine, 80, 3, -9000, 2, -81, 70_000))
			c := compose(t, Options{})
			ph := c.add(t, l, p)
			for i := range 8 {
				v := over(ph.Box(), 97+rnd.IntN(80), 61+rnd.IntN(60))
				if i > 0 {
					v = v.Zoom(math.Exp(4*rnd.Float64()-0.5), rnd.Float64()*100, rnd.Float64()*60)
				}
				if i > 2 {
					v = v.TurnBy(rnd.Float64() * 360)
				}
				d := shot.Plain
				if i%2 == 1 {
					d = shot.Display{Low: 0.1, High: 0.9, Gamma: 1.4, Channel: i / 2 % (kind[0] + 1)}
				}
				got := c.whole(t, &Scene{View: v, Base: Shown{ph, d}})
				differ(t, p, l.FromFrame, v, d, got, 2)
			}
		}
	}
}

// TestBent: maps that bend show what the map says, within the twentieth of a px that a table may be off; a shot without a place
// is shown in its own pixels.
func TestBent(t *testing.T) {
	m := newMade(600, 500, 1, 8, func(x, y, c int) int { return int(128 + 60*math.Sin(float64(x)/20) + 60*math.Cos(float64(y)/17)) })
	p := pyramidOf(t, m)
	var points []register.Point
	for i := range 16 {
		x, y := float64(i%4)*200, float64(i/4)*165
		points = append(points, register.Point{From: geom.Vec{X: x, Y: y}, To: geom.Vec{X: 100*x + 900*math.Sin(y/100), Y: 50_000 - 100*y + 700*math.Cos(x/90)}})
	}
	fit, err := register.FitPoints(register.Spline, points, register.ToFrame)
	if err != nil {
		t.Fatal(err)
	}
	for name, to := range map[string]register.Map{"spline": fit.Map, "projective": parse(t, register.Projective, 100, 2, 0, 3, -100, 50_000, 1e-4, 2e-4, 1), "none": nil} {
		t.Run(name, func(t *testing.T) {
			l := locate(t, m.header, to)
			c := compose(t, Options{})
			ph := c.add(t, l, p)
			from := l.FromFrame
			if to == nil {
				if from, err = Own(500).Inverse(); err != nil {
					t.Fatal(err)
				}
				if ph.Scaled || ph.Box() != geom.Box(0, 0, 600, 500) || ph.NmPerPx != 1 {
					t.Errorf("without a place: %+v", ph)
				}
			}
			v := over(ph.Box(), 180, 150).Zoom(5, 100, 60).TurnBy(20)
			got := c.whole(t, &Scene{View: v, Base: Shown{ph, shot.Plain}})
			differ(t, p, from, v, shot.Plain, got, 2)
		})
	}
}

// TestHighPixels: where px are twice as high as wide, a px is the mean of its two halves.
func TestHighPixels(t *testing.T) {
	m := newMade(900, 700, 3, 8, rough(8))
	p := pyramidOf(t, m)
	l := locate(t, m.header, parse(t, register.Similarity, 100, 0, 0, 0, -100, 70_000))
	c := compose(t, Options{})
	ph := c.add(t, l, p)
	v := over(ph.Box(), 300, 200)
	square := c.whole(t, &Scene{View: v, Base: Shown{ph, shot.Plain}})
	high := c.whole(t, &Scene{View: v.Resize(300, 100, 2), Base: Shown{ph, shot.Plain}})
	for y := range 100 {
		for x := range 300 {
			a, b, got := at(square, x, 2*y), at(square, x, 2*y+1), at(high, x, y)
			for k := range got {
				if want := (float64(a[k]) + float64(b[k])) / 2; a != [3]uint8{} && b != [3]uint8{} && math.Abs(float64(got[k])-want) > 1 {
					t.Fatalf("(%d, %d): %v, want the mean of %v and %v", x, y, got, a, b)
				}
			}
		}
	}
}

// TestCoarserAtOnce: while no tile comes, a picture is there at once, coarser; once they come, Ready says so, and the picture is
// the whole one. A view that nobody looks at any more is not fetched.
func TestCoarserAtOnce(t *testing.T) {
	m := newMade(4096, 4096, 1, 8, func(x, y, _ int) int { return 100 + (x^y)&63 })
	tiles := tilesOf(t, m)
	gate := make(chan struct{})
	var open atomic.Bool
	var fetched sync.Map
	open.Store(true)
	p := shot.NewPyramid(m.header, func(level, column, row int) ([]byte, error) {
		if !open.Load() {
			<-gate
		}
		fetched.Store([3]int{level, column, row}, true)
		return tiles[[3]int{level, column, row}], nil
	})
	l := locate(t, m.header, parse(t, register.Similarity, 100, 0, 0, 0, -100, 409_600))
	c := compose(t, Options{Workers: 2})
	ph := c.add(t, l, p)
	open.Store(false)
	img := image.NewRGBA(image.Rect(0, 0, 400, 300))
	stale := view.View{Middle: geom.Vec{X: 50_000, Y: 50_000}, NmPerPx: 100, Width: 400, Height: 300}
	if r, err := c.Draw(t.Context(), &Scene{View: stale, Base: Shown{ph, shot.Plain}}, img); err != nil || r.Missing == 0 {
		t.Fatal(r, err)
	}
	v := stale.Centre(geom.Vec{X: 300_000, Y: 300_000})
	r, err := c.Draw(t.Context(), &Scene{View: v, Base: Shown{ph, shot.Plain}}, img)
	if err != nil || r.Missing < 4 {
		t.Fatal(r, err)
	}
	// The top level has px of 16: its picture is smooth, and of the same tone.
	mean := func(img *image.RGBA) (v float64) {
		for i := 0; i < len(img.Pix); i += 4 {
			v += float64(img.Pix[i]) / float64(len(img.Pix)/4)
		}
		return v
	}
	coarse := mean(img)
	select {
	case <-c.ready:
		t.Fatal("ready, where nothing came")
	default:
	}
	close(gate)
	<-c.ready
	got := c.whole(t, &Scene{View: v, Base: Shown{ph, shot.Plain}})
	differ(t, p, l.FromFrame, v, shot.Plain, got, 2)
	if fine := mean(got); math.Abs(fine-coarse) > 4 {
		t.Errorf("the coarse picture has a mean tone of %.1f, the whole one of %.1f", coarse, fine)
	}
	n := 0
	for row := 14; row < 16; row++ { // around the first view, at level 0
		for column := range 3 {
			if _, ok := fetched.Load([3]int{0, column, row}); ok {
				n++
			}
		}
	}
	if n > 2 { // those that were on their way
		t.Errorf("%d tiles of a view were fetched that nobody looked at any more", n)
	}
}

// TestReadAhead: once a picture is whole, what lies around it is fetched without being asked for, so that a short pan and a step
// out lack nothing; what is kept stays within its bound, whatever is looked at.
func TestReadAhead(t *testing.T) {
	var fetched atomic.Int64
	h, p := endless(t, 1<<15, 3, &fetched)
	l := locate(t, h, parse(t, register.Similarity, 50, 0, 0, 0, -50, 50*(1<<15)))
	const bound = 16 << 20
	c := compose(t, Options{Bytes: bound})
	ph := c.add(t, l, p)
	v := view.View{Middle: geom.Vec{X: 700_000, Y: 900_000}, NmPerPx: 80, Width: 400, Height: 240}
	c.whole(t, &Scene{View: v, Base: Shown{ph, shot.Plain}})
	c.idle()
	img := image.NewRGBA(image.Rect(0, 0, 400, 240))
	before := fetched.Load()
	for _, next := range []view.View{v.Pan(60, -30), v.Zoom(0.5, 200, 120)} {
		if r, err := c.Draw(t.Context(), &Scene{View: next, Base: Shown{ph, shot.Plain}}, img); err != nil || r.Missing > 0 {
			t.Errorf("%+v: %+v, %v", next, r, err)
		}
	}
	if before < 10 {
		t.Errorf("%d tiles were fetched", before)
	}
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 60 {
		v = v.Centre(geom.Vec{X: rnd.Float64() * 1.6e6, Y: rnd.Float64() * 1.6e6})
		v.NmPerPx = math.Exp(rnd.Float64() * 9)
		c.whole(t, &Scene{View: v, Base: Shown{ph, shot.Plain}})
		if n := c.cache.Bytes(); n > bound {
			t.Fatalf("%d bytes are kept, the bound is %d", n, bound)
		}
	}
}

// TestLittleMemory: where a picture would take more than is kept, it is coarser and comes to an end; with a bound for it, it is fine.
func TestLittleMemory(t *testing.T) {
	// A quarter of the least, 4 MB, holds 5 tiles of 192 KB. A px is 1.5 of the photograph's; the picture is 3.2 × 2.3 tiles of level
	// 2 with those at the rim, and 2.1 × 1.7 of level 3.
	for bytes, level := range map[int]int{1: 3, 256 << 20: 0} {
		h, p := endless(t, 1<<14, 3, nil) // of its own: the composer before may still fetch ahead
		l := locate(t, h, parse(t, register.Similarity, 50, 0, 0, 0, -50, 50*(1<<14)))
		c := compose(t, Options{Bytes: bytes})
		ph := c.add(t, l, p)
		s := &Scene{View: view.View{Middle: geom.Vec{X: 400_000, Y: 400_000}, NmPerPx: 75, Width: 1500, Height: 900, Turn: 40}, Base: Shown{ph, shot.Plain}}
		c.whole(t, s)
		if got := ph.level(s.View, 1, float64(c.bytes)/4); got != level {
			t.Errorf("with %d bytes level %d, want %d", c.bytes, got, level)
		}
	}
}

// TestNextBlink: while one photograph is seen, the other is fetched, so that nothing is missing at the next blink.
func TestNextBlink(t *testing.T) {
	h, p := endless(t, 1<<13, 1, nil)
	_, q := endless(t, 1<<13, 1, nil)
	l := locate(t, h, parse(t, register.Similarity, 50, 0, 0, 0, -50, 50*(1<<13)))
	c := compose(t, Options{})
	s := &Scene{View: view.View{Middle: geom.Vec{X: 200_000, Y: 200_000}, NmPerPx: 50, Width: 400, Height: 300}, Mode: Blink}
	s.Base, s.Over = Shown{c.add(t, l, p), shot.Plain}, Shown{c.add(t, l, q), shot.Plain}
	img := c.whole(t, s)
	c.idle()
	s.Second = true
	if r, err := c.Draw(t.Context(), s, img); err != nil || r.Missing > 0 {
		t.Errorf("at the next blink: %+v, %v", r, err)
	}
}
