package shot

import (
	"encoding/binary"
	"fmt"
	"io"
	"slices"
)

// TIFF compressions that are read.
const (
	tiffPlain    = 1
	tiffLZW      = 5
	tiffJPEG     = 7
	tiffDeflate  = 8
	tiffDeflate2 = 32946
	tiffPackBits = 32773
)

// unreadable names what is not read, so that the user knows what to change.
var unreadable = map[uint64]string{2: "fax", 3: "fax", 4: "fax", 6: "JPEG of the old kind", 34712: "JPEG 2000", 34887: "LERC", 34925: "LZMA", 50000: "zstd", 50001: "WebP", 50002: "JPEG XL"}

// TIFF photometric interpretations that are read.
const (
	whiteIsZero = 0
	blackIsZero = 1
	tiffRGB     = 2
	tiffPalette = 3
	tiffYCbCr   = 6
)

// The most samples that a pixel may have, the most blocks of a picture (in tiles of 64 × 64 pixels the largest one has
// as many), and the most bytes of JPEG tables, which never need a tenth of them.
const (
	mostSamples = 16
	mostBlocks  = 1 << 24
	mostTables  = 1 << 16
)

// tiffPicture is what a directory says of a picture.
type tiffPicture struct {
	dir                   *tiffDir
	header                Header
	bits                  int // a sample
	samples               int // a pixel
	compression           uint64
	photometric           uint64
	planar, predict       bool
	tiled                 bool
	reversed              bool // the bits of each byte come lowest first
	blockWidth            int  // of tiles or strips
	blockHeight           int
	offsets, counts       []uint64
	palette, tables       []byte
	alpha                 int    // which sample it is; 0: none
	associated            bool   // the colours are multiplied by it
	straight              bool   // and are to be given as they were before
	clear                 []bool // of the last row; nil: nothing is transparent
	across, down, inPlane int    // blocks
}

// newTIFF reads a page of a TIFF file.
func newTIFF(f io.ReaderAt, size int64, page int) (rows, error) {
	dirs, err := openTIFF(f, size)
	if err != nil {
		return nil, err
	}
	var pages []*tiffDir // not those that are smaller copies of others
	for _, d := range dirs {
		kind, err := d.uint(tagSubfileType, 0)
		if err != nil {
			return nil, err
		}
		if kind&1 == 0 {
			pages = append(pages, d)
		}
	}
	if len(pages) == 0 {
		pages = dirs
	}
	if page > len(pages) {
		return nil, fmt.Errorf("page %d: the file has %d", page, len(pages))
	}
	p := &tiffPicture{dir: pages[max(page, 1)-1]}
	if err := p.read(); err != nil {
		return nil, err
	}
	p.header.Pages = len(pages)
	if len(pages) > 1 && page == 0 {
		p.header.Notes = append(p.header.Notes, fmt.Sprintf("the file has %d pages; the first is taken", len(pages)))
	}
	if p.tiled || p.compression == tiffJPEG {
		return &blockReader{tiffPicture: p}, nil
	}
	return &stripReader{tiffPicture: p}, nil
}

func (p *tiffPicture) Header() *Header { return &p.header }

// read takes in what the directory says and refuses what is not read.
func (p *tiffPicture) read() error {
	numbers := map[uint16]uint64{}
	for tag, usual := range map[uint16]uint64{tagWidth: 0, tagHeight: 0, tagCompression: tiffPlain, tagPhotometric: blackIsZero, tagFillOrder: 1, tagOrientation: 1,
		tagSamples: 1, tagRowsPerStrip: 1<<32 - 1, tagPlanar: 1, tagPredictor: 1, tagTileWidth: 0, tagTileHeight: 0} {
		var err error
		if numbers[tag], err = p.dir.uint(tag, usual); err != nil {
			return err
		}
	}
	h := &p.header
	*h = Header{Format: "TIFF", Width: int(min(numbers[tagWidth], 1<<40)), Height: int(min(numbers[tagHeight], 1<<40)), Orientation: Orientation(numbers[tagOrientation])}
	if err := h.checkSides(); err != nil {
		return err
	}
	if !h.Orientation.Valid() {
		h.Orientation = TopLeft
	}
	p.compression, p.photometric = numbers[tagCompression], numbers[tagPhotometric]
	p.planar, p.predict = numbers[tagPlanar] == 2, numbers[tagPredictor] == 2
	if numbers[tagSamples] < 1 || numbers[tagSamples] > mostSamples {
		return fmt.Errorf("%d samples a pixel: 1 to %d are read", numbers[tagSamples], mostSamples)
	}
	p.samples = int(numbers[tagSamples])
	if p.samples == 1 {
		p.planar = false
	}
	switch p.compression {
	case tiffPlain, tiffLZW, tiffJPEG, tiffDeflate, tiffDeflate2, tiffPackBits:
	default:
		name := unreadable[p.compression]
		if name == "" {
			name = "of an unknown kind"
		}
		return fmt.Errorf("compression %d (%s) is not read: save it with none, LZW, Deflate, PackBits or JPEG", p.compression, name)
	}
	p.reversed = numbers[tagFillOrder] == 2 && p.compression != tiffJPEG
	if err := p.readSamples(); err != nil {
		return err
	}
	if numbers[tagPredictor] > 2 {
		return fmt.Errorf("predictor %d is not read: save it with none or with horizontal differences", numbers[tagPredictor])
	}
	return p.readBlocks(numbers)
}

