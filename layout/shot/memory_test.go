package shot

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"runtime"
	"strings"
	"testing"
)

// jpegOf is a JPEG file of 8 × 8 pixels whose header says otherwise: its size, whether it is progressive, and how often
// luminance is sampled for each sample of colour; so many bytes follow it.
func jpegOf(t testing.TB, img image.Image, width, height uint16, progressive bool, factors byte, tail int) []byte {
	t.Helper()
	var j bytes.Buffer
	if err := jpeg.Encode(&j, img, nil); err != nil {
		t.Fatal(err)
	}
	b := j.Bytes()
	sof := bytes.Index(b, []byte{0xff, 0xc0})
	if progressive {
		b[sof+1] = 0xc2
	}
	binary.BigEndian.PutUint16(b[sof+5:], height)
	binary.BigEndian.PutUint16(b[sof+7:], width)
	b[sof+11] = factors
	return append(b, make([]byte, tail)...)
}

// TestJPEGLies: a JPEG header that the file cannot hold, or that needs too much memory, is refused before it is taken.
func TestJPEGLies(t *testing.T) {
	small := image.Rect(0, 0, 8, 8)
	grey, colour := image.NewGray(small), image.NewRGBA(small)
	for name, tc := range map[string]struct {
		file []byte
		want string
	}{
		"two bits a block":         {jpegOf(t, grey, 256, 256, false, 0x11, 0), "256 × 256 pixels, which"},
		"two bits, a little short": {jpegOf(t, grey, 4000, 4000, false, 0x11, 62000), "cannot hold"}, // 500² blocks, 62,500 bytes
		"progressive":              {jpegOf(t, colour, 4000, 4000, true, 0x22, 31000), "4000 × 4000 pixels, which"},
		"progressive grey":         {jpegOf(t, grey, 4000, 4000, true, 0x11, 30000), "cannot hold"},                                      // 31,250
		"memory":                   {jpegOf(t, colour, 14000, 14000, true, 0x11, 1200000), "needs 2803 MB at once, where 1024 are"},      // 15·14,000²/2²⁰ = 2803.8
		"memory of baseline":       {jpegOf(t, colour, 20000, 20000, false, 0x11, 5000000), "needs 1144 MB at once, where 1024 are all"}, // 3·20,000²/2²⁰
	} {
		before := allocated()
		_, _, err := readBytes(tc.file)
		if grown := allocated() - before; grown > 8<<20 {
			t.Errorf("%s: %d MB were allocated", name, grown>>20)
		}
		if err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %v, want something with %q", name, err, tc.want)
		}
	}
	// What might just hold its pixels is tried, and found to be cut off.
	if _, _, err := readBytes(jpegOf(t, grey, 256, 256, false, 0x11, 260)); err == nil || strings.Contains(err.Error(), "cannot hold") {
		t.Error(err)
	}
}

// TestJPEGBlocks: 17 × 9 pixels with colours kept for every second pixel and row, by hand: 3 × 2 blocks of luminance and
// 2 × 1 of each colour; interleaved in 2 × 1 units of six.
func TestJPEGBlocks(t *testing.T) {
	f := jpegFrame{width: 17, height: 9, factors: [][2]int{{2, 2}, {1, 1}, {1, 1}}}
	if coded, held := f.blocks(); coded != 10 || held != 12 {
		t.Errorf("%d and %d blocks, want 10 and 12", coded, held)
	}
	for _, tc := range []struct {
		progressive, converted bool
		want                   int64
	}{{false, false, 12 * 64}, {true, false, 5 * 12 * 64}, {false, true, 12*64 + 4*17*9}} {
		if f.progressive = tc.progressive; f.memory(tc.converted) != tc.want {
			t.Errorf("%+v: %d", tc, f.memory(tc.converted))
		}
	}
	for file, want := range map[string]string{
		"\xff\xd8\xff\xda\x00\x02":                                     "a scan before the frame",
		"\xff\xd8\xff\xd9\x00\x02":                                     "ends without a picture",
		"\xff\xd8\xff\xe0\x00\x01":                                     "ends without a picture",
		"\xff\xd8\xff\xc0\x00\x0b\x08\x00\x01\x00\x01\x01\x01\x11\x00": "byte 15: the file is cut off",
	} {
		if _, err := readJPEGFrame(strings.NewReader(file)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", file, err, want)
		}
	}
}

