package svg

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
	"testing"
)

// packed compresses a text.
func packed(t testing.TB, text string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	_, err := io.WriteString(z, text)
	if err := errors.Join(err, z.Close()); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestPacked: a compressed drawing is read as it is without, and is known by what it holds; one that is cut off or damaged is an
// error.
func TestPacked(t *testing.T) {
	text := "<svg>\n" + strings.Repeat(`<!-- long -->`, 1000) + `<rect id="m" width="3" height="2"/></svg>`
	file := packed(t, text)
	d, err := Parse("test.svgz", bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	o := um
	o.Layers = []string{"m"}
	lib, _, err := d.Library(o)
	if err != nil || lib.Cells[0].Name != "test" || fmt.Sprint(lib.Cells[0].Shapes) != "[{0 [[{0 0} {3000 0} {3000 -2000} {0 -2000}]]}]" {
		t.Errorf("%+v, %v", lib, err)
	}
	for _, head := range [][]byte{file, file[:60], packed(t, " \n<svg/>")} {
		if !Known(head) {
			t.Errorf("not known: %q", head)
		}
	}
	for _, head := range [][]byte{packed(t, "nothing"), packed(t, ""), file[:5], gzipMagic} {
		if Known(head) {
			t.Errorf("known: %q", head)
		}
	}
	sum, inside := bytes.Clone(file), bytes.Clone(file)
	sum[len(sum)-8]++
	inside[12] ^= 0xff
	for _, tc := range []struct {
		name string
		file []byte
		want string
	}{
		{"cut off", file[:len(file)-20], "the file is cut off\n    get a complete copy of the file, or save it anew"},
		{"without its end", file[:len(file)-8], "the file is cut off\n    get a complete copy of the file, or save it anew"},
		{"sum", sum, "the file is damaged: gzip: invalid checksum\n    get a complete copy of the file, or save it anew"},
		{"inside", inside, "the file is damaged: flate: corrupt input before offset"},
		{"method", []byte("\x1f\x8b\x07\x00\x00\x00\x00\x00\x00\x00"), "the file is damaged: gzip: invalid header\n    get a complete copy of the file, or save it anew"},
		{"empty", packed(t, ""), "test.svg: the file is empty\n    get a complete copy of the file, or save it anew"},
		{"no drawing", packed(t, "<html/>"), "test.svg:1:1: html: this is no SVG drawing, whose outermost element is svg\n    take an SVG drawing"},
		{"packed twice", packed(t, string(file)), "test.svg: the file is compressed twice\n    unpack it once"},
	} {
		_, err := Parse("test.svg", bytes.NewReader(tc.file))
		if e := (*Error)(nil); !errors.As(err, &e) || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %v\nwant %s", tc.name, err, tc.want)
		}
	}
}

// TestPackedBounded: more than the bound is an error before it is all unpacked; as much as that is not.
func TestPackedBounded(t *testing.T) {
	for size, ok := range map[int64]bool{9: true, 10: true, 11: false, 5000: false} {
		got, err := io.ReadAll(&bounded{in: strings.NewReader(strings.Repeat("x", int(size))), left: 10})
		if (err == nil) != ok || ok && int64(len(got)) != size || !ok && err != errUnpacked {
			t.Errorf("%d bytes: %d, %v", size, len(got), err)
		}
	}
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	io.WriteString(z, "<svg>")
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 1 << 15 { // more than 1 MB
		fmt.Fprintf(z, "<!-- a word: %016x -->", rnd.Uint64())
	}
	io.WriteString(z, "</svg>")
	z.Close()
	if _, err := parse("test.svgz", bytes.NewReader(b.Bytes()), bounds{2 << 20, 10}); err != nil {
		t.Error(err)
	}
	_, err := parse("test.svgz", bytes.NewReader(b.Bytes()), bounds{1 << 20, 10})
	if err == nil || !strings.HasSuffix(err.Error(), "the file is compressed, and more than the 1 MB that are read\n    take parts out of the drawing, such as pictures that lie in the file itself") {
		t.Error(err)
	}
}

// TestPackedSmall: a small file does not become elements and points without end; uncompressed they are read.
func TestPackedSmall(t *testing.T) {
	var noise strings.Builder // keeps the whole above what no drawing shrinks to
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 100 {
		fmt.Fprintf(&noise, "<!-- %016x -->", rnd.Uint64())
	}
	const shrunk = "the file is compressed to less than a 200th, as no drawing is\n    unpack it, if it is one after all"
	const many = "the file is compressed, and holds more than the 1000 elements and points that are read of such a file\n    unpack the file"
	for _, tc := range []struct{ name, body, want string }{
		{"blanks", strings.Repeat(" ", 8<<20), shrunk},
		{"elements", noise.String() + strings.Repeat("<g/>", 1000), many},
		{"points", noise.String() + "<path d='M0 0" + strings.Repeat("h1", 1000) + "'/>", many},
		{"as many as may be", noise.String() + "<path d='M0 0" + strings.Repeat("h1", 997) + "'/>", ""},
	} {
		_, err := parse("test.svgz", bytes.NewReader(packed(t, "<svg>"+tc.body+"</svg>")), bounds{1 << 28, 1000})
		if tc.want == "" && err != nil || tc.want != "" && (err == nil || !strings.HasSuffix(err.Error(), tc.want)) {
			t.Errorf("%s: %v", tc.name, err)
		}
	}
	if _, err := parse("test.svg", strings.NewReader("<svg>"+strings.Repeat("<g/>", 1000)+"</svg>"), bounds{}); err != nil {
		t.Error(err)
	}
}
