package shot

import (
	"context"
	"fmt"
	"image"
	"math"
	"sync"
)

// Display says how samples become what is shown.
type Display struct {
	Low, High float64 // the samples shown as black and as white, from 0 to 1 of what the depth can hold
	Gamma     float64 // above 1 brightens the middle
	Channel   int     // 1 red, 2 green, 3 blue alone, as grey; 0 all
}

// Plain shows samples as they are.
var Plain = Display{Low: 0, High: 1, Gamma: 1}

// Check returns an error that says what is wrong with d for a picture of so many channels.
func (d Display) Check(channels int) error {
	switch {
	case !(d.Low >= 0 && d.High <= 1 && d.Low < d.High):
		return fmt.Errorf("contrast from %g to %g: give two numbers from 0 to 1, the smaller one first", d.Low, d.High)
	case !(d.Gamma >= 0.1 && d.Gamma <= 10):
		return fmt.Errorf("gamma %g: give a number from 0.1 to 10", d.Gamma)
	case d.Channel < 0 || d.Channel > 3:
		return fmt.Errorf("channel %d: there are 1 red, 2 green and 3 blue, and 0 for all", d.Channel)
	case d.Channel > 1 && channels == 1:
		return fmt.Errorf("channel %d: the photograph is grey, and has one channel only: take all of them", d.Channel)
	}
	return nil
}

// Curve returns what is shown for each sample of 16 bits.
func (d Display) Curve() *[1 << 16]uint8 {
	var c [1 << 16]uint8
	for i := range c {
		v := (float64(i)/0xffff - d.Low) / (d.High - d.Low)
		v = max(0, min(1, v))
		if d.Gamma != 1 {
			v = math.Pow(v, 1/d.Gamma)
		}
		c[i] = uint8(v*255 + 0.5)
	}
	return &c
}

// Pyramid reads a photograph from its tiles. It may be used by several goroutines at once.
type Pyramid struct {
	Width, Height   int // as stored
	Channels, Depth int
	Orientation     Orientation
	load            func(level, column, row int) ([]byte, error)
	cache           *Cache

	mu      sync.Mutex
	curve   *[1 << 16]uint8
	curveOf Display
}

// cacheBytes is how much a pyramid keeps unpacked: about a screen and what surrounds it.
const cacheBytes = 64 << 20

// NewPyramid returns the pyramid of a picture with header h whose tiles load fetches. It keeps some of them, in a cache of
// its own.
func NewPyramid(h Header, load func(level, column, row int) ([]byte, error)) *Pyramid {
	return &Pyramid{Width: h.Width, Height: h.Height, Channels: h.Channels, Depth: h.Depth, Orientation: h.Orientation, load: load, cache: NewCache(cacheBytes)}
}

// Size returns the size in pixels of the upright picture.
func (p *Pyramid) Size() (width, height int) { return p.Orientation.Upright(p.Width, p.Height) }

func (p *Pyramid) curveFor(d Display) *[1 << 16]uint8 {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.curve == nil || p.curveOf != d {
		p.curve, p.curveOf = d.Curve(), d
	}
	return p.curve
}

// Map takes points of a view, in pixels, to points of the upright photograph, in its pixels.
type Map func(x, y float64) (px, py float64)

// Window returns the Map of a view of the given width in pixels that shows the rectangle of the photograph which begins
// at (x0, y0) and is so wide; pixels stay square.
func Window(x0, y0, wide float64, width int) Map {
	k := wide / float64(width)
	return func(x, y float64) (float64, float64) { return x0 + x*k, y0 + y*k }
}

// View draws what m shows of the photograph into dst. What lies outside the photograph stays as it was. Between pixels
// it interpolates linearly, in the level whose pixels are at most as wide as the view's and more than half as wide.
// It ends early with the context's error, or that of a tile.
func (p *Pyramid) View(ctx context.Context, dst *image.RGBA, m Map, d Display) error {
	v := &view{p: p, curve: p.curveFor(d), display: d, last: tileKey{level: -1, of: p}}
	v.setLevel(m, dst.Bounds())
	width, height := p.Size()
	for y := dst.Rect.Min.Y; y < dst.Rect.Max.Y; y++ {
		if err := ctx.Err(); err != nil {
			return err
		}
		for x := dst.Rect.Min.X; x < dst.Rect.Max.X; x++ {
			px, py := m(float64(x)+0.5, float64(y)+0.5)
			if !(px >= 0 && py >= 0 && px < float64(width) && py < float64(height)) {
				continue
			}
			rgb, err := v.at(px, py)
			if err != nil {
				return err
			}
			i := dst.PixOffset(x, y)
			copy(dst.Pix[i:i+4], rgb[:])
		}
	}
	return nil
}

// view is one view being drawn.
type view struct {
	p       *Pyramid
	curve   *[1 << 16]uint8
	display Display
	level   int
	w, h    int // of the level
	last    tileKey
	tile    *Pixels
}

