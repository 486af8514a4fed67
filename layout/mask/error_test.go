package mask

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
	"undermetal/layout/shot"
)

func TestErrors(t *testing.T) {
	with := func(change func(h *shot.Header)) *picture {
		p := drawn("#")
		change(&p.header)
		return p
	}
	m := Options{Place: px, Layer: "m"}
	far := m
	far.Place = pen.UmPerUnit(1e7, geom.Vec{})
	var many []Meaning
	for i := range 65 {
		many = append(many, Meaning{Colour{byte(i)}, fmt.Sprint("l", i)})
	}
	for _, tc := range []struct {
		in   *picture
		o    Options
		want string
	}{
		{drawn("#"), Options{Place: px}, "a mask needs the name of the layer that it stands for, or what its colours stand for"},
		{drawn("#"), Options{Layer: "m"}, "a mask needs a map from its pixels to the frame"},
		{drawn("#"), Options{Place: px, Meanings: many}, `layer "l64" is one more than the 64 that a library can have`},
		{with(func(h *shot.Header) { h.Format = "JPEG" }), m, "x: a JPEG file has no exact pixels, as a mask needs them\n    save the mask as PNG from where it was made"},
		{with(func(h *shot.Header) { h.Orientation = 6 }), m, "x: the picture is marked as to be turned (EXIF orientation 6)\n    turn it, and save it without the mark"},
		{with(func(h *shot.Header) { h.Height = 2 }), m, "unexpected EOF\n    get a complete copy of the file, or save it anew"},
		{drawn("#"), far, "x: row 1: (1, 0) comes to (1e+07, 0) µm, outside the frame of ±1073741.824 µm\n    give another map, or a smaller mask"},
	} {
		_, _, err := Read("x", tc.in, tc.o)
		if err == nil || err.Error() != tc.want {
			t.Errorf("%v\nwant %s", err, tc.want)
		}
	}
	if _, _, err := Read("x", with(func(h *shot.Header) { h.Height = 2 }), m); !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Error(err)
	}
	small := m
	small.Place = func(v geom.Vec) geom.Vec { return v.Scale(0.1) }
	if _, rep, err := Read("x", drawn("#"), small); err != nil || fmt.Sprint(rep.Notes) != "[regions that are nothing on the grid of 1 nm, left out: 1]" {
		t.Error(rep, err)
	}
}

// Noise ends with an error, not with the memory: corners are counted.
func TestTooManyCorners(t *testing.T) {
	corners := 10
	tr := newTracer(0, &layout.Cell{}, &Options{Place: px}, &corners)
	var err error
	for y, row := range [][]int32{{0, 1, 2, 3, 4, 5}, {}} {
		if err == nil {
			err = tr.line(int32(y), row)
		}
	}
	if err != errTooMany {
		t.Fatal(err)
	}
	open := newTracer(0, &layout.Cell{}, &Options{Place: px}, &corners) // corners of outlines that are not closed count, too
	err = (&reader{name: "x"}).trace(open, 7, []int32{0, 1})
	if err == nil || err.Error() != "x: row 7: more than 33554432 corners: this is noise rather than a drawing\n    smooth the mask, or cut it into parts" {
		t.Error(err)
	}
}

func TestWriteErrors(t *testing.T) {
	cell := &layout.Cell{Name: "c"}
	lib := &layout.Library{Layers: []string{"m", "n"}, Cells: []*layout.Cell{cell}}
	one := []Meaning{{White, "m"}}
	g := Grid{NmPerPx: 10, Width: 4, Height: 2}
	for _, tc := range []struct {
		g        Grid
		meanings []Meaning
		want     string
	}{
		{Grid{NmPerPx: 0, Width: 1, Height: 1}, one, "pixels of 0 nm from (0.000, 0.000) µm on\n    give a pixel a size from 0.1 nm on, and a corner in the frame"},
		{Grid{NmPerPx: 1, Width: 1 << 20, Height: 1}, one, "a mask of 1048576 × 1 pixels; each side has 1 to 262144\n    give a smaller region, or larger pixels"},
		{g, nil, "a mask of 0 layers; it has 1 to 255\n    name them"},
		{g, []Meaning{{Colour{}, "m"}}, "layer m has the colour #000000 of the background\n    give each a colour of its own"},
		{g, []Meaning{{White, "m"}, {White, "n"}}, "layer n has the colour #ffffff of layer m\n    give each a colour of its own"},
		{g, []Meaning{{White, "o"}}, "layer \"o\", which the drawing does not have\n    name one of its layers"},
	} {
		if _, err := Write(io.Discard, lib, nil, tc.g, Colour{}, tc.meanings); err == nil || err.Error() != tc.want {
			t.Errorf("%v\nwant %s", err, tc.want)
		}
	}
	cell.Shapes = []layout.Shape{{Polygon: geom.Polygon{{{X: 2 * geom.Limit}, {}, {Y: 5}}}}}
	if _, err := Write(io.Discard, lib, nil, g, Colour{}, one); err == nil || !strings.HasSuffix(err.Error(), "move the drawing nearer to the origin") {
		t.Error(err)
	}
}
