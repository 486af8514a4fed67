package picture

import (
	"math"

	"undermetal/cmd/undermetal/workbench/view"
	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// one is 1 in the numbers with 32 digits behind the point that places in a level are counted in.
const one = 1 << 32

// beyond is a place that no level reaches.
const beyond = -(1 << 60)

// tile is a place of a level with the pixels that stand for it: its own, or, as long as these are not there, those of the
// tile above it that is.
type tile struct {
	x0, y0 int // its first pixel
	up     int // how many levels further up the pixels are from; 0: its own
	px     *shot.Pixels
	ox, oy int // the first pixel of px, in its level
}

// key is the column and row of a tile.
type key struct{ column, row int }

// sampler draws rows of a picture from one level of a photograph. It is for one goroutine.
type sampler struct {
	p      *Photo
	w      *way
	level  int
	width  int // of the level
	height int
	endX   int64 // where the photograph ends, in pixels of the level
	endY   int64
	curve  *[1 << 16]uint8
	first  int // the channels that are shown: from this one on …
	shown  int // … 1, or 3
	tiles  map[key]*tile
	last   *tile
	rows   [][]uint8 // of samples, of which the mean makes a row of px
}

func newSampler(p *Photo, v view.View, level int, d shot.Display, curve *[1 << 16]uint8) *sampler {
	s := &sampler{p: p, w: p.to(v, level), level: level, curve: curve, tiles: map[key]*tile{}}
	s.width, s.height = shot.LevelSize(p.pyramid.Width, p.pyramid.Height, level)
	k := float64(int(1) << level)
	s.endX, s.endY = fixed(float64(p.pyramid.Width)/k-0.5), fixed(float64(p.pyramid.Height)/k-0.5)
	s.shown = p.pyramid.Channels
	if d.Channel > 0 && s.shown == 3 {
		s.first, s.shown = d.Channel-1, 1
	}
	return s
}

// fixed returns a place in fixed-point numbers, beyond of what is none.
func fixed(v float64) int64 {
	if !(math.Abs(v) < 1<<28) {
		return beyond
	}
	return int64(math.Floor(v * one))
}

// tileAt returns the tile of a pixel of the level.
func (s *sampler) tileAt(x, y int) *tile {
	if t := s.last; t != nil && x>>8 == t.x0>>8 && y>>8 == t.y0>>8 {
		return t
	}
	at := key{x >> 8, y >> 8}
	t := s.tiles[at]
	if t == nil {
		t = &tile{x0: x &^ 255, y0: y &^ 255}
		for ; ; t.up++ {
			level := s.level + t.up
			column, row := at.column>>t.up, at.row>>t.up
			t.ox, t.oy = column<<8, row<<8
			if level == s.p.levels-1 {
				t.px = s.p.top
				break
			}
			if t.px = s.p.pyramid.Cached(level, column, row); t.px != nil {
				break
			}
		}
		s.tiles[at] = t
	}
	s.last = t
	return t
}

// row draws a row of samples at the height y of the picture, from its left edge on. What is beside the photograph stays.
func (s *sampler) row(dst []uint8, y float64) {
	n := len(dst) / 4
	switch w := s.w; {
	case w.straight:
		a := &w.affine
		q := a.Apply(geom.Vec{X: 0.5, Y: y})
		from, to := s.on(q, a[0], a[3], n)
		s.line(dst, q, geom.Vec{X: a[0], Y: a[3]}, from, to)
	case w.table != nil:
		for i := 0; i < n; {
			q, step, run := w.table.Run(geom.Vec{X: float64(i) + 0.5, Y: y}, n-i)
			from, to := s.on(q, step.X, step.Y, run)
			s.line(dst[4*i:], q, step, from, to)
			i += run
		}
	default:
		for i := range n {
			q := w.exact(geom.Vec{X: float64(i) + 0.5, Y: y})
			s.px(dst[4*i:4*i+4], fixed(q.X), fixed(q.Y))
		}
	}
}

// line draws the samples from one number to before another of a straight line, whose first one lies at q.
func (s *sampler) line(dst []uint8, q, step geom.Vec, from, to int) {
	dx, dy := int64(math.Round(step.X*one)), int64(math.Round(step.Y*one))
	for i := from; i < to; {
		x, y := fixed(q.X)+int64(i)*dx, fixed(q.Y)+int64(i)*dy
		run := s.run(x, y, dx, dy, to-i)
		switch {
		case run == 0:
			s.px(dst[4*i:4*i+4], x, y)
			run = 1
		case s.p.pyramid.Depth == 8:
			s.run8(dst[4*i:4*(i+run)], x, y, dx, dy)
		default:
			s.run16(dst[4*i:4*(i+run)], x, y, dx, dy)
		}
		i += run
	}
}

// on returns the part of a row that may lie on the photograph.
func (s *sampler) on(q geom.Vec, dx, dy float64, n int) (from, to int) {
	lo, hi := 0.0, float64(n)
	for _, c := range [2][3]float64{{q.X, dx, float64(s.width)}, {q.Y, dy, float64(s.height)}} {
		switch at, step, end := c[0], c[1], c[2]; {
		case math.IsNaN(at + step):
			return 0, 0
		case step != 0:
			a, b := (-1-at)/step, (end-at)/step
			lo, hi = max(lo, min(a, b)), min(hi, max(a, b)+1)
		case at < -1 || at > end:
			return 0, 0
		}
	}
	if !(lo < hi) {
		return 0, 0
	}
	return int(lo), int(math.Ceil(hi))
}

// run returns how many samples from (x, y) on, at most n, lie in one tile with all the pixels that they need, 0 where the first
// does not.
func (s *sampler) run(x, y, dx, dy int64, n int) int {
	px, py := int(x>>32), int(y>>32)
	if px < 0 || py < 0 || px >= s.width-1 || py >= s.height-1 || px&255 == 255 || py&255 == 255 || x >= s.endX || y >= s.endY {
		return 0
	}
	t := s.tileAt(px, py)
	if t.up > 0 {
		return 0
	}
	steps := func(at, step, low, high int64) int {
		switch {
		case step > 0:
			return int((high - at + step - 1) / step)
		case step < 0:
			return int((at-low)/-step) + 1
		}
		return n
	}
	endX, endY := int64(t.x0+min(255, t.px.Width-1))<<32, int64(t.y0+min(255, t.px.Height-1))<<32
	return min(n, steps(x, dx, int64(t.x0)<<32, min(endX, s.endX)), steps(y, dy, int64(t.y0)<<32, min(endY, s.endY)))
}

// run8 draws a run of samples of 8 bits from the last tile.
func (s *sampler) run8(dst []uint8, x, y, dx, dy int64) {
	t := s.last
	data, wide, channels := t.px.Data, t.px.Width, t.px.Channels
	stride, curve := wide*channels, s.curve
	x, y = x-int64(t.x0)<<32, y-int64(t.y0)<<32
	if s.shown == 1 {
		data = data[s.first:]
		for ; len(dst) >= 4; dst = dst[4:] {
			k := int(y>>32)*stride + int(x>>32)*channels
			fx, fy := int(x>>24&255), int(y>>24&255)
			v := (int(data[k])*(256-fx)+int(data[k+channels])*fx)*(256-fy) + (int(data[k+stride])*(256-fx)+int(data[k+stride+channels])*fx)*fy
			g := curve[uint16((v*257+1<<15)>>16)]
			dst[0], dst[1], dst[2], dst[3] = g, g, g, 255
			x, y = x+dx, y+dy
		}
		return
	}
	for ; len(dst) >= 4; dst = dst[4:] {
		k := int(y>>32)*stride + int(x>>32)*3
		fx, fy := int(x>>24&255), int(y>>24&255)
		up, down := data[k:k+6:k+6], data[k+stride:k+stride+6:k+stride+6]
		a, b, c, d := (256-fx)*(256-fy), fx*(256-fy), (256-fx)*fy, fx*fy
		dst[0] = curve[uint16(((int(up[0])*a+int(up[3])*b+int(down[0])*c+int(down[3])*d)*257+1<<15)>>16)]
		dst[1] = curve[uint16(((int(up[1])*a+int(up[4])*b+int(down[1])*c+int(down[4])*d)*257+1<<15)>>16)]
		dst[2] = curve[uint16(((int(up[2])*a+int(up[5])*b+int(down[2])*c+int(down[5])*d)*257+1<<15)>>16)]
		dst[3] = 255
		x, y = x+dx, y+dy
	}
}

// run16 is run8 for samples of 16 bits.
func (s *sampler) run16(dst []uint8, x, y, dx, dy int64) {
	t := s.last
	data, channels := t.px.Data, t.px.Channels
	stride := t.px.Width * channels
	x, y = x-int64(t.x0)<<32, y-int64(t.y0)<<32
	at := func(k int) int { return int(data[2*k])<<8 | int(data[2*k+1]) }
	for ; len(dst) >= 4; dst = dst[4:] {
		k := int(y>>32)*stride + int(x>>32)*channels + s.first
		fx, fy := int(x>>24&255), int(y>>24&255)
		for c := range s.shown {
			v := (at(k+c)*(256-fx)+at(k+c+channels)*fx)*(256-fy) + (at(k+c+stride)*(256-fx)+at(k+c+stride+channels)*fx)*fy
			dst[c] = s.curve[uint16((v+1<<15)>>16)]
		}
		if s.shown == 1 {
			dst[1], dst[2] = dst[0], dst[0]
		}
		dst[3] = 255
		x, y = x+dx, y+dy
	}
}

// px draws one sample wherever it lies.
func (s *sampler) px(dst []uint8, x, y int64) {
	const half = one / 2
	if x < -half || y < -half || x >= s.endX || y >= s.endY {
		return
	}
	px, py := int(x>>32), int(y>>32)
	hold := func(v, end int) int { return max(0, min(v, end-1)) }
	x0, y0 := hold(px, s.width), hold(py, s.height)
	t := s.tileAt(x0, y0)
	var four [4][3]int
	if t.up == 0 {
		x1, y1 := hold(px+1, s.width), hold(py+1, s.height)
		s.pixel(t, x0, y0, x0, y0, &four[0])
		s.pixel(t, x1, y0, x0, y0, &four[1])
		s.pixel(t, x0, y1, x0, y0, &four[2])
		s.pixel(t, x1, y1, x0, y0, &four[3])
		s.last = t
	} else { // the same place in the level that is there, as far as its tile knows
		x, y = (x+half)>>t.up-half, (y+half)>>t.up-half
		px, py = int(x>>32)-t.ox, int(y>>32)-t.oy
		x0, y0, x1, y1 := hold(px, t.px.Width), hold(py, t.px.Height), hold(px+1, t.px.Width), hold(py+1, t.px.Height)
		s.of(t.px, x0, y0, &four[0])
		s.of(t.px, x1, y0, &four[1])
		s.of(t.px, x0, y1, &four[2])
		s.of(t.px, x1, y1, &four[3])
	}
	fx, fy := int(x>>24&255), int(y>>24&255)
	for c := range s.shown {
		v := (four[0][c]*(256-fx)+four[1][c]*fx)*(256-fy) + (four[2][c]*(256-fx)+four[3][c]*fx)*fy
		dst[c] = s.curve[uint16((v+1<<15)>>16)]
	}
	if s.shown == 1 {
		dst[1], dst[2] = dst[0], dst[0]
	}
	dst[3] = 255
}

// pixel fetches a pixel of the level at 16 bits, from t or the tile that it lies in; where that is not there, the one at (x0, y0)
// stands for it.
func (s *sampler) pixel(t *tile, x, y, x0, y0 int, to *[3]int) {
	if n := s.tileAt(x, y); n.up == 0 {
		s.of(n.px, x-n.x0, y-n.y0, to)
		return
	}
	s.of(t.px, x0-t.x0, y0-t.y0, to)
}

// of fetches a pixel of a tile.
func (s *sampler) of(t *shot.Pixels, x, y int, to *[3]int) {
	k := (y*t.Width+x)*t.Channels + s.first
	for c := range s.shown {
		if t.Depth == 8 {
			to[c] = int(t.Data[k+c]) * 257
		} else {
			to[c] = int(t.Data[2*(k+c)])<<8 | int(t.Data[2*(k+c)+1])
		}
	}
}

// look finds the tiles of a picture without drawing it, all but those of which less than a few px are seen.
func (s *sampler) look(width, height int) {
	const every = 24
	for y := every / 2; y < height+every; y += every {
		for x := every / 2; x < width+every; x += every {
			q := s.w.place(float64(min(x, width)), float64(min(y, height)))
			if px, py := fixed(q.X), fixed(q.Y); px >= 0 && py >= 0 && px < s.endX && py < s.endY {
				s.tileAt(min(int(px>>32), s.width-1), min(int(py>>32), s.height-1))
			}
		}
	}
}

// mean writes the mean of rows of samples into a row of the picture. Where a sample is beside the photograph, so is the px.
func mean(dst []uint8, rows [][]uint8) {
	n := len(rows)
	for i := 0; i < len(dst); i += 4 {
		var sum [3]int
		there := true
		for _, r := range rows {
			p := r[i : i+4 : i+4]
			there = there && p[3] != 0
			sum[0], sum[1], sum[2] = sum[0]+int(p[0]), sum[1]+int(p[1]), sum[2]+int(p[2])
		}
		if there {
			dst[i], dst[i+1], dst[i+2], dst[i+3] = uint8((sum[0]+n/2)/n), uint8((sum[1]+n/2)/n), uint8((sum[2]+n/2)/n), 255
		}
	}
}
