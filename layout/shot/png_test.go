package shot

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"testing"
)

func readBytes(b []byte) (*Pixels, *Header, error) {
	r, err := newReader(bytes.NewReader(b), int64(len(b)), 0)
	if err != nil {
		return nil, nil, err
	}
	p, err := readAll(&fileReader{rows: r})
	return p, r.Header(), err
}

// pngChunk makes a chunk with its sum.
func pngChunk(name string, data []byte) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	b = append(append(b, name...), data...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

// TestPNGAgainstImagePNG: what image/png writes of every kind of picture, and what it reads of it, in odd sizes.
func TestPNGAgainstImagePNG(t *testing.T) {
	rnd := rand.New(rand.NewPCG(31, 32))
	for _, size := range []image.Rectangle{image.Rect(0, 0, 1, 1), image.Rect(0, 0, 37, 23), image.Rect(0, 0, 64, 9)} {
		colours := func(n int) (p color.Palette) {
			for range n {
				p = append(p, color.RGBA{byte(rnd.Uint32()), byte(rnd.Uint32()), byte(rnd.Uint32()), 255})
			}
			return p
		}
		opaque := image.NewNRGBA(size)
		for name, img := range map[string]interface {
			image.Image
			Set(x, y int, c color.Color)
		}{
			"grey": image.NewGray(size), "grey 16": image.NewGray16(size), "colour": opaque, "colour 16": image.NewNRGBA64(size), "alpha": image.NewNRGBA(size),
			"2 colours": image.NewPaletted(size, colours(2)), "4 colours": image.NewPaletted(size, colours(4)), "16 colours": image.NewPaletted(size, colours(16)), "200 colours": image.NewPaletted(size, colours(200)),
		} {
			for y := range size.Dy() {
				for x := range size.Dx() {
					alpha := uint16(0xffff)
					if name == "alpha" {
						alpha = uint16(rnd.Uint32())
					}
					v := uint16(x*1500+y*700) + uint16(rnd.IntN(3000))
					img.Set(x, y, color.NRGBA64{v, v / 2, uint16(rnd.Uint32()), alpha})
				}
			}
			var b bytes.Buffer
			if err := png.Encode(&b, img); err != nil {
				t.Fatal(err)
			}
			decoded, err := png.Decode(bytes.NewReader(b.Bytes()))
			if err != nil {
				t.Fatal(err)
			}
			got, h, err := readBytes(b.Bytes())
			if err != nil {
				t.Fatalf("%s, %v: %v", name, size, err)
			}
			for y := range size.Dy() {
				want := make([]byte, h.RowBytes())
				imageRow(want, decoded, y, h.Channels, h.Depth)
				if !bytes.Equal(got.Data[y*h.RowBytes():(y+1)*h.RowBytes()], want) {
					t.Errorf("%s, %v: row %d differs", name, size, y)
				}
			}
			if deep := name == "grey 16" || name == "colour 16"; deep != (h.Depth == 16) {
				t.Errorf("%s: %d bits", name, h.Depth)
			}
			if (name == "alpha") != (len(h.Notes) > 0) {
				t.Errorf("%s: notes %q", name, h.Notes)
			}
		}
	}
}

// TestPNGFewBits: grey of 1, 2 and 4 bits, which image/png does not write, by hand: rows are packed from the high bits
// on, and the largest value is white (PNG specification, 13.12).
func TestPNGFewBits(t *testing.T) {
	for bits, tc := range map[byte]struct{ row, want []byte }{
		1: {[]byte{0b10110000}, []byte{255, 0, 255, 255, 0}},
		2: {[]byte{0b00011011, 0b01000000}, []byte{0, 85, 170, 255, 85}},
		4: {[]byte{0x0f, 0x81, 0x20}, []byte{0, 255, 136, 17, 34}},
	} {
		file := pngFile(5, 1, bits, 0, 0, append([]byte{0}, tc.row...))
		p, _, err := readBytes(file)
		if err != nil || !bytes.Equal(p.Data, tc.want) {
			t.Errorf("%d bits: %v, %v", bits, p, err)
		}
	}
}

// TestJPEG: against image/jpeg; grey stays grey.
func TestJPEG(t *testing.T) {
	for _, grey := range []bool{true, false} {
		src := image.NewRGBA(image.Rect(0, 0, 50, 31))
		var img image.Image = src
		for i := range src.Pix {
			src.Pix[i] = byte(i / 7)
		}
		if grey {
			img = &image.Gray{Pix: src.Pix, Stride: src.Stride, Rect: src.Rect}
		}
		var b bytes.Buffer
		if err := jpeg.Encode(&b, img, nil); err != nil {
			t.Fatal(err)
		}
		decoded, err := jpeg.Decode(bytes.NewReader(b.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		p, h, err := readBytes(b.Bytes())
		if err != nil || (h.Channels == 1) != grey {
			t.Fatalf("%+v, %v", h, err)
		}
		for y := range 31 {
			for x := range 50 {
				r, g, bl, _ := decoded.At(x, y).RGBA()
				for c, v := range []uint32{r, g, bl}[:h.Channels] {
					if p.sample(x, y, c) != int(v>>8) {
						t.Fatalf("(%d, %d): %d, want %d", x, y, p.sample(x, y, c), v>>8)
					}
				}
			}
		}
	}
}

// exif is an Exif block that states an orientation, by hand (Exif 2.32 and TIFF 6.0, from memory): byte order, 42, a
// directory at 8 with one field, tag 274 of type 3.
func exif(o Orientation) []byte {
	return []byte{'M', 'M', 0, 42, 0, 0, 0, 8, 0, 1, 1, 18, 0, 3, 0, 0, 0, 1, 0, byte(o), 0, 0, 0, 0, 0, 0}
}

// TestExifOrientation: all eight, in JPEG, PNG and TIFF files, and rubbish.
func TestExifOrientation(t *testing.T) {
	var j bytes.Buffer
	if err := jpeg.Encode(&j, image.NewGray(image.Rect(0, 0, 8, 8)), nil); err != nil {
		t.Fatal(err)
	}
	for o := TopLeft; o <= LeftBottom; o++ {
		block := append([]byte("Exif\x00\x00"), exif(o)...)
		app1 := append(append([]byte{0xff, 0xd8, 0xff, 0xe1}, binary.BigEndian.AppendUint16(nil, uint16(len(block)+2))...), block...)
		tiff := fromHex(t, referenceTIFF)
		tiff[18+2+3*12] = 18 // tag 259 becomes 274; without it the picture is plain
		tiff[18+2+3*12+8] = byte(o)
		plain := pngFile(1, 1, 8, 0, 0, []byte{0, 0})
		files := map[string][]byte{
			"JPEG": append(app1, j.Bytes()[2:]...),
			"PNG":  append(append(bytes.Clone(plain[:33]), pngChunk("eXIf", exif(o))...), plain[33:]...),
			"TIFF": tiff,
		}
		for name, file := range files {
			_, h, err := readBytes(file)
			if err != nil || h.Orientation != o {
				t.Errorf("%s: %+v, %v, want orientation %d", name, h, err, o)
			}
		}
		bad := append(bytes.Clone(app1[:20]), j.Bytes()...)
		if exifOrientation(bytes.NewReader(bad), int64(len(bad)), "JPEG") != TopLeft {
			t.Error("rubbish has an orientation")
		}
	}
}

// TestOrientation: the picture "F" as a camera held in eight ways stores it, each written out by hand after the figures
// of Exif 2.32 (from memory); Stored and StoredPoint find every pixel of the upright one.
func TestOrientation(t *testing.T) {
	upright := []string{"abc", "d..", "e.."}[:2] // abc over d..: no symmetry
	stored := map[Orientation][]string{
		TopLeft:     {"abc", "d.."},
		TopRight:    {"cba", "..d"},
		BottomRight: {"..d", "cba"},
		BottomLeft:  {"d..", "abc"},
		LeftTop:     {"ad", "b.", "c."},
		RightTop:    {"c.", "b.", "ad"},
		RightBottom: {".c", ".b", "da"},
		LeftBottom:  {"da", ".b", ".c"},
	}
	for o, rows := range stored {
		width, height := len(rows[0]), len(rows)
		w, h := o.Upright(width, height)
		if w != 3 || h != 2 {
			t.Errorf("orientation %d: upright %d × %d", o, w, h)
		}
		for y := range 2 {
			for x := range 3 {
				sx, sy := o.Stored(x, y, width, height)
				if rows[sy][sx] != upright[y][x] {
					t.Errorf("orientation %d, (%d, %d): %c, want %c", o, x, y, rows[sy][sx], upright[y][x])
				}
				px, py := o.StoredPoint(float64(x)+0.5, float64(y)+0.5, float64(width), float64(height))
				if int(px) != sx || int(py) != sy {
					t.Errorf("orientation %d, (%d, %d): point %g, %g, pixel %d, %d", o, x, y, px, py, sx, sy)
				}
			}
		}
	}
}
