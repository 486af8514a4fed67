package shot

import (
	"bufio"
	"compress/zlib"
	"fmt"
	"io"
	"math/bits"

	"golang.org/x/image/tiff/lzw"
	"golang.org/x/sync/errgroup"
)

// unpacked returns the stream of a block's bytes without its compression.
func (p *tiffPicture) unpacked(i int) (io.Reader, error) {
	in, err := p.block(i)
	if err != nil {
		return nil, err
	}
	var stored io.Reader = in
	if p.reversed {
		stored = reversed{in}
	}
	buffered := bufio.NewReaderSize(stored, int(min(in.Size(), 1<<16)))
	switch p.compression {
	case tiffLZW:
		return lzw.NewReader(buffered, lzw.MSB, 8), nil
	case tiffDeflate, tiffDeflate2:
		z, err := zlib.NewReader(buffered)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", p.name(i), err)
		}
		return z, nil
	case tiffPackBits:
		return &packBits{in: buffered}, nil
	}
	return buffered, nil
}

func (p *tiffPicture) deflate() bool {
	return p.compression == tiffDeflate || p.compression == tiffDeflate2
}

// reversed reads bytes whose bits come lowest first.
type reversed struct{ in io.Reader }

func (r reversed) Read(b []byte) (int, error) {
	n, err := r.in.Read(b)
	for i := range b[:n] {
		b[i] = bits.Reverse8(b[i])
	}
	return n, err
}

// packBits undoes the PackBits compression (TIFF 6.0, section 9): a count byte n, then n + 1 bytes to copy, or for
// negative n one byte to repeat 1 - n times; -128 means nothing.
type packBits struct {
	in     *bufio.Reader
	left   int
	repeat bool
	value  byte
}

func (p *packBits) Read(b []byte) (int, error) {
	for p.left == 0 {
		n, err := p.in.ReadByte()
		if err != nil {
			return 0, err
		}
		switch c := int8(n); {
		case c >= 0:
			p.left, p.repeat = int(c)+1, false
		case c > -128:
			p.left, p.repeat = 1-int(c), true
			if p.value, err = p.in.ReadByte(); err != nil {
				return 0, io.ErrUnexpectedEOF
			}
		}
	}
	n := min(p.left, len(b))
	if !p.repeat {
		var err error
		n, err = p.in.Read(b[:n])
		p.left -= n
		return n, err
	}
	for i := range b[:n] {
		b[i] = p.value
	}
	p.left -= n
	return n, nil
}

// stripReader reads a picture in strips row by row: a strip may be as high as the picture.
type stripReader struct {
	*tiffPicture
	row    int
	strips []io.Reader // the open one of each plane
	parts  [][]byte    // a stored row of each
}

func (r *stripReader) ReadRow(dst []byte) error {
	h := &r.header
	if r.row == h.Height {
		return io.EOF
	}
	n, perPixel := r.planes()
	if r.strips == nil {
		r.strips = make([]io.Reader, n)
		for range n {
			r.parts = append(r.parts, make([]byte, (h.Width*perPixel*r.bits+7)/8))
		}
	}
	for k := range n {
		i := r.plane(k)*r.inPlane + r.row/r.blockHeight
		var err error
		if r.row%r.blockHeight == 0 {
			if r.strips[k], err = r.unpacked(i); err != nil {
				return err
			}
		}
		if _, err = io.ReadFull(r.strips[k], r.parts[k]); err != nil {
			return fmt.Errorf("row %d of %d, %s: %w", r.row, h.Height, r.name(i), short(err))
		}
		if last := r.row%r.blockHeight == r.blockHeight-1 || r.row == h.Height-1; last && r.deflate() {
			if err := checkSum(r.strips[k]); err != nil {
				return fmt.Errorf("%s: %w", r.name(i), err)
			}
		}
		r.unpredict(r.parts[k], perPixel)
	}
	r.row++
	r.convert(dst, r.parts, h.Width)
	r.straighten(dst, r.parts, h.Width)
	r.findClear(r.clear, r.parts)
	return nil
}