// readSamples finds out what a pixel is made of.
func (p *tiffPicture) readSamples() error {
	h := &p.header
	bits, err := p.dir.uints(tagBits, mostSamples)
	if err != nil {
		return err
	}
	p.bits = 1
	for i, b := range bits {
		if i > 0 && b != bits[0] {
			return fmt.Errorf("samples of %d and of %d bits in one picture are not read: save it with 8 or 16 bits", bits[0], b)
		}
		p.bits = int(min(b, 1000))
	}
	formats, err := p.dir.uints(tagSampleFormat, mostSamples)
	if err != nil {
		return err
	}
	for _, f := range formats {
		if f != 1 && f != 4 {
			name := map[uint64]string{2: "signed", 3: "floating-point"}[f]
			return fmt.Errorf("samples of format %d (%s) are not read: save it with unsigned samples of 8 or 16 bits", f, name)
		}
	}
	colours := 1
	h.Channels = 1
	allowed := map[int]bool{8: true, 16: true}
	switch p.photometric {
	case whiteIsZero, blackIsZero:
		allowed[1], allowed[2], allowed[4] = true, true, true
	case tiffRGB:
		colours, h.Channels = 3, 3
	case tiffYCbCr:
		colours, h.Channels = 3, 3
		if p.compression != tiffJPEG || p.planar {
			return fmt.Errorf("luminance and colour differences (photometric 6) are read in JPEG compression only: save it as RGB")
		}
	case tiffPalette:
		h.Channels = 3
		allowed = map[int]bool{1: true, 2: true, 4: true, 8: true}
		if err := p.readPalette(); err != nil {
			return err
		}
	default:
		name := map[uint64]string{5: "colours of print", 8: "CIELAB", 32803: "raw sensor data", 34892: "raw sensor data"}[p.photometric]
		return fmt.Errorf("photometric interpretation %d (%s) is not read: save it as grey or RGB", p.photometric, name)
	}
	if p.compression == tiffJPEG {
		allowed = map[int]bool{8: true}
	}
	if !allowed[p.bits] {
		return fmt.Errorf("samples of %d bits are not read here: save it with 8 or 16 bits", p.bits)
	}
	if p.bits < 8 && p.samples > 1 {
		return fmt.Errorf("%d samples of %d bits a pixel are not read: save it with 8 bits", p.samples, p.bits)
	}
	if p.samples < colours {
		return fmt.Errorf("%d samples a pixel for %d colours", p.samples, colours)
	}
	if p.samples > colours {
		if err := p.readExtra(colours); err != nil {
			return err
		}
	}
	h.Depth = 8
	if p.bits == 16 {
		h.Depth = 16
	}
	return nil
}

// readPalette reads the colours, whose samples of 16 bits come all reds first, then greens, then blues. Where none is
// above 255, the writer gave 8 bits: so the TIFF tools take it, too (from memory).
func (p *tiffPicture) readPalette() error {
	n := 1 << min(p.bits, 8)
	colours, err := p.dir.uints(tagColorMap, 3*n)
	if err != nil {
		return err
	}
	if len(colours) < 3*n {
		return fmt.Errorf("a palette of %d numbers, where %d bits a pixel need %d", len(colours), p.bits, 3*n)
	}
	shift := 8
	if slices.Max(colours[:3*n]) < 256 {
		shift = 0
	}
	for i := range n {
		for c := range 3 {
			p.palette = append(p.palette, byte(colours[c*n+i]>>shift))
		}
	}
	return nil
}

