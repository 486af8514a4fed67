package svg

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
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

// TestPackedBounded: more than MaxUnpacked is an error before it is all unpacked; as much as that is not.
func TestPackedBounded(t *testing.T) {
	for size, ok := range map[int64]bool{9: true, 10: true, 11: false, 5000: false} {
		got, err := io.ReadAll(&bounded{strings.NewReader(strings.Repeat("x", int(size))), 10})
		if (err == nil) != ok || ok && int64(len(got)) != size || !ok && err != errUnpacked {
			t.Errorf("%d bytes: %d, %v", size, len(got), err)
		}
	}
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	io.WriteString(z, "<svg>")
	blanks := bytes.Repeat([]byte("<!--"+strings.Repeat(" ", 1<<20-7)+"-->"), 16)
	z.Write(blanks)
	io.WriteString(z, "</svg>")
	z.Close()
	if _, err := parse("test.svgz", bytes.NewReader(b.Bytes()), 17<<20); err != nil {
		t.Error(err)
	}
	_, err := parse("test.svgz", bytes.NewReader(b.Bytes()), 16<<20)
	if err == nil || !strings.HasSuffix(err.Error(), "the file is compressed, and more than the 16 MB that are read\n    take parts out of the drawing, such as pictures that lie in the file itself") {
		t.Error(err)
	}
}
