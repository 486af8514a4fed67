package shot

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/binary"
	"errors"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// pngFile is a PNG file with the given header fields and rows, each after its filter byte.
func pngFile(width, height uint32, bits, colour, interlace byte, rows []byte) []byte {
	ihdr := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, width), height)
	ihdr = append(ihdr, bits, colour, 0, 0, interlace)
	var z bytes.Buffer
	w := zlib.NewWriter(&z)
	w.Write(rows)
	w.Close()
	b := append(bytes.Clone(pngMagic), pngChunk("IHDR", ihdr)...)
	return append(append(b, pngChunk("IDAT", z.Bytes())...), pngChunk("IEND", nil)...)
}

// pngData is a PNG file of 3 × 2 grey pixels with the given Deflate stream.
func pngData(stream []byte) []byte {
	small := pngFile(3, 2, 8, 0, 0, nil)
	return append(append(bytes.Clone(small[:33]), pngChunk("IDAT", stream)...), pngChunk("IEND", nil)...)
}

// deflated is a Deflate stream whose sum is off by one.
func deflated(data []byte) []byte {
	var z bytes.Buffer
	w := zlib.NewWriter(&z)
	w.Write(data)
	w.Close()
	b := z.Bytes()
	b[len(b)-1]++
	return b
}

// field changes a field of the reference TIFF: its number in the directory, and its value.
func field(t testing.TB, changes ...[2]uint32) []byte {
	b := fromHex(t, referenceTIFF)
	for _, c := range changes {
		at := 18 + 2 + int(c[0])*12
		binary.LittleEndian.PutUint16(b[at+2:], 4)
		binary.LittleEndian.PutUint32(b[at+8:], c[1])
	}
	return b
}

// TestBroken: every error says what is wrong, and a header that lies costs no memory.
func TestBroken(t *testing.T) {
	small := pngFile(3, 2, 8, 0, 0, []byte{0, 1, 2, 3, 0, 4, 5, 6})
	damaged := bytes.Clone(small)
	damaged[45] ^= 1
	loop := fromHex(t, referenceTIFF)
	binary.LittleEndian.PutUint32(loop[len(loop)-4:], 18)
	manyFields := fromHex(t, referenceTIFF)
	manyFields[19] = 0xff
	var j bytes.Buffer
	if err := jpeg.Encode(&j, image.NewGray(image.Rect(0, 0, 8, 8)), nil); err != nil {
		t.Fatal(err)
	}
	lie := bytes.Clone(j.Bytes())
	sof := bytes.Index(lie, []byte{0xff, 0xc0})
	copy(lie[sof+5:], []byte{0xff, 0xff, 0xff, 0xff})
	bits12 := bytes.Clone(j.Bytes())
	bits12[sof+4] = 12
	const width, height, bitsOf, compression, photometric, offset, samplesOf, rowsPer, count = 0, 1, 2, 3, 4, 5, 6, 7, 8
	for _, tc := range []struct {
		name string
		file []byte
		want string
	}{
		{"nothing", nil, "not a PNG, TIFF or JPEG file"},
		{"text", []byte("hello, world"), "not a PNG, TIFF or JPEG file"},
		{"PNG of 2³¹ a side", pngFile(1<<31, 1<<31, 8, 0, 0, nil), "2147483648 × 2147483648 pixels"},
		{"PNG too high", pngFile(MaxSide, MaxSide, 16, 2, 0, nil), "row 0 of 262144: the picture ends here"},
		{"PNG without pixels", pngFile(0, 5, 8, 0, 0, nil), "0 × 5 pixels"},
		{"PNG of 3 bits", pngFile(1, 1, 3, 0, 0, nil), "3 bits of colour type 0"},
		{"PNG filter", pngFile(3, 2, 8, 0, 0, []byte{9, 1, 2, 3, 0, 4, 5, 6}), "filter 9"},
		{"PNG interlaced and large", pngFile(100000, 100000, 8, 0, 1, nil), "save it without interlacing"},
		{"PNG cut", small[:50], "the file is cut off"},
		{"PNG damaged", damaged, "checksum"},
		{"PNG sum of what is too long", pngData(deflated(make([]byte, 100))), "the sum behind the picture's data"},
		{"PNG stream", pngData([]byte{0x78, 0x9c, 0xff, 0xff, 0xff}), "corrupt input before offset 1: the file is cut off or damaged"},
		{"PNG sum", append(append(bytes.Clone(small[:33]), "\x00\x00\x00\x00tEXt\x00\x00\x00\x00"...), small[33:]...), "check sum"},
		{"PNG chunk", append(append(bytes.Clone(small[:33]), pngChunk("ABCD", nil)...), small[33:]...), `unknown chunk "ABCD"`},
		{"PNG palette", pngFile(1, 1, 8, 3, 0, []byte{0, 0}), "without the palette"},
		{"JPEG that lies", lie, "65535 × 65535 pixels, which"},
		{"JPEG cut", j.Bytes()[:len(j.Bytes())-8], "the file is cut off or damaged: copy it anew"},
		{"JPEG of 12 bits", bits12, "JPEG: unsupported JPEG feature: precision: save it as PNG or TIFF"},
		{"TIFF loop", loop, "comes back to it"},
		{"TIFF fields", manyFields, "65289 fields"},
		{"TIFF without directory", []byte("II*\x00\x00\x00\x00\x00"), "no directory"},
		{"TIFF directory outside", []byte("II*\x00\xff\x00\x00\x00"), "bytes 255 to 257 lie beyond the end"},
		{"BigTIFF of other places", []byte("II+\x00\x04\x00\x00\x00\x08\x00\x00\x00\x00\x00\x00\x00"), "places of 4 bytes"},
		{"TIFF too wide", field(t, [2]uint32{width, 1 << 31}), "2147483648 × 1 pixels"},
		{"TIFF that lies", field(t, [2]uint32{width, 200000}, [2]uint32{height, 200000}), "which 132 bytes cannot hold"},
		{"TIFF compression", field(t, [2]uint32{compression, 50000}), "compression 50000 (zstd)"},
		{"TIFF colours", field(t, [2]uint32{photometric, 5}), "colours of print"},
		{"TIFF bits", field(t, [2]uint32{bitsOf, 32}), "samples of 32 bits"},
		{"TIFF RGB of one sample", field(t, [2]uint32{photometric, 2}), "1 samples a pixel for 3 colours"},
		{"TIFF samples", field(t, [2]uint32{samplesOf, 100}), "100 samples a pixel"},
		{"TIFF rows", field(t, [2]uint32{rowsPer, 0}), "blocks of 9 × 0"},
		{"TIFF strip outside", field(t, [2]uint32{offset, 500}), "strip 0 (rows 0 to 0): bytes 500 to 509 are not in the file"},
		{"TIFF strip cut", field(t, [2]uint32{count, 5}), "row 0 of 1, strip 0 (rows 0 to 0): its data ends too early"},
		{"TIFF blocks missing", field(t, [2]uint32{height, 4}), "places of 1 blocks"},
	} {
		before := allocated()
		_, _, err := readBytes(tc.file)
		if grown := allocated() - before; grown > 8<<20 {
			t.Errorf("%s: %d MB were allocated", tc.name, grown>>20)
		}
		if err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %v, want something with %q", tc.name, err, tc.want)
		}
	}
}

