package shot

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"math/rand/v2"
	"testing"
)

// drawn is a Reader of rows that a function makes.
type drawn struct {
	header Header
	row    func(y int, dst []byte)
	y      int
	stop   int // after so many rows the file is at fault; 0: never
}

var errFault = errors.New("the file is at fault")

func (d *drawn) Header() *Header { return &d.header }
func (d *drawn) Close() error    { return nil }
func (d *drawn) ReadRow(dst []byte) error {
	if d.stop > 0 && d.y == d.stop {
		return errFault
	}
	if d.y == d.header.Height {
		return io.EOF
	}
	d.row(d.y, dst)
	d.y++
	return nil
}

// noise is a picture of random samples, seeded.
func noise(width, height, channels, depth int, seed uint64) *drawn {
	h := Header{Format: "PNG", Width: width, Height: height, Channels: channels, Depth: depth, Orientation: TopLeft, Pages: 1}
	return &drawn{header: h, row: func(y int, dst []byte) {
		rnd := rand.New(rand.NewPCG(seed, uint64(y)))
		for i := range dst {
			dst[i] = byte(rnd.Uint32())
		}
	}}
}

// pixelsOf reads a whole picture.
func pixelsOf(t testing.TB, d *drawn) *Pixels {
	t.Helper()
	h := d.header
	p := &Pixels{Width: h.Width, Height: h.Height, Channels: h.Channels, Depth: h.Depth, Data: make([]byte, h.Height*h.RowBytes())}
	for y := range h.Height {
		d.row(y, p.Data[y*h.RowBytes():(y+1)*h.RowBytes()])
	}
	return p
}

// sample is a sample of a picture, whatever its depth.
func (p *Pixels) sample(x, y, c int) int {
	k := (y*p.Width+x)*p.Channels + c
	if p.Depth == 8 {
		return int(p.Data[k])
	}
	return int(p.Data[2*k])<<8 | int(p.Data[2*k+1])
}

// halved is the plain twin of halve: the mean of what there is of 2 × 2 pixels, to the nearest, halves up.
func halved(p *Pixels) *Pixels {
	q := &Pixels{Width: (p.Width + 1) / 2, Height: (p.Height + 1) / 2, Channels: p.Channels, Depth: p.Depth}
	for y := range q.Height {
		for x := range q.Width {
			for c := range q.Channels {
				sum, n := 0, 0
				for yy := 2 * y; yy < min(2*y+2, p.Height); yy++ {
					for xx := 2 * x; xx < min(2*x+2, p.Width); xx++ {
						sum += p.sample(xx, yy, c)
						n++
					}
				}
				v := (2*sum + n) / (2 * n)
				if p.Depth == 16 {
					q.Data = append(q.Data, byte(v>>8))
				}
				q.Data = append(q.Data, byte(v))
			}
		}
	}
	return q
}

// TestBuild: every level is the plain mean of the one before, and every pixel of it is in exactly one tile, whatever
// the size; level 0 is the picture to the bit.
func TestBuild(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {1, 700}, {700, 1}, {256, 256}, {257, 256}, {256, 257}, {511, 513}, {1000, 1300}, {3, 2049}} {
		for _, kind := range [][2]int{{1, 8}, {3, 8}, {1, 16}, {3, 16}} {
			t.Run(fmt.Sprintf("%dx%d, %d of %d bits", size[0], size[1], kind[0], kind[1]), func(t *testing.T) {
				d := noise(size[0], size[1], kind[0], kind[1], 1)
				want := pixelsOf(t, d)
				seen := map[string][]byte{}
				rows := 0
				err := Build(t.Context(), d, func(tiles []Tile) error {
					for _, tile := range tiles {
						id := fmt.Sprint(tile.Level, tile.Column, tile.Row)
						if seen[id] != nil {
							t.Errorf("tile %s came twice", id)
						}
						seen[id] = tile.Data
					}
					return nil
				}, func(n int) { rows = n })
				if err != nil || rows != size[1] {
					t.Fatalf("err %v after %d rows", err, rows)
				}
				total := 0
				for level := range Levels(size[0], size[1]) {
					if w, h := LevelSize(size[0], size[1], level); w != want.Width || h != want.Height {
						t.Fatalf("level %d is %d × %d, want %d × %d", level, w, h, want.Width, want.Height)
					}
					for row := 0; row*TileSide < want.Height; row++ {
						for column := 0; column*TileSide < want.Width; column++ {
							total++
							checkTile(t, want, seen[fmt.Sprint(level, column, row)], level, column, row)
						}
					}
					if level+1 == Levels(size[0], size[1]) && (want.Width > TileSide || want.Height > TileSide) {
						t.Errorf("the last level is %d × %d", want.Width, want.Height)
					}
					want = halved(want)
				}
				if total != len(seen) {
					t.Errorf("%d tiles, want %d", len(seen), total)
				}
			})
		}
	}
}