// TestJPEGMemory: what is foretold is what image/jpeg takes, for every kind of file that ImageMagick writes; and files
// that pack best, of one colour, are not taken for lies.
func TestJPEGMemory(t *testing.T) {
	convert := imagemagick(t)
	picture := []string{"-size", "600x500", "-seed", "7", "plasma:red-blue", "-strip"}
	for name, kind := range map[string][]string{
		"baseline":         {},
		"progressive":      {"-interlace", "JPEG"},
		"4:4:4":            {"-sampling-factor", "4:4:4", "-interlace", "JPEG"},
		"4:1:1":            {"-sampling-factor", "4:1:1"},
		"grey":             {"-colorspace", "Gray"},
		"progressive grey": {"-colorspace", "Gray", "-interlace", "JPEG"},
		"CMYK":             {"-colorspace", "CMYK"},
		"progressive CMYK": {"-colorspace", "CMYK", "-interlace", "JPEG"},
		"RGB":              {"-colorspace", "RGB", "-set", "colorspace", "sRGB"},
	} {
		file := convert("jpg", append(append([]string{}, picture...), kind...)...)
		frame, err := readJPEGFrame(bytes.NewReader(file))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		before := allocated()
		img, err := jpeg.Decode(bytes.NewReader(file))
		if err != nil {
			t.Fatal(name, err)
		}
		_, converted := img.(*image.RGBA)
		got, want := float64(allocated()-before), float64(frame.memory(converted))
		if t.Logf("%s: %.0f kB foretold, %.0f taken", name, want/1000, got/1000); got > 1.02*want+1e5 || got < 0.9*want {
			t.Errorf("%s: it takes %.0f bytes, %.0f foretold", name, got, want)
		}
	}
	for name, kind := range map[string][]string{"baseline": {}, "progressive": {"-interlace", "JPEG"}, "grey": {"-colorspace", "Gray"}} {
		file := convert("jpg", append([]string{"-size", "1000x1000", "xc:black", "-strip", "-quality", "10", "-define", "jpeg:optimize-coding=true"}, kind...)...)
		if _, h, err := readBytes(file); err != nil || h.Width != 1000 {
			t.Errorf("black, %s, %d bytes: %v", name, len(file), err)
		}
	}
}

// tiffOf is a TIFF file with fields of tag, type, count and value, and what follows its directory.
func tiffOf(tail []byte, fields ...[4]uint32) []byte {
	b := binary.LittleEndian.AppendUint16([]byte("II*\x00\x08\x00\x00\x00"), uint16(len(fields)))
	for _, f := range fields {
		b = binary.LittleEndian.AppendUint16(binary.LittleEndian.AppendUint16(b, uint16(f[0])), uint16(f[1]))
		b = binary.LittleEndian.AppendUint32(binary.LittleEndian.AppendUint32(b, f[2]), f[3])
	}
	return append(append(b, 0, 0, 0, 0), tail...)
}

// TestTIFFLies: what a TIFF file says of itself takes no memory that its bytes do not warrant.
func TestTIFFLies(t *testing.T) {
	size := func(w, h uint32) [][4]uint32 { return [][4]uint32{{tagWidth, 4, 1, w}, {tagHeight, 4, 1, h}} }
	const places = 8 + 2 + 8*12 + 4 // behind a directory of eight fields
	tail := binary.LittleEndian.AppendUint32(nil, places+16)
	for _, v := range []uint32{places + 26, 10, 20000} {
		tail = binary.LittleEndian.AppendUint32(tail, v)
	}
	var second bytes.Buffer
	z := zlib.NewWriter(&second)
	z.Write(make([]byte, 8<<20))
	z.Close()
	tail = append(append(append(tail, make([]byte, 10)...), second.Bytes()...), make([]byte, 20000)...)
	lie := jpegOf(t, image.NewGray(image.Rect(0, 0, 8, 8)), 2048, 2048, true, 0x11, 4000)
	block := [][4]uint32{{tagWidth, 4, 1, 2048}, {tagHeight, 4, 1, 2048}, {tagBits, 3, 1, 8}, {tagCompression, 3, 1, tiffJPEG}, {tagTileWidth, 3, 1, 2048}, {tagTileHeight, 3, 1, 2048},
		{tagTileOffsets, 4, 1, places}, {tagTileByteCounts, 4, 1, uint32(len(lie))}}
	for _, tc := range []struct {
		name string
		file []byte
		want string
		most uint64 // bytes allocated
	}{
		// Coefficients of four bytes for each of 2048² pixels would be 16 MB more.
		{"JPEG block", tiffOf(lie, block...), "tile 0 (rows 0 to 2047, from column 0): the JPEG header says 2048 × 2048 pixels, which", 5 << 20},
		// Many values where a few are wanted: 2 bytes each in the file, 8 in memory.
		{"bits", tiffOf(make([]byte, 2<<20), append(size(5, 5), [4]uint32{tagBits, 3, 1 << 20, 100})...), "samples of 0 bits", 1 << 20},
		{"sizes", tiffOf(make([]byte, 2<<20), append(size(5, 5), [4]uint32{tagBits, 3, 1, 8}, [4]uint32{tagStripOffsets, 3, 1 << 20, 100}, [4]uint32{tagStripByteCounts, 3, 1 << 20, 100})...), "strip 0", 1 << 20},
		{"blocks", tiffOf(make([]byte, 90000), append(size(1<<13, 1<<13), [4]uint32{tagBits, 3, 1, 8}, [4]uint32{tagCompression, 3, 1, tiffDeflate}, [4]uint32{tagTileWidth, 3, 1, 1}, [4]uint32{tagTileHeight, 3, 1, 1}, [4]uint32{tagTileOffsets, 3, 9, 8})...),
			"67108864 blocks of 1 × 1 pixels: 16777216 at most are read; save it in tiles of 256 × 256", 1 << 20},
		// Two tiles of 8 MB beside each other, which 20,010 bytes can hold, but ten of them not the first: memory is
		// taken for the row of both and for the second.
		{"one of two tiles", tiffOf(tail, append(size(1<<14, 512), [4]uint32{tagBits, 3, 1, 16}, [4]uint32{tagCompression, 3, 1, tiffDeflate}, [4]uint32{tagTileWidth, 3, 1, 1 << 13}, [4]uint32{tagTileHeight, 3, 1, 512},
			[4]uint32{tagTileOffsets, 4, 2, places}, [4]uint32{tagTileByteCounts, 4, 2, places + 8})...), "tile 0 (rows 0 to 511, from column 0): 10 bytes cannot hold 512 rows", 26 << 20},
	} {
		before := allocated()
		_, _, err := readBytes(tc.file)
		if grown := allocated() - before; grown > tc.most {
			t.Errorf("%s: %d kB were allocated", tc.name, grown>>10)
		}
		if err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %v, want something with %q", tc.name, err, tc.want)
		}
	}
}

