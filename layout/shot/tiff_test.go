package shot

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// needs skips the test, or fails it in continuous integration, where a tool is missing.
func needs(t *testing.T, tool string) {
	t.Helper()
	if _, err := exec.LookPath(tool); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is not installed; it comes with the Debian package libtiff-tools", tool)
		}
		t.Skipf("%s is not installed (Debian package libtiff-tools): TIFF is NOT checked against libtiff", tool)
	}
}

func tool(t *testing.T, name string, args ...string) {
	t.Helper()
	if out, err := exec.Command(name, args...).CombinedOutput(); err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
}

// readAll reads a picture to its end and checks that it ends there.
func readAll(r Reader) (*Pixels, error) {
	h := r.Header()
	p := &Pixels{Width: h.Width, Height: h.Height, Channels: h.Channels, Depth: h.Depth}
	row := make([]byte, h.RowBytes())
	for range h.Height {
		if err := r.ReadRow(row); err != nil {
			return nil, err
		}
		p.Data = append(p.Data, row...)
	}
	if err := r.ReadRow(row); err != io.EOF {
		return nil, fmt.Errorf("after the last row: %v, want io.EOF", err)
	}
	return p, nil
}

func openAll(t *testing.T, path string) (*Pixels, *Header) {
	t.Helper()
	r, err := Open(t.Context(), path, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	p, err := readAll(r)
	if err != nil {
		t.Fatal(err)
	}
	return p, r.Header()
}

// smooth is a picture with structure, so that every compression has something to do.
func smooth(width, height, channels, depth int) *Pixels {
	p := &Pixels{Width: width, Height: height, Channels: channels, Depth: depth}
	rnd := rand.New(rand.NewPCG(21, 22))
	for y := range height {
		for x := range width {
			for c := range channels {
				v := 0.5 + 0.3*math.Sin(float64(x)/(7+float64(c)))*math.Cos(float64(y)/11) + 0.02*rnd.NormFloat64()
				if x/30%3 == 0 && y/20%2 == 0 {
					v = float64(c) / 3 // flat
				}
				s := int(max(0, min(1, v)) * float64(int(1)<<depth-1))
				if depth == 16 {
					p.Data = append(p.Data, byte(s>>8))
				}
				p.Data = append(p.Data, byte(s))
			}
		}
	}
	return p
}

// write writes a picture as plain TIFF through libtiff's raw2tiff.
func (p *Pixels) write(t *testing.T, path string) {
	t.Helper()
	raw := path + ".raw"
	data := bytes.Clone(p.Data)
	kind := "byte"
	if p.Depth == 16 {
		kind = "short"
		for i := 0; i < len(data); i += 2 { // raw2tiff takes this machine's order
			v := binary.BigEndian.Uint16(data[i:])
			binary.NativeEndian.PutUint16(data[i:], v)
		}
	}
	if err := os.WriteFile(raw, data, 0o666); err != nil {
		t.Fatal(err)
	}
	tool(t, "raw2tiff", "-w", fmt.Sprint(p.Width), "-l", fmt.Sprint(p.Height), "-b", fmt.Sprint(p.Channels), "-d", kind, "-p", map[int]string{1: "minisblack", 3: "rgb", 4: "rgb"}[p.Channels], "-c", "none", raw, path)
}

// TestTIFFAgainstLibtiff: every variant that libtiff writes is read to the bit (a fourth of them in the usual run); the
// picture is the test's own.
func TestTIFFAgainstLibtiff(t *testing.T) {
	needs(t, "tiffcp")
	dir := t.TempDir()
	var layouts = map[string][]string{
		"strips": {"-s", "-r", "16"}, "one strip": {"-s", "-r", "10000"}, "rows": {"-s", "-r", "1"}, "tiles": {"-t", "-w", "64", "-l", "48"}, "large tiles": {"-t", "-w", "512", "-l", "512"},
	}
	compressions := []string{"none", "lzw", "lzw:2", "zip", "zip:2", "packbits"}
	for _, kind := range [][2]int{{1, 8}, {3, 8}, {1, 16}, {3, 16}, {4, 8}} {
		picture := smooth(301, 203, kind[0], kind[1])
		source := filepath.Join(dir, fmt.Sprintf("%d-%d.tif", kind[0], kind[1]))
		picture.write(t, source)
		want := picture
		if kind[0] == 4 {
			want = &Pixels{Width: 301, Height: 203, Channels: 3, Depth: 8, Data: make([]byte, 301*203*3)}
			for i := range 301 * 203 {
				copy(want.Data[3*i:3*i+3], picture.Data[4*i:])
			}
		}
		n := 0
		for layout, l := range layouts {
			for _, c := range compressions {
				for _, order := range [][]string{{"-L"}, {"-B"}, {"-B", "-8"}, {"-L", "-8"}} {
					for _, plane := range [][]string{{"-p", "contig"}, {"-p", "separate"}} {
						if plane[1] == "separate" && (kind[0] == 1 || kind[1] != 8) {
							continue // which tiffcp does not do
						}
						if n++; n%4 != 0 && os.Getenv("UNDERMETAL_FULL") == "" {
							continue
						}
						path := filepath.Join(dir, "variant.tif")
						args := append(append(append([]string{"-c", c}, l...), order...), plane...)
						tool(t, "tiffcp", append(args, source, path)...)
						got, h := openAll(t, path)
						if got.Width != want.Width || got.Height != want.Height || got.Channels != want.Channels || got.Depth != want.Depth || !bytes.Equal(got.Data, want.Data) {
							t.Errorf("%v, %s: %v: another picture (%d × %d, %d of %d bits)", kind, layout, args, got.Width, got.Height, got.Channels, got.Depth)
						}
						if (kind[0] == 4) != (len(h.Notes) > 0) {
							t.Errorf("%v: notes %q", kind, h.Notes)
						}
					}
				}
			}
		}
		if n != 120 && n != 240 {
			t.Errorf("%d variants", n)
		}
	}
}

// TestTIFFJPEG: blocks in JPEG compression, against what libtiff itself decodes. Decoders may differ by a rounding, and
// in how they spread colours that are kept for every second pixel only: so the colours of this picture change slowly.
func TestTIFFJPEG(t *testing.T) {
	needs(t, "tiffcp")
	dir := t.TempDir()
	for _, channels := range []int{1, 3} {
		picture := smooth(301, 203, 1, 8)
		if channels == 3 {
			grey := picture.Data
			picture = &Pixels{Width: 301, Height: 203, Channels: 3, Depth: 8}
			for i, v := range grey {
				picture.Data = append(picture.Data, v/2+byte(i%301/4), v/2+60, v/2+byte(i/301/4))
			}
		}
		source, packed, plain := filepath.Join(dir, "s.tif"), filepath.Join(dir, "j.tif"), filepath.Join(dir, "p.tif")
		picture.write(t, source)
		for name, args := range map[string][]string{
			"strips": {"-c", "jpeg:90", "-s", "-r", "16"}, "tiles": {"-c", "jpeg:90", "-t", "-w", "64", "-l", "64"}, "tiles, raw colours": {"-c", "jpeg:90:r", "-t", "-w", "64", "-l", "64"},
			"planes": {"-c", "jpeg:90:r", "-t", "-w", "64", "-l", "64", "-p", "separate"},
		} {
			tool(t, "tiffcp", append(args, source, packed)...)
			tool(t, "tiff2rgba", "-c", "none", packed, plain)
			want, _ := openAll(t, plain)
			got, _ := openAll(t, packed)
			worst, sum := 0, 0
			for y := range want.Height {
				for x := range want.Width {
					for c := range got.Channels {
						d := abs(got.sample(x, y, c) - want.sample(x, y, c))
						worst, sum = max(worst, d), sum+d
					}
				}
			}
			if mean := float64(sum) / float64(len(got.Data)); worst > 10 || mean > 0.5 {
				t.Errorf("%d channels, %s: samples differ by up to %d, %.2f in the mean", channels, name, worst, mean)
			}
		}
	}
}

// referenceTIFF is the 9 × 1 grey picture of TIFF 6.0 fields, decoded by libtiff in both byte orders: pixels, strip at
// 8, directory at 18.
const referenceTIFF = "49492A0012000000" + "070707080807070606" + "00" + "0900" +
	"000103000100000009000000" + "010103000100000001000000" + "020103000100000008000000" + "030103000100000001000000" + "060103000100000001000000" +
	"110104000100000008000000" + "150103000100000001000000" + "160103000100000001000000" + "170104000100000009000000" + "00000000"

func fromHex(t testing.TB, s string) []byte {
	var b []byte
	if _, err := fmt.Sscanf(s, "%x", &b); err != nil {
		t.Fatal(err)
	}
	return b
}

// TestTIFFBytes: files written out byte by byte, with the codes of the LZW example that libtiff
// confirms.
func TestTIFFBytes(t *testing.T) {
	plain := fromHex(t, referenceTIFF)
	want := []byte{7, 7, 7, 8, 8, 7, 7, 6, 6}
	lzw := append(bytes.Clone(plain), fromHex(t, "8001E0408044080C068080")...)
	lzw[18+2+3*12+8] = 5
	lzw[18+2+5*12+8] = byte(len(plain))
	lzw[18+2+8*12+8] = 11
	packed := bytes.Clone(plain)
	copy(packed[8:], []byte{0xFE, 7, 0xFF, 8, 0xFF, 7, 0xFF, 6})
	binary.LittleEndian.PutUint16(packed[18+2+3*12+8:], 32773)
	packed[18+2+8*12+8] = 8
	white := bytes.Clone(plain)
	white[18+2+4*12+8] = 0
	for name, file := range map[string][]byte{"plain": plain, "PackBits": packed, "LZW": lzw} {
		r, err := newReader(bytes.NewReader(file), int64(len(file)), 0)
		if err != nil {
			t.Fatal(name, err)
		}
		row := make([]byte, 9)
		if err := r.ReadRow(row); err != nil || !bytes.Equal(row, want) {
			t.Errorf("%s: %v, %v", name, row, err)
		}
	}
	r, err := newReader(bytes.NewReader(white), int64(len(white)), 0)
	if err != nil {
		t.Fatal(err)
	}
	row := make([]byte, 9)
	if err := r.ReadRow(row); err != nil || row[0] != 255-7 || row[8] != 255-6 {
		t.Errorf("white is zero: %v, %v", row, err)
	}
}

// TestPackBits: the example of Apple's Technical Note TN1023 (from memory), and the byte that means nothing.
func TestPackBits(t *testing.T) {
	in := fromHex(t, "FEAA0280002AFDAA0380002A22F7AA")
	want := fromHex(t, "AAAAAA80002AAAAAAAAA80002A22AAAAAAAAAAAAAAAAAAAA")
	got, err := io.ReadAll(&packBits{in: bufio.NewReader(bytes.NewReader(in))})
	if err != nil || !bytes.Equal(got, want) {
		t.Errorf("%X, %v", got, err)
	}
	if got, err := io.ReadAll(&packBits{in: bufio.NewReader(bytes.NewReader([]byte{0x80, 0, 5, 0x80}))}); err != nil || !bytes.Equal(got, []byte{5}) {
		t.Errorf("%X, %v", got, err)
	}
}

// TestTIFFPalette: four colours of two bits, by hand: samples of 16 bits as TIFF 6.0 has them, and of 8 bits as some
// writers leave them, which libtiff's tools take as such where none is above 255 (from memory).
func TestTIFFPalette(t *testing.T) {
	for name, colours := range map[string][12]uint16{
		"16 bits": {0, 0xff00, 0x1234, 0x80ff, 0, 0, 0xffff, 0x0100, 0, 0, 0, 0x4000},
		"8 bits":  {0, 0xff, 0x12, 0x80, 0, 0, 0xff, 0x01, 0, 0, 0, 0x40},
	} {
		file := fromHex(t, referenceTIFF)
		file[8] = 0b00011011 // colours 0, 1, 2, 3
		for i, change := range [][3]uint16{{0, tagWidth, 4}, {2, tagBits, 2}, {4, tagPhotometric, tiffPalette}, {6, tagColorMap, uint16(len(file))}} {
			at := 18 + 2 + int(change[0])*12
			binary.LittleEndian.PutUint16(file[at:], change[1])
			binary.LittleEndian.PutUint16(file[at+8:], change[2])
			if i == 3 {
				binary.LittleEndian.PutUint32(file[at+4:], uint32(len(colours)))
			}
		}
		for _, v := range colours {
			file = binary.LittleEndian.AppendUint16(file, v)
		}
		p, h, err := readBytes(file)
		if want := []byte{0, 0, 0, 255, 0, 0, 0x12, 255, 0, 0x80, 1, 0x40}; err != nil || h.Channels != 3 || !bytes.Equal(p.Data, want) {
			t.Errorf("%s: %+v, %v, want %v", name, p, err, want)
		}
	}
}
