package shot

import (
	"bytes"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// imagemagick returns a function that runs convert with a file it names, and gives back what was written.
func imagemagick(t *testing.T) func(ext string, args ...string) []byte {
	t.Helper()
	program, err := exec.LookPath("convert")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("convert (Debian's imagemagick) is not there, and CI is to check it")
		}
		t.Skip("convert (Debian's imagemagick) is not there: files of another writer are NOT checked by this run")
	}
	dir := t.TempDir()
	return func(ext string, args ...string) []byte {
		t.Helper()
		out := filepath.Join(dir, "x."+ext)
		if text, err := exec.Command(program, append(args, out)...).CombinedOutput(); err != nil {
			t.Fatalf("convert %s: %v\n%s", strings.Join(args, " "), err, text)
		}
		b, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
}

// pattern is a picture for convert to make: colour that runs both ways, and noise.
var pattern = []string{"-size", "53x37", "-seed", "7", "plasma:red-blue", "-attenuate", "0.3", "+noise", "Gaussian", "-strip"}

// TestInterlacedPNG: files that ImageMagick wrote with Adam7, of every colour type and depth, against image/png, and
// against the same picture written without.
func TestInterlacedPNG(t *testing.T) {
	convert := imagemagick(t)
	for name, kind := range map[string][]string{
		"grey":      {"-colorspace", "Gray", "-depth", "8", "-define", "png:color-type=0"},
		"grey 16":   {"-colorspace", "Gray", "-depth", "16", "-define", "png:color-type=0", "-define", "png:bit-depth=16"},
		"1 bit":     {"-colorspace", "Gray", "-threshold", "50%", "-define", "png:color-type=0", "-define", "png:bit-depth=1"},
		"colour":    {"-depth", "8", "-define", "png:color-type=2"},
		"colour 16": {"-depth", "16", "-define", "png:color-type=2", "-define", "png:bit-depth=16"},
		"palette":   {"-colors", "40", "-define", "png:color-type=3"},
		"alpha":     {"-depth", "8", "-alpha", "set", "-channel", "A", "-evaluate", "set", "60%", "+channel", "-define", "png:color-type=6"},
	} {
		plain := convert("png", append(append([]string{}, pattern...), kind...)...)
		laced := convert("png", append(append(append([]string{}, pattern...), kind...), "-interlace", "PNG")...)
		if plain[28] != 0 || laced[28] != 1 { // the last byte of IHDR
			t.Fatalf("%s: interlace %d and %d", name, plain[28], laced[28])
		}
		want, wantHeader, err := readBytes(plain)
		if err != nil {
			t.Fatal(name, err)
		}
		got, h, err := readBytes(laced)
		if err != nil || h.Channels != wantHeader.Channels || h.Depth != wantHeader.Depth || !bytes.Equal(got.Data, want.Data) {
			t.Errorf("%s: interlaced it is another picture: %+v, %+v, %v", name, h, wantHeader, err)
		}
		decoded, err := png.Decode(bytes.NewReader(laced))
		if err != nil {
			t.Fatal(name, err)
		}
		row := make([]byte, h.RowBytes())
		for y := range h.Height {
			imageRow(row, decoded, y, h.Channels, h.Depth)
			if !bytes.Equal(got.Data[y*h.RowBytes():][:h.RowBytes()], row) {
				t.Fatalf("%s: row %d is not what image/png reads", name, y)
			}
		}
	}
}

// TestJPEGVariants: JPEG files of every kind that ImageMagick writes, against its own decoder. The standard lets two
// decoders differ by one in each sample before colours are mixed (ITU-T T.83, from memory), so by about three after.
func TestJPEGVariants(t *testing.T) {
	convert := imagemagick(t)
	for name, kind := range map[string][]string{
		"baseline":         {},
		"progressive":      {"-interlace", "JPEG"},
		"4:4:4":            {"-sampling-factor", "4:4:4"},
		"4:1:1":            {"-sampling-factor", "4:1:1"},
		"4:4:0":            {"-sampling-factor", "4:4:0"},
		"grey":             {"-colorspace", "Gray"},
		"progressive grey": {"-colorspace", "Gray", "-interlace", "JPEG"},
		"CMYK":             {"-colorspace", "CMYK", "-quality", "98"},
		"RGB":              {"-colorspace", "RGB", "-set", "colorspace", "sRGB"},
	} {
		file := convert("jpg", append(append([]string{}, pattern...), kind...)...)
		path := filepath.Join(t.TempDir(), "a.jpg")
		if err := os.WriteFile(path, file, 0o666); err != nil {
			t.Fatal(err)
		}
		got, h, err := readBytes(file)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		// Chroma without the smoothing that is the decoder's own choice.
		want, _, err := readBytes(convert("png", "-define", "jpeg:fancy-upsampling=off", path, "-colorspace", "sRGB", "-depth", "8", "-define", "png:color-type="+map[int]string{1: "0", 3: "2"}[h.Channels]))
		if err != nil {
			t.Fatal(name, err)
		}
		worst := 0
		for i := range want.Data {
			worst = max(worst, abs(int(want.Data[i])-int(got.Data[i])))
		}
		if t.Logf("%s: %d at most", name, worst); worst > 3 {
			t.Errorf("%s: samples differ by up to %d", name, worst)
		}
	}
}
