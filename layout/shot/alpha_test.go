package shot

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// clearOf reads a file and gives back what is transparent in it, row after row.
func clearOf(t *testing.T, name string, b []byte) (clear []bool, h *Header) {
	t.Helper()
	r, err := newReader(bytes.NewReader(b), int64(len(b)), 0)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	h = r.Header()
	row := make([]byte, h.RowBytes())
	for range h.Height {
		if err := r.ReadRow(row); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		clear = append(clear, r.Clear()...)
	}
	return clear, h
}

// clearIn is the same by image/png: alpha below half of 65535.
func clearIn(t *testing.T, b []byte) (clear []bool) {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	for y := range img.Bounds().Dy() {
		for x := range img.Bounds().Dx() {
			_, _, _, a := img.At(x, y).RGBA()
			clear = append(clear, a < 0x8000)
		}
	}
	return clear
}

func encoded(t *testing.T, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestClear: below half is 127 of 255 and 32767 of 65535, in pixels that have an alpha and in a palette of colours with
// one; what a file says nothing of is opaque.
func TestClear(t *testing.T) {
	box := image.Rect(0, 0, 4, 2)
	eight, sixteen := image.NewNRGBA(box), image.NewNRGBA64(box)
	palette := image.NewPaletted(box, color.Palette{color.NRGBA{1, 2, 3, 127}, color.NRGBA{4, 5, 6, 128}, color.NRGBA{7, 8, 9, 255}, color.NRGBA{9, 9, 9, 0}})
	for i, a := range []uint16{0, 0x7fff, 0x8000, 0xffff, 0x8000, 0x7fff, 0x00ff, 0x80ff} {
		sixteen.SetNRGBA64(i%4, i/4, color.NRGBA64{9, 9, 9, a})
		eight.SetNRGBA(i%4, i/4, color.NRGBA{9, 9, 9, byte(a >> 8)})
		palette.Pix[i] = []byte{3, 0, 1, 2, 1, 0, 3, 1}[i]
	}
	want := []bool{true, true, false, false, false, true, true, false}
	for name, img := range map[string]image.Image{"8 bits": eight, "16 bits": sixteen, "palette": palette} {
		got, h := clearOf(t, name, encoded(t, img))
		if !slices.Equal(got, want) || fmt.Sprint(h.Notes) != "["+AlphaLeftOut+"]" {
			t.Errorf("%s: %v, want %v; notes %q", name, got, want, h.Notes)
		}
	}
	if got, _ := clearOf(t, "grey", encoded(t, image.NewGray(box))); got != nil {
		t.Errorf("a picture without alpha: %v", got)
	}
}

// withChunk puts a chunk before the picture's data.
func withChunk(t *testing.T, file []byte, name string, data []byte) []byte {
	t.Helper()
	i := bytes.Index(file, []byte("IDAT")) - 4
	if i < 0 {
		t.Fatal("no picture data")
	}
	return slices.Concat(file[:i], pngChunk(name, data), file[i:])
}

// TestClearColour: one grey, or one colour, that is transparent, in all depths, against image/png. The same files without
// that have nothing transparent.
func TestClearColour(t *testing.T) {
	for _, tc := range []struct {
		name        string
		bits        byte
		kind        byte
		row         []byte // of eight pixels, twice
		transparent []byte
		clear       int
	}{
		{"1 bit", 1, pngGrey, []byte{0b10010000}, []byte{0, 1}, 4},
		{"2 bits", 2, pngGrey, []byte{0b00011011, 0b01010101}, []byte{0, 1}, 10},
		{"4 bits", 4, pngGrey, []byte{0x12, 0x34, 0x52, 0x67}, []byte{0, 2}, 4},
		{"8 bits", 8, pngGrey, []byte{1, 2, 3, 1, 5, 6, 7, 0}, []byte{0, 1}, 4},
		{"16 bits", 16, pngGrey, []byte{1, 2, 1, 3, 2, 1, 1, 2, 0, 0, 0, 0, 0, 0, 0, 0}, []byte{1, 2}, 4},
		{"colour", 8, pngRGB, []byte{1, 2, 3, 1, 2, 4, 1, 2, 3, 0, 2, 3, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0}, []byte{0, 1, 0, 2, 0, 3}, 4},
		{"colour 16", 16, pngRGB, slices.Concat([]byte{1, 2, 3, 4, 5, 6, 1, 2, 3, 4, 5, 7}, make([]byte, 36)), []byte{1, 2, 3, 4, 5, 6}, 2},
	} {
		rows := slices.Concat([]byte{0}, tc.row, []byte{0}, tc.row)
		opaque := pngFile(8, 2, tc.bits, tc.kind, 0, rows)
		file := withChunk(t, opaque, "tRNS", tc.transparent)
		got, h := clearOf(t, tc.name, file)
		n := 0
		for _, c := range got {
			if c {
				n++
			}
		}
		if want := clearIn(t, file); !slices.Equal(got, want) || n != tc.clear || len(h.Notes) != 1 {
			t.Errorf("%s: %v, image/png says %v; notes %q", tc.name, got, want, h.Notes)
		}
		if got, _ := clearOf(t, tc.name, opaque); got != nil {
			t.Errorf("%s: without tRNS %v", tc.name, got)
		}
		if _, _, err := readBytes(withChunk(t, opaque, "tRNS", []byte{1})); err == nil || !strings.HasSuffix(err.Error(), "a chunk tRNS of 1 bytes: save it again as a plain PNG") {
			t.Errorf("%s: a wrong size: %v", tc.name, err)
		}
	}
}

// TestClearInterlaced: the same pixels are transparent where the file is interlaced.
func TestClearInterlaced(t *testing.T) {
	convert := imagemagick(t)
	args := slices.Concat(pattern, []string{"-alpha", "set", "-channel", "A", "-fx", "u.r", "+channel", "-depth", "8", "-define", "png:color-type=6"})
	plain := convert("png", args...)
	laced := convert("png", append(args, "-interlace", "PNG")...)
	if plain[28] != 0 || laced[28] != 1 {
		t.Fatal("not interlaced as they should be")
	}
	want := clearIn(t, plain)
	if !slices.Contains(want, true) || !slices.Contains(want, false) {
		t.Fatal("the picture shows nothing")
	}
	for name, file := range map[string][]byte{"plain": plain, "interlaced": laced} {
		if got, _ := clearOf(t, name, file); !slices.Equal(got, want) {
			t.Errorf("%s: other pixels are transparent", name)
		}
	}
}

// TestClearTIFF: the fourth sample is alpha where the file says so, in strips and tiles, together and in planes.
func TestClearTIFF(t *testing.T) {
	needs(t, "tiffcp")
	dir := t.TempDir()
	for _, depth := range []int{8, 16} {
		picture := smooth(150, 70, 4, depth)
		source := filepath.Join(dir, "alpha.tif")
		picture.write(t, source)
		var want []bool
		for i := range 150 * 70 {
			want = append(want, picture.Data[(4*i+3)*depth/8] < 0x80)
		}
		for kind := range 3 {
			tool(t, "tiffset", "-s", "338", "1", fmt.Sprint(kind), source)
			for _, args := range [][]string{{"-s", "-r", "16", "-L"}, {"-s", "-r", "16", "-B"}, {"-t", "-w", "64", "-l", "48", "-L"}, {"-t", "-w", "64", "-l", "48", "-B"},
				{"-s", "-r", "16", "-p", "separate"}, {"-t", "-w", "64", "-l", "48", "-p", "separate"}} {
				if args[len(args)-1] == "separate" && depth == 16 {
					continue // which tiffcp does not do
				}
				path := filepath.Join(dir, "variant.tif")
				tool(t, "tiffcp", append(slices.Concat([]string{"-c", "lzw"}, args), source, path)...)
				b, err := os.ReadFile(path)
				if err != nil {
					t.Fatal(err)
				}
				got, h := clearOf(t, path, b)
				switch note := fmt.Sprint(h.Notes); {
				case kind == 0 && (got != nil || note != "[what a pixel has beside its colour is left out]"):
					t.Errorf("%d bits, %v: what is no alpha: notes %s", depth, args, note)
				case kind > 0 && (!slices.Equal(got, want) || note != "["+AlphaLeftOut+"]"):
					t.Errorf("%d bits, %v: other pixels are transparent; notes %s", depth, args, note)
				}
			}
		}
	}
}

// TestStraightTIFF: colours that are multiplied by alpha come as they were, to the rounding of the product, once that is asked
// for; those that are not multiplied stay. The products are made here, the variants by the TIFF tools.
func TestStraightTIFF(t *testing.T) {
	needs(t, "tiffcp")
	dir := t.TempDir()
	for _, depth := range []int{8, 16} {
		n, most := depth/8, 1<<depth-1
		picture := smooth(150, 70, 4, depth)
		sample := func(b []byte, i int) int {
			if n == 1 {
				return int(b[i])
			}
			return int(binary.BigEndian.Uint16(b[2*i:]))
		}
		stored := *picture
		stored.Data = slices.Clone(picture.Data)
		for i := range 150 * 70 {
			a := sample(picture.Data, 4*i+3)
			for c := 4 * i; c < 4*i+3; c++ {
				v := (2*sample(picture.Data, c)*a + most) / (2 * most)
				if n == 1 {
					stored.Data[c] = byte(v)
				} else {
					binary.BigEndian.PutUint16(stored.Data[2*c:], uint16(v))
				}
			}
		}
		source := filepath.Join(dir, "alpha.tif")
		stored.write(t, source)
		for kind := 1; kind <= 2; kind++ {
			tool(t, "tiffset", "-s", "338", "1", fmt.Sprint(kind), source)
			for _, args := range [][]string{{"-s", "-L"}, {"-s", "-B"}, {"-t", "-w", "64", "-l", "48", "-L"}, {"-s", "-p", "separate"}, {"-t", "-w", "64", "-l", "48", "-p", "separate"}} {
				if args[len(args)-1] == "separate" && depth == 16 {
					continue // which tiffcp does not do
				}
				path := filepath.Join(dir, "variant.tif")
				tool(t, "tiffcp", append(slices.Concat([]string{"-c", "lzw"}, args), source, path)...)
				r, err := Open(context.Background(), path, 0)
				if err != nil {
					t.Fatal(err)
				}
				r.Straight()
				row := make([]byte, r.Header().RowBytes())
				for y := range 70 {
					if err := r.ReadRow(row); err != nil {
						t.Fatal(err)
					}
					for x := range 150 {
						i := y*150 + x
						a := sample(picture.Data, 4*i+3)
						for c := range 3 {
							got, was, has := sample(row, 3*x+c), sample(picture.Data, 4*i+c), sample(stored.Data, 4*i+c)
							if kind == 2 && got != has || kind == 1 && a > 0 && 2*max(got-was, was-got)*a > most+a {
								t.Fatalf("%d bits, %v, kind %d, (%d, %d): %d, was %d, stored %d, alpha %d", depth, args, kind, x, y, got, was, has, a)
							}
						}
					}
				}
				if err := r.Close(); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
}

// TestClearTIFFGrey: grey and alpha in planes, byte by byte.
func TestClearTIFFGrey(t *testing.T) {
	entry := func(tag, kind, count, value uint32) []byte {
		b := binary.LittleEndian.AppendUint16(nil, uint16(tag))
		b = binary.LittleEndian.AppendUint16(b, uint16(kind))
		return binary.LittleEndian.AppendUint32(binary.LittleEndian.AppendUint32(b, count), value)
	}
	pixels := []byte{7, 8, 9, 6, 127, 128, 0, 255}
	const dir = 16
	entries := [][]byte{entry(tagWidth, 3, 1, 4), entry(tagHeight, 3, 1, 1), entry(tagBits, 3, 2, 8|8<<16), entry(tagCompression, 3, 1, 1), entry(tagPhotometric, 3, 1, 1),
		entry(tagStripOffsets, 3, 2, 8|12<<16), entry(tagSamples, 3, 1, 2), entry(tagRowsPerStrip, 3, 1, 1), entry(tagStripByteCounts, 3, 2, 4|4<<16), entry(tagPlanar, 3, 1, 2), entry(tagExtraSamples, 3, 1, 2)}
	file := slices.Concat([]byte("II*\x00"), binary.LittleEndian.AppendUint32(nil, dir), pixels, binary.LittleEndian.AppendUint16(nil, uint16(len(entries))))
	file = slices.Concat(file, slices.Concat(entries...), make([]byte, 4))
	p, _, err := readBytes(file)
	if err != nil || !bytes.Equal(p.Data, pixels[:4]) {
		t.Errorf("%v, %v", p, err)
	}
	if got, _ := clearOf(t, "grey", file); !slices.Equal(got, []bool{true, false, true, false}) {
		t.Error(got)
	}
}