func checkTile(t *testing.T, want *Pixels, data []byte, level, column, row int) {
	t.Helper()
	w, h := min(TileSide, want.Width-column*TileSide), min(TileSide, want.Height-row*TileSide)
	got, err := unpack(data, w, h, want.Channels, want.Depth)
	if err != nil {
		t.Fatalf("level %d, tile %d, %d: %v", level, column, row, err)
	}
	n := w * want.Channels * want.Depth / 8
	for y := range h {
		from := ((row*TileSide+y)*want.Width + column*TileSide) * want.Channels * want.Depth / 8
		if !bytes.Equal(got.Data[y*n:(y+1)*n], want.Data[from:from+n]) {
			t.Fatalf("level %d, tile %d, %d: row %d differs", level, column, row, y)
		}
	}
}

// TestBuildEnds: whatever goes wrong is what Build returns, and it does not hang.
func TestBuildEnds(t *testing.T) {
	errKeep := errors.New("no room")
	ctx, cancel := context.WithCancel(t.Context())
	for _, tc := range []struct {
		name string
		ctx  context.Context
		stop int
		keep func([]Tile) error
		rows func(int)
		want error
	}{
		{"the reader", t.Context(), 5000, func([]Tile) error { return nil }, func(int) {}, errFault},
		{"the keeper", t.Context(), 0, func([]Tile) error { return errKeep }, func(int) {}, errKeep},
		{"the user", ctx, 0, func([]Tile) error { return nil }, func(n int) {
			if n > 1000 {
				cancel()
			}
		}, context.Canceled},
	} {
		d := noise(3000, 6000, 1, 8, 2)
		d.stop = tc.stop
		if err := Build(tc.ctx, d, tc.keep, tc.rows); !errors.Is(err, tc.want) {
			t.Errorf("%s: %v, want %v", tc.name, err, tc.want)
		}
	}
	short := noise(10, 10, 1, 8, 3)
	short.header.Height, short.stop = 20, 0
	short.y = 10
	if err := Build(t.Context(), short, func([]Tile) error { return nil }, func(int) {}); err == nil {
		t.Error("ten rows of twenty are no error")
	}
}

// TestUnpackRefuses: a tile that does not hold its pixels is an error, never a wrong picture or a panic.
func TestUnpackRefuses(t *testing.T) {
	p := pixelsOf(t, noise(20, 10, 3, 8, 4))
	good := pack(p.Data, 20, 10, 60, 3, 8)
	for name, data := range map[string][]byte{
		"empty":     nil,
		"format":    append([]byte{9}, good[1:]...),
		"truncated": good[:len(good)/2],
	} {
		if _, err := unpack(data, 20, 10, 3, 8); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	for _, h := range []int{9, 11} {
		if _, err := unpack(good, 20, h, 3, 8); err == nil {
			t.Errorf("read as %d rows: no error", h)
		}
	}
}

func FuzzUnpack(f *testing.F) {
	for _, depth := range []int{8, 16} {
		d := noise(7, 5, 3, depth, 5)
		f.Add(pack(pixelsOf(f, d).Data, 7, 5, d.header.RowBytes(), 3, depth), uint8(7), uint8(5), depth == 16)
	}
	f.Fuzz(func(t *testing.T, data []byte, w, h uint8, deep bool) {
		depth := 8
		if deep {
			depth = 16
		}
		if len(data) >= tileHead { // a sum that is right, or nothing gets further
			data = bytes.Clone(data)
			data[0] = tileFormat
			binary.BigEndian.PutUint32(data[1:], crc32.ChecksumIEEE(data[tileHead:]))
		}
		width, height := int(w)+1, int(h)+1
		p, err := unpack(data, width, height, 1, depth)
		if err != nil {
			return
		}
		again, err := unpack(pack(p.Data, width, height, width*depth/8, 1, depth), width, height, 1, depth)
		if err != nil || !bytes.Equal(again.Data, p.Data) {
			t.Errorf("packed again it is another picture (%v)", err)
		}
	})
}