// allocated returns how many bytes were ever allocated.
func allocated() uint64 {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.TotalAlloc
}

// TestOpen: errors name the file and the remedy.
func TestOpen(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.png")
	if err := os.WriteFile(path, pngFile(3, 2, 8, 0, 0, []byte{0, 1, 2, 3, 0, 4}), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), filepath.Join(dir, "none.png"), 0); err == nil || !strings.Contains(err.Error(), "none.png") {
		t.Error(err)
	}
	if _, err := Open(t.Context(), dir, 0); err == nil || !strings.Contains(err.Error(), "not a file") {
		t.Error(err)
	}
	if _, err := Open(t.Context(), path, 2); err == nil || !strings.Contains(err.Error(), "only TIFF files have more than one picture") {
		t.Error(err)
	}
	r, err := Open(t.Context(), path, 1)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if _, err := readAll(r); err == nil || !strings.HasPrefix(err.Error(), path+": row 1 of 2: the picture ends here") {
		t.Error(err)
	}
}

// TestOpenEnds: an interrupt is heard while a file is decoded and between its rows, and is told as such.
func TestOpenEnds(t *testing.T) {
	dir := t.TempDir()
	var j bytes.Buffer
	if err := jpeg.Encode(&j, image.NewGray(image.Rect(0, 0, 800, 800)), nil); err != nil {
		t.Fatal(err)
	}
	const side = 700 // of noise, so that a file is more than what is read at once
	rnd := rand.New(rand.NewPCG(51, 52))
	rows := make([]byte, 2*side*(side+1))
	for i := range rows {
		rows[i] = byte(rnd.Uint32())
	}
	plain := bytes.Clone(rows[:side*(side+1)])
	for y := range side {
		plain[y*(side+1)] = 0 // no filter
	}
	for name, file := range map[string][]byte{"a.jpg": j.Bytes(), "i.png": pngFile(side, side, 8, 0, 1, rows), "p.png": pngFile(side, side, 8, 0, 0, plain), "t.tif": fromHex(t, referenceTIFF)} {
		for reads := range 3 {
			ctx, cancel := context.WithCancel(t.Context())
			in := &ending{Reader: bytes.NewReader(file), after: reads, end: cancel}
			r, err := newReader(heard{ctx, in}, int64(len(file)), 0)
			cancel()
			if err == nil {
				_, err = readAll(&fileReader{rows: r})
			}
			if !errors.Is(err, context.Canceled) {
				t.Errorf("%s, interrupted after %d reads: %v", name, reads, err)
			}
		}
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, file, 0o666); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(ctx, path, 0); !errors.Is(err, context.Canceled) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// ending is a file that interrupts its reader after some reads.
type ending struct {
	*bytes.Reader
	after int
	end   func()
}

func (e *ending) ReadAt(b []byte, at int64) (int, error) {
	if e.after--; e.after < 0 {
		e.end()
	}
	return e.Reader.ReadAt(b, at)
}

// TestCutAnywhere: a file that is cut off at any byte is an error, but where what is missing was not needed.
func TestCutAnywhere(t *testing.T) {
	whole := pngFile(3, 2, 8, 0, 0, []byte{0, 1, 2, 3, 0, 4, 5, 6})
	for _, file := range [][]byte{whole, fromHex(t, referenceTIFF)} {
		want, _, err := readBytes(file)
		if err != nil {
			t.Fatal(err)
		}
		for n := range len(file) {
			if got, _, err := readBytes(file[:n]); err == nil && !bytes.Equal(got.Data, want.Data) {
				t.Errorf("cut at %d of %d: a wrong picture", n, len(file))
			} else if err == nil && n < len(file)-30 {
				t.Errorf("cut at %d of %d: no error", n, len(file))
			}
		}
	}
}

// fuzzRows reads a header and some rows of whatever it is.
func fuzzRows(t *testing.T, data []byte) {
	r, err := newReader(bytes.NewReader(data), int64(len(data)), 0)
	if err != nil {
		return
	}
	h := r.Header()
	if h.Width < 1 || h.Height < 1 || h.Width > MaxSide || h.Height > MaxSide || h.Channels != 1 && h.Channels != 3 || h.Depth != 8 && h.Depth != 16 || !h.Orientation.Valid() {
		t.Fatalf("%+v", h)
	}
	row := make([]byte, h.RowBytes())
	for y := range min(h.Height, 100) {
		if err := r.ReadRow(row); err != nil {
			if err.Error() == "EOF" {
				t.Fatalf("EOF at row %d of %d", y, h.Height)
			}
			return
		}
	}
}

func FuzzPNG(f *testing.F) {
	for colour, bits := range map[byte]byte{0: 1, 2: 8, 3: 4, 4: 16, 6: 8} {
		f.Add(pngFile(3, 2, bits, colour, 0, make([]byte, 60)))
		f.Add(pngFile(3, 2, bits, colour, 1, make([]byte, 60)))
	}
	f.Fuzz(func(t *testing.T, data []byte) { fuzzRows(t, data) })
}

func FuzzTIFF(f *testing.F) {
	f.Add(fromHex(f, referenceTIFF))
	for _, c := range []uint32{tiffLZW, tiffJPEG, tiffDeflate, tiffPackBits} {
		f.Add(field(f, [2]uint32{3, c}))
	}
	if paths, err := filepath.Glob("testdata/*.tif"); err == nil {
		for _, p := range paths {
			if b, err := os.ReadFile(p); err == nil {
				f.Add(b)
			}
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) { fuzzRows(t, data) })
}

func FuzzJPEG(f *testing.F) {
	for _, grey := range []bool{true, false} {
		var b bytes.Buffer
		var img image.Image = image.NewRGBA(image.Rect(0, 0, 9, 7))
		if grey {
			img = image.NewGray(image.Rect(0, 0, 9, 7))
		}
		if err := jpeg.Encode(&b, img, nil); err != nil {
			f.Fatal(err)
		}
		f.Add(b.Bytes())
	}
	f.Add(jpegOf(f, image.NewRGBA(image.Rect(0, 0, 8, 8)), 20, 9, true, 0x22, 0))
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 2 {
			data = append([]byte{0xff, 0xd8, 0xff}, data[3:]...)
		}
		fuzzRows(t, data)
	})
}

