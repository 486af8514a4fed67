package shot

import (
	"encoding/binary"
	"fmt"
	"io"
	"slices"
)

// TIFF tags, by TIFF 6.0 (Aldus 1992).
const (
	tagSubfileType     = 254
	tagWidth           = 256
	tagHeight          = 257
	tagBits            = 258
	tagCompression     = 259
	tagPhotometric     = 262
	tagFillOrder       = 266
	tagStripOffsets    = 273
	tagOrientation     = 274
	tagSamples         = 277
	tagRowsPerStrip    = 278
	tagStripByteCounts = 279
	tagPlanar          = 284
	tagPredictor       = 317
	tagColorMap        = 320
	tagTileWidth       = 322
	tagTileHeight      = 323
	tagTileOffsets     = 324
	tagTileByteCounts  = 325
	tagExtraSamples    = 338
	tagSampleFormat    = 339
	tagJPEGTables      = 347
)

// tiffTags are the tags that are read. No others are kept: many directories may lie over each other in a small file.
var tiffTags = []uint16{tagSubfileType, tagWidth, tagHeight, tagBits, tagCompression, tagPhotometric, tagFillOrder, tagStripOffsets, tagOrientation, tagSamples, tagRowsPerStrip,
	tagStripByteCounts, tagPlanar, tagPredictor, tagColorMap, tagTileWidth, tagTileHeight, tagTileOffsets, tagTileByteCounts, tagExtraSamples, tagSampleFormat, tagJPEGTables}

// tiffFile is a TIFF or BigTIFF file.
type tiffFile struct {
	in    io.ReaderAt
	size  int64
	order binary.ByteOrder
	big   bool
}

// tiffField is one field of a directory.
type tiffField struct {
	kind  uint16
	count uint64
	at    int64 // of its values
}

// tiffDir is a directory: what there is to know of one picture.
type tiffDir struct {
	file   *tiffFile
	at     int64
	fields map[uint16]tiffField
}

// tiffSizes are the sizes in bytes of the field types.
var tiffSizes = map[uint16]int64{1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4, 16: 8, 17: 8, 18: 8}

// bytes reads n bytes at a place, which the file must have.
func (f *tiffFile) bytes(at int64, n int64, what string) ([]byte, error) {
	if at < 0 || n < 0 || at > f.size || n > f.size-at {
		return nil, fmt.Errorf("%s: bytes %d to %d lie beyond the end of the file, which has %d: it is %s", what, at, at+n, f.size, cutOff)
	}
	b := make([]byte, n)
	_, err := f.in.ReadAt(b, at)
	return b, err
}

// uint reads a number of 2, 4 or 8 bytes.
func (f *tiffFile) uint(b []byte) uint64 {
	switch len(b) {
	case 1:
		return uint64(b[0])
	case 2:
		return uint64(f.order.Uint16(b))
	case 4:
		return uint64(f.order.Uint32(b))
	}
	return f.order.Uint64(b)
}

// openTIFF reads the header and all directories of the file's chain, but none of what they point at.
func openTIFF(in io.ReaderAt, size int64) ([]*tiffDir, error) {
	f := &tiffFile{in: in, size: size, order: binary.LittleEndian}
	head, err := f.bytes(0, 8, "header")
	if err != nil {
		return nil, err
	}
	if head[0] == 'M' {
		f.order = binary.BigEndian
	}
	next := int64(f.uint(head[4:8]))
	if f.uint(head[2:4]) == 43 {
		f.big = true
		if head, err = f.bytes(0, 16, "header"); err != nil {
			return nil, err
		}
		if f.uint(head[4:6]) != 8 {
			return nil, fmt.Errorf("header: places of %d bytes; BigTIFF has 8", f.uint(head[4:6]))
		}
		next = int64(f.uint(head[8:16]))
	}
	var dirs []*tiffDir
	for next != 0 {
		if slices.ContainsFunc(dirs, func(d *tiffDir) bool { return d.at == next }) {
			return nil, fmt.Errorf("directory at byte %d: the chain of directories comes back to it", next)
		}
		if len(dirs) == 1000 {
			return nil, fmt.Errorf("more than %d directories: no photograph has so many pages", len(dirs))
		}
		d := &tiffDir{file: f, at: next, fields: map[uint16]tiffField{}}
		if next, err = d.read(); err != nil {
			return nil, err
		}
		dirs = append(dirs, d)
	}
	if len(dirs) == 0 {
		return nil, fmt.Errorf("the file has no directory, hence no picture")
	}
	return dirs, nil
}

// read reads the fields and returns where the next directory is.
func (d *tiffDir) read() (next int64, err error) {
	f := d.file
	what := fmt.Sprintf("directory at byte %d", d.at)
	counter, entry, inline := int64(2), int64(12), int64(4)
	if f.big {
		counter, entry, inline = 8, 20, 8
	}
	b, err := f.bytes(d.at, counter, what)
	if err != nil {
		return 0, err
	}
	n := f.uint(b)
	if n > 4096 {
		return 0, fmt.Errorf("%s: %d fields: no picture has more than 4096", what, n)
	}
	if b, err = f.bytes(d.at+counter, int64(n)*entry+inline, what); err != nil {
		return 0, err
	}
	for i := range int64(n) {
		e := b[i*entry : (i+1)*entry]
		v := tiffField{kind: uint16(f.uint(e[2:4])), count: f.uint(e[4 : 4+inline])}
		v.at = d.at + counter + (i+1)*entry - inline
		if size := tiffSizes[v.kind]; v.count > uint64(inline/max(size, 1)) {
			v.at = int64(f.uint(e[4+inline:]))
		}
		if tag := uint16(f.uint(e[:2])); slices.Contains(tiffTags, tag) {
			d.fields[tag] = v
		}
	}
	return int64(f.uint(b[int64(n)*entry:])), nil
}

// raw returns the bytes of a field's values, of the first ones where there are more than most, and how many bytes one
// has.
func (d *tiffDir) raw(tag uint16, most int) ([]byte, int64, error) {
	v, ok := d.fields[tag]
	if !ok {
		return nil, 0, nil
	}
	what := fmt.Sprintf("directory at byte %d, tag %d", d.at, tag)
	size := tiffSizes[v.kind]
	if size == 0 {
		return nil, 0, fmt.Errorf("%s: unknown type %d", what, v.kind)
	}
	if v.count > uint64(d.file.size/size) {
		return nil, 0, fmt.Errorf("%s: %d values in a file of %d bytes", what, v.count, d.file.size)
	}
	b, err := d.file.bytes(v.at, int64(min(v.count, uint64(most)))*size, what)
	return b, size, err
}

// uints returns a field's values, nil where there is none, and most of them at most.
func (d *tiffDir) uints(tag uint16, most int) ([]uint64, error) {
	b, size, err := d.raw(tag, most)
	if err != nil || b == nil {
		return nil, err
	}
	if kind := d.fields[tag].kind; kind != 1 && kind != 3 && kind != 4 && kind != 13 && kind < 16 {
		return nil, fmt.Errorf("directory at byte %d, tag %d: type %d, not a whole number", d.at, tag, kind)
	}
	v := make([]uint64, int64(len(b))/size)
	for i := range v {
		v[i] = d.file.uint(b[int64(i)*size : int64(i+1)*size])
	}
	return v, nil
}

// uint returns a field's first value, or what is usual where there is none.
func (d *tiffDir) uint(tag uint16, usual uint64) (uint64, error) {
	v, err := d.uints(tag, 1)
	if err != nil || len(v) == 0 {
		return usual, err
	}
	return v[0], nil
}