// readBlocks finds the strips or tiles.
func (p *tiffPicture) readBlocks(numbers map[uint16]uint64) error {
	h := &p.header
	at, bytes := uint16(tagStripOffsets), uint16(tagStripByteCounts)
	p.blockWidth, p.blockHeight = h.Width, int(min(numbers[tagRowsPerStrip], uint64(h.Height)))
	if p.tiled = numbers[tagTileWidth] > 0 || numbers[tagTileHeight] > 0; p.tiled {
		at, bytes = tagTileOffsets, tagTileByteCounts
		p.blockWidth, p.blockHeight = int(min(numbers[tagTileWidth], 1<<20)), int(min(numbers[tagTileHeight], 1<<20))
	}
	if p.blockWidth < 1 || p.blockHeight < 1 {
		return fmt.Errorf("blocks of %d × %d pixels", p.blockWidth, p.blockHeight)
	}
	p.across, p.down = (h.Width+p.blockWidth-1)/p.blockWidth, (h.Height+p.blockHeight-1)/p.blockHeight
	p.inPlane = p.across * p.down
	blocks := p.inPlane
	if p.planar {
		blocks *= p.samples
	}
	if area := int64(h.Width) * int64(h.Height); area*int64(p.bits*p.samples)/8/mostPacked(p.compression) > p.dir.file.size {
		return fmt.Errorf("the TIFF header says %d × %d pixels, which %d bytes cannot hold: the file is %s", h.Width, h.Height, p.dir.file.size, cutOff)
	}
	if blocks > mostBlocks {
		return fmt.Errorf("%d blocks of %d × %d pixels: %d at most are read; save it in tiles of 256 × 256", blocks, p.blockWidth, p.blockHeight, mostBlocks)
	}
	var err error
	if p.offsets, err = p.dir.uints(at, blocks); err != nil {
		return err
	}
	if p.counts, err = p.dir.uints(bytes, blocks); err != nil {
		return err
	}
	if len(p.offsets) < blocks || len(p.counts) > 0 && len(p.counts) < blocks {
		return fmt.Errorf("places of %d blocks and sizes of %d, where %d × %d pixels need %d", len(p.offsets), len(p.counts), h.Width, h.Height, blocks)
	}
	p.tables, _, err = p.dir.raw(tagJPEGTables, mostTables)
	return err
}

// block returns the bytes of a block, as a stream.
func (p *tiffPicture) block(i int) (*io.SectionReader, error) {
	at := p.offsets[i]
	size := p.dir.file.size
	var n uint64
	if len(p.counts) > 0 {
		n = p.counts[i]
	} else if at < uint64(size) { // some writers leave the sizes out
		n = uint64(size) - at
	}
	if n == 0 || at >= uint64(size) || n > uint64(size)-at {
		return nil, fmt.Errorf("%s: bytes %d to %d are not in the file, which has %d: it is %s", p.name(i), at, at+n, size, cutOff)
	}
	return io.NewSectionReader(p.dir.file.in, int64(at), int64(n)), nil
}

// name tells a block for the user.
func (p *tiffPicture) name(i int) string {
	k := i % p.inPlane
	top := k / p.across * p.blockHeight
	if p.tiled {
		return fmt.Sprintf("tile %d (rows %d to %d, from column %d)", i, top, min(top+p.blockHeight, p.header.Height)-1, k%p.across*p.blockWidth)
	}
	return fmt.Sprintf("strip %d (rows %d to %d)", i, top, min(top+p.blockHeight, p.header.Height)-1)
}

// planes returns how many planes are read and how many samples a pixel has in each.
func (p *tiffPicture) planes() (n, samples int) {
	if !p.planar {
		return 1, p.samples
	}
	n = 1
	if p.photometric == tiffRGB {
		n = 3
	}
	if p.alpha > 0 {
		n++
	}
	return n, 1
}

// plane returns which of the stored planes the k-th is that is read.
func (p *tiffPicture) plane(k int) int {
	if n, _ := p.planes(); p.planar && p.alpha > 0 && k == n-1 {
		return p.alpha
	}
	return k
}

// bigEndian reports whether samples of 16 bits have the high byte first.
func (p *tiffPicture) bigEndian() bool { return p.dir.file.order == binary.BigEndian }