// TestBlocksTogether: four small blocks are unpacked at the same time, and of large ones in JPEG compression, which may
// take eight times what they hold, as many as fit.
func TestBlocksTogether(t *testing.T) {
	for _, tc := range []struct {
		side        int
		compression uint64
		want        int
	}{{256, tiffJPEG, 4}, {8192, tiffJPEG, 2}, {11000, tiffJPEG, 1}, {11000, tiffLZW, 4}} {
		r := blockReader{tiffPicture: &tiffPicture{blockWidth: tc.side, blockHeight: tc.side, bits: 8, samples: 1, compression: tc.compression}}
		if got := r.together(); got != tc.want {
			t.Errorf("%+v: %d", tc, got)
		}
	}
}

// TestTIFFDirectoriesOverlap: a thousand directories of 4,096 fields each that lie over each other in 57 kB: the counts
// at 8, 16, 24 …, the places of the next ones behind the fields of each.
func TestTIFFDirectoriesOverlap(t *testing.T) {
	const n, fields = 1000, 4096
	b := make([]byte, 8+8*n+2+12*fields+4)
	rnd := rand.New(rand.NewPCG(61, 62))
	for i := range b {
		b[i] = byte(rnd.Uint32())
	}
	copy(b, "II*\x00\x08\x00\x00\x00")
	for k := range n {
		at := 8 + 8*k
		binary.LittleEndian.PutUint16(b[at:], fields)
		next := uint32(at + 8)
		if k == n-1 {
			next = 0
		}
		binary.LittleEndian.PutUint32(b[at+2+12*fields:], next)
	}
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	dirs, err := openTIFF(bytes.NewReader(b), int64(len(b)))
	runtime.GC()
	runtime.ReadMemStats(&after)
	if held := int64(after.HeapAlloc) - int64(before.HeapAlloc); err != nil || len(dirs) != n || held > 4<<20 {
		t.Errorf("%d directories, %v: %d kB are held", len(dirs), err, held>>10)
	}
	runtime.KeepAlive(dirs)
}

// TestInterlacedMemory: image/png holds four samples a pixel where the file has two, and half of them twice.
func TestInterlacedMemory(t *testing.T) {
	for _, tc := range []struct {
		samples, depth int
		trns           []byte
		palette        []byte
		want           int64
	}{{1, 8, nil, nil, 150}, {1, 16, nil, nil, 300}, {1, 8, []byte{0, 0}, nil, 600}, {1, 8, []byte{}, []byte{}, 150}, {2, 16, nil, nil, 1200}, {3, 8, nil, nil, 600}} {
		p := pngReader{samples: tc.samples, trns: tc.trns, palette: tc.palette, header: Header{Depth: tc.depth}}
		if got := p.memory(100); got != tc.want {
			t.Errorf("%+v: %d", tc, got)
		}
	}
	// 1.5·4·9,000²/2²⁰ = 463.5, which the file cannot hold; 1.5·8·10,000²/2²⁰ = 1144.4, which is too much.
	if _, _, err := readBytes(pngFile(9000, 9000, 8, 4, 1, make([]byte, 1<<20))); err == nil || !strings.Contains(err.Error(), "needs 463 MB at once") {
		t.Error(err)
	}
	if _, _, err := readBytes(pngFile(10000, 10000, 16, 4, 1, nil)); err == nil || !strings.Contains(err.Error(), "needs 1144 MB at once") {
		t.Error(err)
	}
}
