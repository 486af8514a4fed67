package shot

import (
	"bufio"
	"compress/flate"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image/png"
	"io"
	"slices"
)

// pngReader streams a PNG file: chunks, Deflate, filters, rows (W3C PNG specification, third edition, sections 5, 7, 9;
// from memory). image/png would hold the whole picture.
type pngReader struct {
	header   Header
	bits     int // a sample, as stored
	samples  int // a pixel, as stored
	palette  []byte
	trns     []byte        // what a chunk tRNS holds: alphas of the palette, or the one colour that is transparent
	clear    []bool        // of the last row; nil: nothing is transparent
	in       io.ReadCloser // inflated rows, each after its filter byte
	now, was []byte        // a stored row and the one before
	row      int
}

// PNG colour types.
const (
	pngGrey      = 0
	pngRGB       = 2
	pngPalette   = 3
	pngGreyAlpha = 4
	pngRGBAlpha  = 6
)

// pngKinds says of each colour type how many samples a pixel has, how many of them are its colour as it is read, and
// which depths there are (PNG specification, table 8; from memory).
var pngKinds = map[byte]struct {
	samples, channels int
	bits              []int
}{
	pngGrey:      {1, 1, []int{1, 2, 4, 8, 16}},
	pngRGB:       {3, 3, []int{8, 16}},
	pngPalette:   {1, 3, []int{1, 2, 4, 8}},
	pngGreyAlpha: {2, 1, []int{8, 16}},
	pngRGBAlpha:  {4, 3, []int{8, 16}},
}

func newPNG(f io.ReaderAt, size int64) (rows, error) {
	c := &pngChunks{in: bufio.NewReaderSize(io.NewSectionReader(f, 8, size-8), 1<<16), at: 8}
	name, n, err := c.next()
	if err != nil {
		return nil, err
	}
	if name != "IHDR" || n != 13 {
		return nil, fmt.Errorf("byte 8: a PNG file begins with a chunk IHDR of 13 bytes, not %q of %d", name, n)
	}
	var ihdr [13]byte
	if _, err := io.ReadFull(c, ihdr[:]); err != nil {
		return nil, err
	}
	p := &pngReader{bits: int(ihdr[8])}
	p.header = Header{Format: "PNG", Width: int(binary.BigEndian.Uint32(ihdr[0:])), Height: int(binary.BigEndian.Uint32(ihdr[4:])), Orientation: exifOrientation(f, size, "PNG"), Pages: 1, Depth: 8}
	if err := p.header.checkSides(); err != nil {
		return nil, err
	}
	if err := p.colour(ihdr[9]); err != nil {
		return nil, err
	}
	if ihdr[10] != 0 || ihdr[11] != 0 || ihdr[12] > 1 {
		return nil, fmt.Errorf("byte 26: compression %d, filter %d, interlace %d: PNG has 0, 0 and 0 or 1", ihdr[10], ihdr[11], ihdr[12])
	}
	if err := p.findData(c); err != nil {
		return nil, err
	}
	if ihdr[12] == 1 {
		return p.interlaced(f, size)
	}
	if p.in, err = zlib.NewReader(bufio.NewReaderSize(c, 1<<16)); err != nil {
		return nil, fmt.Errorf("picture data: %w", err)
	}
	return p, nil
}

// colour takes in the colour type.
func (p *pngReader) colour(kind byte) error {
	k := pngKinds[kind]
	if !slices.Contains(k.bits, p.bits) {
		return fmt.Errorf("byte 24: %d bits of colour type %d: there is no such PNG", p.bits, kind)
	}
	h := &p.header
	p.samples, h.Channels = k.samples, k.channels
	if p.bits == 16 {
		h.Depth = 16
	}
	switch kind {
	case pngGreyAlpha, pngRGBAlpha:
		p.seeThrough()
	case pngPalette:
		p.palette = []byte{} // to come
	}
	return nil
}

// findData reads the chunks up to the first one of picture data.
func (p *pngReader) findData(c *pngChunks) error {
	for {
		name, n, err := c.next()
		if err != nil {
			return err
		}
		switch name {
		case "IDAT":
			if p.palette != nil && len(p.palette) == 0 {
				return errors.New("picture data without the palette that the colours need")
			}
			c.data = true
			return nil
		case "PLTE":
			if n%3 != 0 || n > 768 {
				return fmt.Errorf("byte %d: a palette of %d bytes: three a colour, 256 colours at most", c.at, n)
			}
			plte := make([]byte, n)
			if _, err := io.ReadFull(c, plte); err != nil {
				return err
			}
			if p.palette != nil {
				p.palette = plte
			}
		case "tRNS":
			if err := p.readAlphas(c, n); err != nil {
				return err
			}
		case "IEND":
			return errors.New("the file ends without picture data")
		default:
			if name[0]&0x20 == 0 {
				return fmt.Errorf("byte %d: unknown chunk %q that the picture needs: save it again as a plain PNG", c.at, name)
			}
		}
	}
}

