package shot

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"sync"
)

// TileSide is the width and height in pixels of a tile; those at the right and bottom rims may be smaller.
const TileSide = 256

// Tile is a packed piece of one level of a pyramid, by its column and row in that level, counted from the top left one
// of the stored picture.
type Tile struct {
	Level, Column, Row int
	Data               []byte
}

// Pixels is a rectangle of unpacked pixels, rows from the top, samples as in Reader.ReadRow.
type Pixels struct {
	Width, Height   int
	Channels, Depth int
	Data            []byte
}

// tileFormat is the first byte of a packed tile. After it come the CRC-32 (IEEE) of all that follows, four bytes with the
// highest first, and the samples: each sample less the mean of its left and its upper neighbour (cut to
// a whole number, a missing one counts as 0), modulo 2^Depth; samples of 16 bits with all high bytes before all low
// ones, after small negative differences were folded between the positive ones; then Deflate (RFC 1951).
const tileFormat = 1

// tileHead is how many bytes come before the samples.
const tileHead = 5

var packers = sync.Pool{New: func() any {
	w, err := flate.NewWriter(nil, flate.BestSpeed)
	if err != nil {
		panic("shot: " + err.Error())
	}
	return &packer{deflate: w}
}}

// packer packs one tile after the other and uses its memory again.
type packer struct {
	deflate *flate.Writer
	out     bytes.Buffer
	plain   []byte
}

// pack packs width × height pixels that begin at data and whose rows are stride bytes apart.
func pack(data []byte, width, height, stride, channels, depth int) []byte {
	p := packers.Get().(*packer)
	defer packers.Put(p)
	n := width * channels * depth / 8
	p.plain = resize(p.plain, n*height)
	if depth == 8 {
		difference8(p.plain, data, n, height, stride, channels)
	} else {
		difference16(p.plain, data, n/2, height, stride, channels)
	}
	p.out.Reset()
	p.out.Write([]byte{tileFormat, 0, 0, 0, 0})
	p.deflate.Reset(&p.out)
	p.deflate.Write(p.plain) // a bytes.Buffer takes everything
	p.deflate.Close()
	packed := bytes.Clone(p.out.Bytes())
	binary.BigEndian.PutUint32(packed[1:], crc32.ChecksumIEEE(packed[tileHead:]))
	return packed
}

func resize(b []byte, n int) []byte {
	if cap(b) < n {
		return make([]byte, n)
	}
	return b[:n]
}

// difference8 writes the differences of rows of n samples to dst.
func difference8(dst, src []byte, n, height, stride, channels int) {
	for y := range height {
		row, out := src[y*stride:y*stride+n], dst[y*n:y*n+n]
		if y == 0 {
			copy(out, row[:min(channels, n)])
			for i := channels; i < n; i++ {
				out[i] = row[i] - row[i-channels]>>1
			}
			continue
		}
		up := src[(y-1)*stride:][:n]
		for i := range min(channels, n) {
			out[i] = row[i] - up[i]>>1
		}
		for i := channels; i < n; i++ {
			out[i] = row[i] - byte((int(row[i-channels])+int(up[i]))>>1)
		}
	}
}

// sum8 is the inverse of difference8, in place, for rows that lie close together.
func sum8(b []byte, n, height, channels int) {
	for y := range height {
		row := b[y*n : y*n+n]
		if y == 0 {
			for i := channels; i < n; i++ {
				row[i] += row[i-channels] >> 1
			}
			continue
		}
		up := b[(y-1)*n:][:n]
		for i := range min(channels, n) {
			row[i] += up[i] >> 1
		}
		for i := channels; i < n; i++ {
			row[i] += byte((int(row[i-channels]) + int(up[i])) >> 1)
		}
	}
}

// difference16 writes the folded differences of rows of n samples of two bytes to dst, high bytes first.
func difference16(dst, src []byte, n, height, stride, channels int) {
	high, low := dst[:n*height], dst[n*height:2*n*height]
	at := func(y, i int) int {
		if y < 0 || i < 0 {
			return 0
		}
		return int(src[y*stride+2*i])<<8 | int(src[y*stride+2*i+1])
	}
	for y := range height {
		for i := range n {
			d := int16(uint16(at(y, i) - (at(y, i-channels)+at(y-1, i))>>1))
			folded := uint16(d<<1) ^ uint16(d>>15)
			high[y*n+i], low[y*n+i] = byte(folded>>8), byte(folded)
		}
	}
}

// sum16 is the inverse of difference16.
func sum16(dst, b []byte, n, height, channels int) {
	high, low := b[:n*height], b[n*height:2*n*height]
	at := func(y, i int) int {
		if y < 0 || i < 0 {
			return 0
		}
		return int(dst[2*(y*n+i)])<<8 | int(dst[2*(y*n+i)+1])
	}
	for y := range height {
		for i := range n {
			folded := uint16(high[y*n+i])<<8 | uint16(low[y*n+i])
			d := folded>>1 ^ -(folded & 1)
			v := uint16((at(y, i-channels)+at(y-1, i))>>1) + d
			dst[2*(y*n+i)], dst[2*(y*n+i)+1] = byte(v>>8), byte(v)
		}
	}
}

var unpackers = sync.Pool{New: func() any { return flate.NewReader(bytes.NewReader(nil)) }}

// unpack returns the pixels of a packed tile of a known size. Data that does not fit the size is an error.
func unpack(data []byte, width, height, channels, depth int) (*Pixels, error) {
	if len(data) < tileHead || data[0] != tileFormat {
		return nil, fmt.Errorf("tile of %d bytes does not begin with the format byte %d", len(data), tileFormat)
	}
	if crc32.ChecksumIEEE(data[tileHead:]) != binary.BigEndian.Uint32(data[1:]) {
		return nil, errors.New("tile whose check sum is wrong: it is damaged")
	}
	r := unpackers.Get().(io.ReadCloser)
	defer unpackers.Put(r)
	if err := r.(flate.Resetter).Reset(bytes.NewReader(data[tileHead:]), nil); err != nil {
		return nil, err
	}
	size := width * height * channels * depth / 8
	plain := make([]byte, size)
	if n, err := io.ReadFull(r, plain); err != nil {
		return nil, fmt.Errorf("tile of %d × %d pixels holds %d bytes of %d: %w", width, height, n, size, err)
	}
	if n, err := r.Read(make([]byte, 1)); n > 0 || err != io.EOF {
		return nil, fmt.Errorf("tile of %d × %d pixels holds more than %d bytes", width, height, size)
	}
	p := &Pixels{Width: width, Height: height, Channels: channels, Depth: depth, Data: plain}
	if depth == 8 {
		sum8(plain, width*channels, height, channels)
	} else {
		p.Data = make([]byte, size)
		sum16(p.Data, plain, width*channels, height, channels)
	}
	return p, nil
}