// short says what the end of data, or data that cannot be unpacked, means here.
func short(err error) error {
	if err == io.EOF || err == io.ErrUnexpectedEOF {
		return fmt.Errorf("its data ends too early: the file is %s", cutOff)
	}
	return fmt.Errorf("%w: the file is %s", err, cutOff)
}

// blockReader reads a picture in tiles, or in blocks that are only readable whole, a row of blocks at a time.
type blockReader struct {
	*tiffPicture
	row       int
	band      []byte // the picture's rows of the present row of blocks
	clearBand []bool // what is transparent in it
}

// largestBlock bounds a block that is read whole, in bytes.
const largestBlock = 128 << 20

// mostPacked returns more bytes of picture than a compression can put into a byte of file.
func mostPacked(compression uint64) int64 {
	switch compression {
	case tiffPlain:
		return 1
	case tiffPackBits: // 128 bytes for two
		return 64
	case tiffLZW: // a code of 12 bits stands for 3,838 bytes at most
		return 2600
	case tiffJPEG: // a bit a block, and ten blocks for 32 × 16 pixels of three samples; see jpegFrame.fits
		return 1229
	}
	return 1100 // Deflate, 258 bytes for two bits
}

func (r *blockReader) ReadRow(dst []byte) error {
	h := &r.header
	if r.row == h.Height {
		return io.EOF
	}
	if r.row%r.blockHeight == 0 {
		if err := r.readBand(r.row / r.blockHeight); err != nil {
			return err
		}
	}
	n := h.RowBytes()
	copy(dst, r.band[r.row%r.blockHeight*n:][:n])
	if r.clearBand != nil {
		copy(r.clear, r.clearBand[r.row%r.blockHeight*h.Width:])
	}
	r.row++
	return nil
}

// readBand unpacks a row of blocks, several at the same time.
func (r *blockReader) readBand(down int) error {
	h := &r.header
	high := min(r.blockHeight, h.Height-down*r.blockHeight)
	planes, perPixel := r.planes()
	if n := int64(r.blockWidth) * int64(r.blockHeight) * int64(perPixel*r.bits) / 8; n > largestBlock || int64(high)*int64(h.RowBytes()+len(r.clear)) > wholePicture {
		return fmt.Errorf("blocks of %d × %d pixels are too large to be read whole: save it in tiles of 256 × 256", r.blockWidth, r.blockHeight)
	}
	if r.band == nil {
		if err := r.holds(down, high, planes, perPixel); err != nil {
			return err
		}
		r.band = make([]byte, high*h.RowBytes())
		if r.alpha > 0 {
			r.clearBand = make([]bool, high*h.Width)
		}
	}
	var g errgroup.Group
	g.SetLimit(r.together())
	for x := range r.across {
		g.Go(func() error {
			parts := make([][]byte, planes)
			for k := range planes {
				i := r.plane(k)*r.inPlane + down*r.across + x
				var err error
				if r.compression == tiffJPEG {
					parts[k], err = r.jpegBlock(i, high, perPixel)
				} else {
					parts[k], err = r.plainBlock(i, high, perPixel)
				}
				if err != nil {
					return err
				}
			}
			r.place(x, high, parts)
			return nil
		})
	}
	return g.Wait()
}

// together returns how many blocks are unpacked at the same time, so that all of them take no more than wholePicture:
// a progressive JPEG block takes five times its samples, and the rims that fill it up.
func (r *blockReader) together() int {
	_, perPixel := r.planes()
	need := int64(r.blockWidth) * int64(r.blockHeight) * int64(perPixel*r.bits) / 8
	if r.compression == tiffJPEG {
		need *= 8
	}
	return int(max(1, min(4, wholePicture/max(1, need))))
}

// holds returns an error where a row of blocks cannot hold its pixels, before memory is taken for them.
func (r *blockReader) holds(down, high, planes, perPixel int) error {
	first, size := down*r.across, int64(0)
	for i := range planes * r.across {
		b, err := r.block(r.plane(i/r.across)*r.inPlane + first + i%r.across)
		if err != nil {
			return err
		}
		size += b.Size()
	}
	if need := int64(high) * int64(r.across*r.blockWidth) * int64(planes*perPixel*r.bits) / 8; need/mostPacked(r.compression) > size {
		return fmt.Errorf("%s and those beside it: %d bytes cannot hold %d rows: the file is %s", r.name(first), size, high, cutOff)
	}
	return nil
}