// setLevel chooses the level by the scale in the middle of the view.
func (v *view) setLevel(m Map, r image.Rectangle) {
	cx, cy := float64(r.Min.X+r.Max.X)/2, float64(r.Min.Y+r.Max.Y)/2
	x0, y0 := m(cx, cy)
	x1, y1 := m(cx+1, cy)
	x2, y2 := m(cx, cy+1)
	scale := min(math.Hypot(x1-x0, y1-y0), math.Hypot(x2-x0, y2-y0))
	top := Levels(v.p.Width, v.p.Height) - 1
	for v.level < top && scale >= 2 {
		v.level++
		scale /= 2
	}
	v.w, v.h = LevelSize(v.p.Width, v.p.Height, v.level)
}

// at returns the colour at a point of the upright picture.
func (v *view) at(px, py float64) (rgba [4]uint8, err error) {
	sx, sy := v.p.Orientation.StoredPoint(px, py, float64(v.p.Width), float64(v.p.Height))
	k := float64(int(1) << v.level)
	sx, sy = sx/k-0.5, sy/k-0.5 // where the centre of a pixel of the level is a whole number
	x, y := math.Floor(sx), math.Floor(sy)
	fx, fy := int((sx-x)*256), int((sy-y)*256)
	x0, y0 := max(0, min(int(x), v.w-1)), max(0, min(int(y), v.h-1))
	x1, y1 := max(0, min(int(x)+1, v.w-1)), max(0, min(int(y)+1, v.h-1))
	var a, b, c, d [3]int
	if err = v.pixel(x0, y0, &a); err == nil {
		err = v.pixel(x1, y0, &b)
	}
	if err == nil {
		err = v.pixel(x0, y1, &c)
	}
	if err == nil {
		err = v.pixel(x1, y1, &d)
	}
	if err != nil {
		return rgba, err
	}
	for i := range 3 {
		s := (a[i]*(256-fx)+b[i]*fx)*(256-fy) + (c[i]*(256-fx)+d[i]*fx)*fy
		rgba[i] = v.curve[(s+1<<15)>>16]
	}
	if v.display.Channel > 0 && v.p.Channels == 3 {
		one := rgba[v.display.Channel-1]
		rgba = [4]uint8{one, one, one}
	}
	rgba[3] = 255
	return rgba, nil
}

// pixel fetches a stored pixel of the level, its samples at 16 bits.
func (v *view) pixel(x, y int, s *[3]int) error {
	key := v.p.key(v.level, x/TileSide, y/TileSide)
	if key != v.last {
		t, err := v.p.Tile(v.level, x/TileSide, y/TileSide)
		if err != nil {
			return err
		}
		v.last, v.tile = key, t
	}
	t := v.tile
	k := ((y%TileSide)*t.Width + x%TileSide) * t.Channels
	for i := range 3 {
		c := min(i, t.Channels-1)
		if t.Depth == 8 {
			s[i] = int(t.Data[k+c]) * 257
		} else {
			s[i] = int(t.Data[2*(k+c)])<<8 | int(t.Data[2*(k+c)+1])
		}
	}
	return nil
}

// AutoContrast returns the display that shows the darkest and the brightest two thousandths of a photograph as black and
// white, by its last level.
func (p *Pyramid) AutoContrast() (Display, error) {
	t, err := p.Tile(Levels(p.Width, p.Height)-1, 0, 0)
	if err != nil {
		return Plain, err
	}
	counts := make([]int, 1<<16)
	n := len(t.Data) * 8 / t.Depth
	for k := range n {
		if t.Depth == 8 {
			counts[int(t.Data[k])*257]++
		} else {
			counts[int(t.Data[2*k])<<8|int(t.Data[2*k+1])]++
		}
	}
	low, high := 0, len(counts)-1
	for sum := counts[low]; sum*500 <= n && low < high; sum += counts[low] {
		low++
	}
	for sum := counts[high]; sum*500 <= n && high > low; sum += counts[high] {
		high--
	}
	if low == high {
		return Plain, nil // one tone all over
	}
	return Display{Low: float64(low) / 0xffff, High: float64(high) / 0xffff, Gamma: 1}, nil
}

// Each reads every tile and tells whether it could be, until next returns false. Nothing is kept.
func (p *Pyramid) Each(next func(level, column, row int, err error) bool) {
	for level := range Levels(p.Width, p.Height) {
		w, h := LevelSize(p.Width, p.Height, level)
		for row := 0; row*TileSide < h; row++ {
			for column := 0; column*TileSide < w; column++ {
				_, err := p.read(level, column, row)
				if !next(level, column, row, err) {
					return
				}
			}
		}
	}
}

// read fetches and unpacks a tile.
func (p *Pyramid) read(level, column, row int) (*Pixels, error) {
	w, h := LevelSize(p.Width, p.Height, level)
	data, err := p.load(level, column, row)
	if err != nil {
		return nil, err
	}
	px, err := unpack(data, min(TileSide, w-column*TileSide), min(TileSide, h-row*TileSide), p.Channels, p.Depth)
	if err != nil {
		return nil, fmt.Errorf("level %d, tile %d, %d: %w", level, column, row, err)
	}
	return px, nil
}