func (p *pngReader) Header() *Header { return &p.header }

func (p *pngReader) ReadRow(dst []byte) error {
	if p.row == p.header.Height {
		return io.EOF
	}
	if p.now == nil {
		n := 1 + (p.header.Width*p.samples*p.bits+7)/8
		p.now, p.was = make([]byte, n), make([]byte, n)
	}
	p.now, p.was = p.was, p.now
	if _, err := io.ReadFull(p.in, p.now); err != nil {
		if err == io.EOF || err == io.ErrUnexpectedEOF {
			err = fmt.Errorf("the picture ends here: the file is %s", cutOff)
		} else if corrupt := flate.CorruptInputError(0); errors.As(err, &corrupt) {
			err = fmt.Errorf("%w: the file is %s", err, cutOff)
		}
		return fmt.Errorf("row %d of %d: %w", p.row, p.header.Height, err)
	}
	if err := unfilter(p.now[0], p.now[1:], p.was[1:], max(1, p.samples*p.bits/8)); err != nil {
		return fmt.Errorf("row %d of %d: %w: the file is %s", p.row, p.header.Height, err, cutOff)
	}
	if p.row++; p.row == p.header.Height {
		if err := checkSum(p.in); err != nil {
			return err
		}
	}
	p.findClear(p.now[1:])
	return p.convert(dst, p.now[1:])
}

// checkSum reads on to the sum behind the data of a Deflate stream, which nobody compares before.
func checkSum(in io.Reader) error {
	if _, err := io.CopyN(io.Discard, in, 1<<20); err != nil && err != io.EOF { // with what may lie before it
		return fmt.Errorf("the sum behind the picture's data: %w: the file is damaged", err)
	}
	return nil
}

// unfilter undoes the filter of a row; step is the distance of the same sample in the pixel to the left.
func unfilter(filter byte, row, up []byte, step int) error {
	switch filter {
	case 0:
	case 1:
		for i := step; i < len(row); i++ {
			row[i] += row[i-step]
		}
	case 2:
		for i := range row {
			row[i] += up[i]
		}
	case 3:
		for i := range min(step, len(row)) {
			row[i] += up[i] / 2
		}
		for i := step; i < len(row); i++ {
			row[i] += byte((int(row[i-step]) + int(up[i])) / 2)
		}
	case 4:
		paeth(row, up, step)
	default:
		return fmt.Errorf("filter %d: PNG has 0 to 4", filter)
	}
	return nil
}

// paeth adds to each byte whichever of left, upper and upper left neighbour is nearest to left + upper - upper left.
func paeth(row, up []byte, step int) {
	for i := range min(step, len(row)) {
		row[i] += up[i]
	}
	for i := step; i < len(row); i++ {
		a, b, c := int(row[i-step]), int(up[i]), int(up[i-step])
		da, db, dc := abs(b-c), abs(a-c), abs(a+b-2*c)
		switch {
		case da <= db && da <= dc:
			row[i] += byte(a)
		case db <= dc:
			row[i] += byte(b)
		default:
			row[i] += byte(c)
		}
	}
}

func abs(v int) int { return max(v, -v) }

// convert turns a stored row into samples of 8 or 16 bits without transparency.
func (p *pngReader) convert(dst, row []byte) error {
	h := &p.header
	switch {
	case p.palette != nil:
		for x := range h.Width {
			k := 3 * int(packedSample(row, x, p.bits))
			if k >= len(p.palette) {
				return fmt.Errorf("row %d of %d: colour %d of a palette of %d", p.row-1, h.Height, k/3, len(p.palette)/3)
			}
			copy(dst[3*x:3*x+3], p.palette[k:])
		}
	case p.bits < 8:
		spread := byte(255 / (1<<p.bits - 1))
		for x := range h.Width {
			dst[x] = packedSample(row, x, p.bits) * spread
		}
	case p.samples == h.Channels:
		copy(dst, row)
	default:
		dropSamples(dst, row, h.Width, h.PixelBytes(), p.samples*p.bits/8)
	}
	return nil
}