// plainBlock unpacks the first high rows of a block.
func (r *blockReader) plainBlock(i, high, perPixel int) ([]byte, error) {
	packed, err := r.block(i)
	if err != nil {
		return nil, err
	}
	stride := (r.blockWidth*perPixel*r.bits + 7) / 8
	if int64(high*stride)/mostPacked(r.compression) > packed.Size() {
		return nil, fmt.Errorf("%s: %d bytes cannot hold %d rows: the file is %s", r.name(i), packed.Size(), high, cutOff)
	}
	in, err := r.unpacked(i)
	if err != nil {
		return nil, err
	}
	b := make([]byte, high*stride)
	if _, err := io.ReadFull(in, b); err != nil {
		return nil, fmt.Errorf("%s: %w", r.name(i), short(err))
	}
	if r.deflate() && high == r.blockHeight {
		if err := checkSum(in); err != nil {
			return nil, fmt.Errorf("%s: %w", r.name(i), err)
		}
	}
	for y := range high {
		r.unpredict(b[y*stride:(y+1)*stride], perPixel)
	}
	return b, nil
}

// place converts a block's rows into the band.
func (r *blockReader) place(x, high int, parts [][]byte) {
	h := &r.header
	wide := min(r.blockWidth, h.Width-x*r.blockWidth)
	rows := make([][]byte, len(parts))
	for y := range high {
		for k, b := range parts {
			n := len(b) / high
			rows[k] = b[y*n : (y+1)*n]
		}
		at := y*h.RowBytes() + x*r.blockWidth*h.PixelBytes()
		line := r.band[at : at+wide*h.PixelBytes()]
		r.convert(line, rows, wide)
		r.straighten(line, rows, wide)
		if r.clearBand != nil {
			r.findClear(r.clearBand[y*h.Width+x*r.blockWidth:][:wide], rows)
		}
	}
}

// unpredict undoes horizontal differences in a row.
func (p *tiffPicture) unpredict(row []byte, perPixel int) {
	switch {
	case !p.predict || p.bits < 8 || p.compression == tiffPlain || p.compression == tiffPackBits || p.compression == tiffJPEG:
	case p.bits == 8:
		for i := perPixel; i < len(row); i++ {
			row[i] += row[i-perPixel]
		}
	default:
		order := p.dir.file.order
		for i := 2 * perPixel; i+1 < len(row); i += 2 {
			order.PutUint16(row[i:], order.Uint16(row[i:])+order.Uint16(row[i-2*perPixel:]))
		}
	}
}

// convert turns a row of stored planes into a row of the picture, so many pixels wide, without transparency.
func (p *tiffPicture) convert(dst []byte, planes [][]byte, width int) {
	h := &p.header
	_, perPixel := p.planes()
	if p.planar && p.alpha > 0 {
		planes = planes[:len(planes)-1]
	}
	switch {
	case p.palette != nil:
		for x := range width {
			copy(dst[3*x:3*x+3], p.palette[3*int(packedSample(planes[0], x*perPixel, p.bits)):])
		}
		return
	case p.bits < 8:
		spread := byte(255 / (1<<p.bits - 1))
		for x := range width {
			dst[x] = packedSample(planes[0], x, p.bits) * spread
		}
	case len(planes) > 1:
		n := p.bits / 8
		for k, plane := range planes {
			for x := range width {
				copy(dst[(3*x+k)*n:(3*x+k+1)*n], plane[x*n:])
			}
		}
	case perPixel == h.Channels:
		copy(dst, planes[0])
	default:
		dropSamples(dst, planes[0], width, h.PixelBytes(), p.samples*p.bits/8)
	}
	if p.bits == 16 && !p.bigEndian() {
		for i := 0; i+1 < len(dst); i += 2 {
			dst[i], dst[i+1] = dst[i+1], dst[i]
		}
	}
	if p.photometric == whiteIsZero {
		for i := range dst {
			dst[i] = ^dst[i]
		}
	}
}
