package shot

import (
	"context"
	"fmt"
	"io"
	"runtime"
	"sync"

	"golang.org/x/sync/errgroup"
)

// Levels returns the number of levels of a picture's pyramid: level 0 is the picture, each further one has half the
// sides, rounded up, and the last fits a single tile.
func Levels(width, height int) int {
	n := 1
	for width > TileSide || height > TileSide {
		width, height = half(width), half(height)
		n++
	}
	return n
}

// LevelSize returns the size in pixels of a level.
func LevelSize(width, height, level int) (w, h int) {
	for range level {
		width, height = half(width), half(height)
	}
	return width, height
}

func half(n int) int { return (n + 1) / 2 }

// Build streams a photograph into the tiles of its pyramid. It hands them to keep in batches, one call at a time and in
// no particular order, and tells progress how many of the picture's rows are done. A level holds no more than a few
// bands of TileSide rows. A pixel of level n+1 is the mean of its 2 × 2 pixels of level n, or of as many as there are
// at the rim, rounded to the nearest, halves up.
//
// It ends early with the context's error, the reader's or keep's; what was handed over until then is no pyramid.
func Build(ctx context.Context, r Reader, keep func([]Tile) error, progress func(rows int)) error {
	g, ctx := errgroup.WithContext(ctx)
	b := &builder{ctx: ctx, header: *r.Header(), work: make(chan packing), done: make(chan Tile, 64)}
	b.levels = make([]level, Levels(b.header.Width, b.header.Height))
	for i := range b.levels {
		b.levels[i].width, b.levels[i].height = LevelSize(b.header.Width, b.header.Height, i)
	}
	g.Go(func() error {
		defer close(b.work)
		return b.read(r, progress)
	})
	var packing sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		packing.Add(1)
		g.Go(func() error {
			defer packing.Done()
			return b.pack()
		})
	}
	g.Go(func() error {
		packing.Wait()
		close(b.done)
		return nil
	})
	g.Go(func() error { return b.hand(keep) })
	return g.Wait()
}

// builder is one pyramid on its way.
type builder struct {
	ctx    context.Context
	header Header
	levels []level
	work   chan packing
	done   chan Tile
}

// level is one level while the rows above stream by.
type level struct {
	width, height int
	rows          int   // so far
	band          *band // the rows that no tile has yet
	free          []*band
}

// band is up to TileSide rows of a level. It is used again once all its tiles are packed.
type band struct {
	data  []byte
	using sync.WaitGroup
}

// packing is a tile to be packed.
type packing struct {
	level, column, row    int
	band                  *band
	data                  []byte
	width, height, stride int
}

// read takes in all rows and cuts them into tiles.
func (b *builder) read(r Reader, progress func(int)) error {
	rowBytes := b.header.RowBytes()
	for y := range b.header.Height {
		if y%64 == 0 && b.ctx.Err() != nil {
			return b.ctx.Err()
		}
		if err := r.ReadRow(b.next(0, rowBytes)); err != nil {
			if err == io.EOF {
				err = fmt.Errorf("row %d of %d: %w", y, b.header.Height, io.ErrUnexpectedEOF)
			}
			return err // which says the row
		}
		b.arrived(0)
		if y%TileSide == TileSide-1 || y == b.header.Height-1 {
			progress(y + 1)
		}
	}
	return nil
}

// next returns where the next row of a level goes. Memory grows row by row, so that a header that lies costs nothing.
func (b *builder) next(n, rowBytes int) []byte {
	l := &b.levels[n]
	if l.band == nil {
		l.band = b.freeBand(l)
	}
	have := len(l.band.data)
	if cap(l.band.data) < have+rowBytes {
		l.band.data = append(l.band.data, make([]byte, rowBytes)...)
	}
	l.band.data = l.band.data[:have+rowBytes]
	return l.band.data[have:]
}

// freeBand returns a band whose tiles are packed. Two a level are enough: one is filled while the other is packed.
func (b *builder) freeBand(l *level) *band {
	if len(l.free) < 2 {
		return &band{}
	}
	old := l.free[0]
	l.free = append(l.free[:0], l.free[1:]...)
	old.using.Wait()
	old.data = old.data[:0]
	return old
}