// TestRowsNeedNoPicture: memory for reading goes with the width: a picture of 60 MB takes a few.
func TestRowsNeedNoPicture(t *testing.T) {
	needs(t, "tiffcp")
	dir := t.TempDir()
	p := &Pixels{Width: 20000, Height: 3000, Channels: 1, Depth: 8, Data: make([]byte, 20000*3000)}
	source := filepath.Join(dir, "s.tif")
	p.write(t, source)
	p.Data = nil
	for _, args := range [][]string{{"-c", "zip", "-s", "-r", "3000"}, {"-c", "lzw", "-t", "-w", "256", "-l", "256"}} {
		path := filepath.Join(dir, "v.tif")
		tool(t, "tiffcp", append(args, source, path)...)
		r, err := Open(t.Context(), path, 0)
		if err != nil {
			t.Fatal(err)
		}
		row := make([]byte, r.Header().RowBytes())
		runtime.GC()
		var before, m runtime.MemStats
		runtime.ReadMemStats(&before)
		for y := range 3000 {
			if err := r.ReadRow(row); err != nil {
				t.Fatal(err)
			}
			if y%500 == 499 {
				runtime.GC()
				runtime.ReadMemStats(&m)
				if held := int64(m.HeapAlloc) - int64(before.HeapAlloc); held > 12<<20 {
					t.Fatalf("%v: row %d: %d MB are held", args, y, held>>20)
				}
			}
		}
		r.Close()
		os.Remove(path)
	}
}
