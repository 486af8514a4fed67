package main

import (
	"bytes"
	"encoding/binary"
	"image/color"
	"image/png"
	"os"
	"strings"
	"testing"

	"undermetal/layout/dossier"
)

// twoPages is a TIFF file with two pictures of 4 × 4 grey pixels, by hand (TIFF 6.0, section 2; from memory): a
// directory has its number of fields, the fields (tag, type, count, value) and where the next one is.
func twoPages() []byte {
	b := []byte{'I', 'I', 42, 0, 8, 0, 0, 0}
	for page := range uint32(2) {
		at := uint32(len(b))
		fields := [][2]uint32{{256, 4}, {257, 4}, {258, 8}, {259, 1}, {262, 1}, {273, at + 2 + 8*12 + 4}, {278, 4}, {279, 16}}
		b = binary.LittleEndian.AppendUint16(b, uint16(len(fields)))
		for _, f := range fields {
			b = binary.LittleEndian.AppendUint16(b, uint16(f[0]))
			b = binary.LittleEndian.AppendUint16(b, 4) // LONG
			b = binary.LittleEndian.AppendUint32(binary.LittleEndian.AppendUint32(b, 1), f[1])
		}
		next := at + 2 + 8*12 + 4 + 16
		if page == 1 {
			next = 0
		}
		b = binary.LittleEndian.AppendUint32(b, next)
		b = append(b, bytes.Repeat([]byte{byte(100 + 50*page)}, 16)...)
	}
	return b
}

// TestAddFiles: pages are told, files of one name beside each other are told apart, and what changes while it is read
// is not taken.
func TestAddFiles(t *testing.T) {
	t.Chdir(t.TempDir())
	var out bytes.Buffer
	do := func(want int, args ...string) string {
		t.Helper()
		out.Reset()
		if status := run(args, &out, &out); status != want {
			t.Fatalf("%q: %d\n%s", args, status, out.String())
		}
		return out.String()
	}
	do(exitDone, "new", "k.dossier")
	if err := os.WriteFile("a.tif", twoPages(), 0o666); err != nil {
		t.Fatal(err)
	}
	if text := do(exitDone, "shot", "add", "k.dossier", "a.tif"); !strings.Contains(text, "the file has 2 pages; the first is taken") {
		t.Error(text)
	}
	if text := do(exitDone, "shot", "add", "k.dossier", "a.tif", "--page", "2", "--name", "second"); strings.Contains(text, "pages") {
		t.Error(text)
	}
	if text := do(exitUsage, "shot", "add", "k.dossier", "a.tif", "--page", "-3"); !strings.Contains(text, "--page -3: pages are counted from 1") {
		t.Error(text)
	}
	if err := writePNG("a.png", 5, 5, func(x, y int) color.Color { return color.Gray{9} }); err != nil {
		t.Fatal(err)
	}
	do(exitDone, "shot", "add", "k.dossier", ".") // a.tif is there; a.png goes by its whole name
	d, err := dossier.OpenToRead(t.Context(), "k.dossier")
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	shots, err := d.Shots()
	if err != nil || len(shots) != 3 || shots[2].Name != "a.png" {
		t.Errorf("%+v, %v", shots, err)
	}
}

// TestShowTall: a photograph that is much higher than wide is shown whole, and narrower than asked for.
func TestShowTall(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := writePNG("tall.png", 5, 2000, func(x, y int) color.Color { return color.Gray{uint8(y / 8)} }); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	for _, args := range [][]string{{"new", "k.dossier"}, {"shot", "add", "k.dossier", "tall.png"}, {"shot", "show", "k.dossier", "tall", "--plain", "--out", "x.png"}} {
		if status := run(args, &out, &out); status != exitDone {
			t.Fatal(out.String())
		}
	}
	f, err := os.Open("x.png")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	b := img.Bounds()
	if b.Dy() < 16000 || b.Dy() > 16384 || b.Dx() != 40 { // 2000 px : 5 px as 16384 : 40.96
		t.Error(b)
	}
	if low, _, _, _ := img.At(20, b.Max.Y-20).RGBA(); low>>8 < 245 {
		t.Errorf("its lower end is not shown: %d", low>>8)
	}
}