// arrived takes note of a row of level n: a full band is cut into tiles and halved into the next level.
func (b *builder) arrived(n int) {
	l := &b.levels[n]
	l.rows++
	if l.rows%TileSide != 0 && l.rows < l.height {
		return
	}
	full := l.band
	b.cut(n, full)
	l.band = nil
	l.free = append(l.free, full)
	if n+1 == len(b.levels) {
		return
	}
	above, px := &b.levels[n+1], b.header.PixelBytes()
	stride := l.width * px
	for y := 0; y < len(full.data); y += 2 * stride {
		first := full.data[y : y+stride]
		second := first // the last row of an odd height stands for itself
		if y+stride < len(full.data) {
			second = full.data[y+stride : y+2*stride]
		}
		halve(b.next(n+1, above.width*px), first, second, b.header.Channels, b.header.Depth)
		b.arrived(n + 1)
	}
}

// cut hands the tiles of a band to the packers.
func (b *builder) cut(n int, full *band) {
	l, px := &b.levels[n], b.header.PixelBytes()
	stride := l.width * px
	row, height := (l.rows-1)/TileSide, len(full.data)/stride
	for x := 0; x < l.width; x += TileSide {
		full.using.Add(1)
		b.work <- packing{n, x / TileSide, row, full, full.data[x*px:], min(TileSide, l.width-x), height, stride}
	}
}

// pack packs tiles until there are no more. After an end before time it goes on taking them, so that nobody waits for
// a band in vain.
func (b *builder) pack() error {
	for p := range b.work {
		var data []byte
		if b.ctx.Err() == nil {
			data = pack(p.data, p.width, p.height, p.stride, b.header.Channels, b.header.Depth)
		}
		p.band.using.Done()
		select {
		case b.done <- Tile{p.level, p.column, p.row, data}:
		case <-b.ctx.Done():
		}
	}
	return b.ctx.Err()
}

// batchBytes is about how much is handed over at once: enough that the price of a transaction does not count.
const batchBytes = 8 << 20

// hand hands tiles over in batches.
func (b *builder) hand(keep func([]Tile) error) error {
	var batch []Tile
	size := 0
	for t := range b.done {
		batch = append(batch, t)
		if size += len(t.Data); size >= batchBytes {
			if err := keep(batch); err != nil {
				return err
			}
			batch, size = nil, 0
		}
	}
	if b.ctx.Err() != nil || len(batch) == 0 {
		return b.ctx.Err()
	}
	return keep(batch)
}

// halve writes one row of the next level out of two rows of this one.
func halve(dst, first, second []byte, channels, depth int) {
	if depth == 16 {
		halve16(dst, first, second, channels)
		return
	}
	n := len(first) / channels / 2 // whole pairs of pixels
	if channels == 1 {
		first, second, dst := first[:2*n], second[:2*n], dst[:n:cap(dst)]
		for i := range dst {
			dst[i] = byte((int(first[2*i]) + int(first[2*i+1]) + int(second[2*i]) + int(second[2*i+1]) + 2) >> 2)
		}
	} else {
		for i := range n {
			for c := range channels {
				k := 2*i*channels + c
				dst[i*channels+c] = byte((int(first[k]) + int(first[k+channels]) + int(second[k]) + int(second[k+channels]) + 2) >> 2)
			}
		}
	}
	for k := 2 * n * channels; k < len(first); k++ { // the last column of an odd width
		dst[n*channels+k-2*n*channels] = byte((int(first[k]) + int(second[k]) + 1) >> 1)
	}
}

func halve16(dst, first, second []byte, channels int) {
	samples := len(first) / 2
	n := samples / channels / 2
	at := func(row []byte, k int) int { return int(row[2*k])<<8 | int(row[2*k+1]) }
	put := func(k, v int) { dst[2*k], dst[2*k+1] = byte(v>>8), byte(v) }
	for i := range n {
		for c := range channels {
			k := 2*i*channels + c
			put(i*channels+c, (at(first, k)+at(first, k+channels)+at(second, k)+at(second, k+channels)+2)>>2)
		}
	}
	for k := 2 * n * channels; k < samples; k++ {
		put(n*channels+k-2*n*channels, (at(first, k)+at(second, k)+1)>>1)
	}
}