// packedSample returns sample x of a row of samples of 1, 2, 4 or 8 bits, the first in the highest bits of a byte.
func packedSample(row []byte, x, bits int) byte {
	at := x * bits
	return row[at/8] >> (8 - bits - at%8) & byte(1<<bits-1)
}

// dropSamples copies the first keep bytes of every pixel of step bytes.
func dropSamples(dst, row []byte, width, keep, step int) {
	for x := range width {
		copy(dst[x*keep:x*keep+keep], row[x*step:])
	}
}

// interlaced reads a picture that cannot be streamed, if it is small enough.
func (p *pngReader) interlaced(f io.ReaderAt, size int64) (rows, error) {
	h := p.header
	area := int64(h.Width) * int64(h.Height)
	if stored, need := area*int64(p.samples*p.bits)/8, p.memory(area); need > wholePicture || stored/mostPacked(tiffDeflate) > size {
		return nil, fmt.Errorf("an interlaced PNG of %d × %d pixels needs %d MB at once, and its file has %d bytes: save it without interlacing", h.Width, h.Height, need>>20, size)
	}
	img, err := png.Decode(io.NewSectionReader(f, 0, size))
	if err != nil {
		return nil, err
	}
	return &imageReader{header: h, img: img, clear: p.clear}, nil
}

// memory returns how many bytes image/png takes for an interlaced picture of so many pixels, by its source as of Go 1.26
// (reader.go): a sample or four a pixel (four also for colours without transparency), and the last of the seven passes,
// half of all pixels, once more.
func (p *pngReader) memory(area int64) int64 {
	need := area * int64(p.header.Depth/8)
	if p.samples > 1 || p.trns != nil && p.palette == nil {
		need *= 4
	}
	return need + need/2
}

// pngChunks reads the chunks of a PNG file and checks their sums. Read reads what the chunk holds; while data is set, it
// goes on through all chunks IDAT that follow each other.
type pngChunks struct {
	in   *bufio.Reader
	at   int64 // of the chunk
	left uint32
	sum  uint32
	open bool
	data bool
	end  bool
}

// next skips what is left of a chunk and begins the next one.
func (c *pngChunks) next() (name string, size uint32, err error) {
	if c.open {
		if _, err := io.Copy(io.Discard, chunkRest{c}); err != nil {
			return "", 0, err
		}
		if err := c.close(); err != nil {
			return "", 0, err
		}
	}
	var head [8]byte
	if _, err := io.ReadFull(c.in, head[:]); err != nil {
		return "", 0, endsAt(c.at, err)
	}
	c.left, c.open = binary.BigEndian.Uint32(head[:]), true
	if c.left >= 1<<31 {
		return "", 0, fmt.Errorf("byte %d: a chunk of %d bytes: PNG allows 2³¹ - 1", c.at, c.left)
	}
	c.sum = crc32.ChecksumIEEE(head[4:])
	c.at += 8
	return string(head[4:]), c.left, nil
}

// close checks the sum of a chunk that was read to its end.
func (c *pngChunks) close() error {
	var sum [4]byte
	if _, err := io.ReadFull(c.in, sum[:]); err != nil {
		return endsAt(c.at, err)
	}
	if binary.BigEndian.Uint32(sum[:]) != c.sum {
		return fmt.Errorf("byte %d: the check sum of the chunk is wrong: the file is damaged", c.at)
	}
	c.at += 4
	c.open = false
	return nil
}

func (c *pngChunks) Read(b []byte) (int, error) {
	for c.left == 0 {
		if !c.data || c.end {
			return 0, io.EOF
		}
		name, _, err := c.next()
		if err != nil {
			return 0, err
		}
		c.end = name != "IDAT"
	}
	if c.end {
		return 0, io.EOF
	}
	return chunkRest{c}.Read(b)
}

// chunkRest reads what is left of one chunk.
type chunkRest struct{ *pngChunks }

func (c chunkRest) Read(b []byte) (int, error) {
	if c.left == 0 {
		return 0, io.EOF
	}
	n, err := c.in.Read(b[:min(len(b), int(c.left))])
	c.left -= uint32(n)
	c.at += int64(n)
	c.sum = crc32.Update(c.sum, crc32.IEEETable, b[:n])
	if err != nil {
		err = endsAt(c.at, err)
	}
	return n, err
}
