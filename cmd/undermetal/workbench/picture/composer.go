package picture

import (
	"context"
	"errors"
	"image"
	"runtime"
	"sync"
	"sync/atomic"

	"undermetal/cmd/undermetal/workbench/view"
	"undermetal/layout/dossier"
	"undermetal/layout/shot"
)

// Options are those of a Composer.
type Options struct {
	Bytes   int // how much of all photographs is kept unpacked; 0: DefaultBytes
	Workers int // that fetch tiles; 0: 2
	// Ready, unless nil, is called when what was missing in the latest picture has begun to arrive: once, until there is a
	// picture again. It is called from a goroutine that fetches tiles, and should only put a note where the screen finds it:
	// Close waits for it.
	Ready func()
}

// DefaultBytes is enough for two photographs in colour on a screen of 2000 × 1200 px, with what surrounds them.
const DefaultBytes = 384 << 20

// leastBytes is where the level of a picture begins to suffer.
const leastBytes = 4 << 20

// Composer draws scenes. It may be used by several goroutines at once; what is fetched is what the latest picture needs.
type Composer struct {
	bytes  int
	cache  *shot.Cache
	loader *loader

	mu     sync.Mutex
	curves map[shot.Display]*[1 << 16]uint8
	seen   sight // that the latest plan was made for

	kept   keptPlane
	planes sync.Pool // of *plane
	frames sync.Pool // of *frame
}

// sight is what decides which tiles are needed.
type sight struct {
	view       view.View
	base, over *Photo
	mode       Mode
	second     bool
}

// keptPlane is the plane of the drawing in the latest picture, which is often that of the next one, too.
type keptPlane struct {
	mu           sync.Mutex
	plane        plane
	of           *Drawing
	view         view.View
	layers, wide uint64
}

// frame is what a picture takes while it is drawn.
type frame struct {
	painters [3]painter
}

// Result says what a picture lacks.
type Result struct {
	Missing int   // tiles of which coarser ones are shown, as long as they are on their way
	Err     error // why some will not come: damage, or a dossier that is closed. Coarser ones are shown
}

// New returns a Composer. Close it.
func New(o Options) *Composer {
	if o.Bytes <= 0 {
		o.Bytes = DefaultBytes
	}
	if o.Workers <= 0 {
		o.Workers = 2
	}
	o.Bytes = max(o.Bytes, leastBytes)
	c := &Composer{bytes: o.Bytes, cache: shot.NewCache(o.Bytes), curves: map[shot.Display]*[1 << 16]uint8{}}
	c.loader = newLoader(o.Workers, o.Ready)
	c.planes.New = func() any { return &plane{} }
	c.frames.New = func() any { return &frame{} }
	return c
}

// Close ends what is being fetched, and waits for it. Ready is not called any more then.
func (c *Composer) Close() { c.loader.close() }

// Add prepares a photograph of a dossier; p is its pyramid, which nobody else uses yet. It reads a tile.
func (c *Composer) Add(l *dossier.Located, p *shot.Pyramid) (*Photo, error) {
	return newPhoto(l, p, c.cache)
}

// Retry has what could not be read be tried again, with the next picture that another view shows.
func (c *Composer) Retry() { c.loader.forget() }

// curve returns the curve of a display.
func (c *Composer) curve(d shot.Display) *[1 << 16]uint8 {
	d.Channel = 0
	c.mu.Lock()
	defer c.mu.Unlock()
	k := c.curves[d]
	if k == nil {
		if len(c.curves) >= 8 {
			clear(c.curves)
		}
		k = d.Curve()
		c.curves[d] = k
	}
	return k
}

// Draw draws a scene with what is there, and never waits for a tile: where one is missing, a coarser one stands for it, it is
// fetched, and Options.Ready tells when to draw again. What nothing lies on is black. It ends early with the context's
// error, or one that says what of the scene cannot be shown; then the picture is not whole.
func (c *Composer) Draw(ctx context.Context, s *Scene, img *image.RGBA) (Result, error) {
	if err := s.check(img); err != nil {
		return Result{}, err
	}
	f := c.frames.Get().(*frame)
	defer c.frames.Put(f)
	d := &drawing{c: c, s: s, img: img, f: f}
	d.layers()
	defer d.release()
	if err := d.photographs(ctx); err != nil {
		return Result{}, err
	}
	if err := d.shapes(ctx); err != nil {
		return Result{}, err
	}
	d.marks()
	return d.fetch(), nil
}

// drawing is a picture on its way.
type drawing struct {
	c   *Composer
	s   *Scene
	img *image.RGBA
	f   *frame

	planes [3]*plane // of the drawing, the net and what is selected; nil: none
	keeps  bool      // the first is the kept one, whose lock is held
	busy   sync.WaitGroup
	found  []gathered
}

// stripe is how many rows a worker draws at a time.
const stripe = 16

// stripes calls f for all stripes of so many rows of the picture, in several goroutines, with the number of the goroutine.
func (d *drawing) stripes(ctx context.Context, stripe int, f func(worker, y0, y1 int)) error {
	height := d.s.View.Height
	var next atomic.Int64
	var workers sync.WaitGroup
	n := min(runtime.GOMAXPROCS(0), (height+stripe-1)/stripe)
	work := func(worker int) {
		for ctx.Err() == nil {
			y := int(next.Add(1)-1) * stripe
			if y >= height {
				return
			}
			f(worker, y, min(y+stripe, height))
		}
	}
	for worker := 1; worker < n; worker++ {
		workers.Go(func() { work(worker) })
	}
	work(0)
	workers.Wait()
	return ctx.Err()
}

// part is rows of a picture as a picture.
func part(img *image.RGBA, y0, y1 int) image.RGBA {
	return image.RGBA{Pix: img.Pix[y0*img.Stride : (y1-1)*img.Stride+4*img.Rect.Dx()], Stride: img.Stride, Rect: image.Rect(0, 0, img.Rect.Dx(), y1-y0)}
}

// fetch plans what is to be fetched, and says what is missing.
func (d *drawing) fetch() Result {
	var r Result
	var needed, ahead []want
	at := sight{d.s.View, d.s.Base.Photo, d.s.Over.Photo, d.s.Mode, d.s.Second}
	d.c.mu.Lock()
	same := d.c.seen == at
	d.c.seen = at
	d.c.mu.Unlock()
	free := d.c.bytes
	for i := range d.found {
		g := &d.found[i]
		free -= len(g.tiles) * tileBytes(g.p)
		for _, w := range g.needed() {
			if err := d.c.loader.failure(w); err != nil {
				r.Err = errors.Join(r.Err, err)
			} else if g.hidden {
				ahead = append(ahead, w)
			} else {
				needed = append(needed, w)
			}
		}
	}
	r.Missing = len(needed)
	if same && len(needed) == 0 {
		return r // what is ahead is on its way already
	}
	for i := range d.found {
		g := &d.found[i]
		more := g.ahead(max(0, free/tileBytes(g.p)/2))
		free -= len(more) * tileBytes(g.p)
		ahead = append(ahead, more...)
	}
	d.c.loader.plan(needed, ahead)
	return r
}
