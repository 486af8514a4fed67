package svg

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
)

func triangle(x int) geom.Polygon { return geom.Polygon{{{X: x}, {X: x + 1000}, {X: x, Y: 500}}} }

// What a drawing looks like: by hand, in µm with y downward.
func TestWrite(t *testing.T) {
	inner := &layout.Cell{Name: "IN", Shapes: []layout.Shape{{Layer: 1, Polygon: triangle(0)}}}
	top := &layout.Cell{Name: "TOP", Shapes: []layout.Shape{{Polygon: triangle(-5)}, {Layer: 1, Polygon: append(triangle(0), geom.Ring{{}, {X: 1}})}},
		Labels: []layout.Label{{At: geom.Point{X: 7, Y: 1250}, Text: "a<b"}},
		Placements: []layout.Placement{{Name: "X", Cell: inner, Transform: geom.NewTransform(true, 1, 90, geom.Point{X: 2000, Y: 3000})},
			{Cell: inner, Transform: geom.Identity, Columns: 2, ColumnExtent: geom.Vec{X: 1500.5}}}}
	lib := &layout.Library{Name: "die", Layers: []string{"metal1", "via 1"}, Cells: []*layout.Cell{inner, top},
		Traced: []layout.Shape{{Polygon: triangle(0)}}}
	var b bytes.Buffer
	colour := func(l layout.Layer) string { return []string{"#123456", ""}[l] }
	if err := Write(&b, lib, nil, colour, nil); err != nil {
		t.Fatal(err)
	}
	want := `<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" viewBox="-0.086 -4.081 2.668 4.162" data-um-per-unit="1" data-name="die" stroke="none" font-family="sans-serif" font-size="16">
<g id="traced-areas" data-traced="" fill="none" stroke="#666666" stroke-width="0.011"><title>traced areas</title>
<g data-layer="metal1">
<path d="M0 0L1 0 0 -0.5Z"/>
</g>
<g data-layer="via 1">
</g>
</g>
<g id="cell-2" data-cell="TOP">
<g id="metal1" data-layer="metal1" fill="#123456" fill-opacity="0.6"><title>metal1</title>
<path d="M-0.005 0L0.995 0 -0.005 -0.5Z"/>
</g>
<g data-layer="via 1" fill="#d55e00" fill-opacity="0.6"><title>via 1</title>
<path d="M0 0L1 0 0 -0.5Z"/>
</g>
<use href="#cell-1" transform="matrix(0 -1 -1 0 2 -3)" data-instance="X"/>
<g data-array="2 1 1500.5 0 0 0">
<use href="#cell-1" transform="matrix(1 0 0 1 0 0)"/>
<use href="#cell-1" transform="matrix(1 0 0 1 1.501 0)"/>
</g>
<g data-labels="" fill="#1a1a1a" stroke="#ffffff" stroke-width="3" stroke-linejoin="round" paint-order="stroke">
<g data-layer="metal1">
<text transform="translate(0.007 -1.25) scale(0.007)" xml:space="preserve">a&lt;b</text>
</g>
</g>
</g>
<defs>
<g id="cell-1" data-cell="IN">
<g data-layer="via 1" fill="#d55e00" fill-opacity="0.6"><title>via 1</title>
<path d="M0 0L1 0 0 -0.5Z"/>
</g>
</g>
</defs>
</svg>
`
	if b.String() != want {
		t.Errorf("%s\nwant %s", b.String(), want)
	}
	b.Reset()
	if err := Write(&b, &layout.Library{}, nil, nil, nil); err != nil || !strings.Contains(b.String(), `viewBox="-0.021 -1.021 1.042 1.042"`) {
		t.Errorf("an empty library: %v, %s", err, b.String())
	}
}

func TestWriteErrors(t *testing.T) {
	cell := func(change func(c *layout.Cell)) *layout.Library {
		c := &layout.Cell{Name: "A"}
		change(c)
		return &layout.Library{Layers: []string{"m"}, Cells: []*layout.Cell{c}}
	}
	place := func(p layout.Placement) *layout.Library {
		return cell(func(c *layout.Cell) { c.Placements = []layout.Placement{p} })
	}
	b := &layout.Cell{Name: "B"}
	big := place(layout.Placement{Cell: b, Transform: geom.Identity, Columns: 2000, Rows: 2000})
	big.Cells = append(big.Cells, b)
	away := place(layout.Placement{Cell: b, Transform: geom.Move(geom.Point{X: 2 * geom.Limit})})
	away.Cells = append(away.Cells, b)
	ring := place(layout.Placement{Transform: geom.Identity})
	ring.Cells[0].Placements[0].Cell = ring.Cells[0]
	far := geom.Polygon{{{X: 2 * geom.Limit}, {}, {Y: 5}}}
	for _, tc := range []struct {
		lib  *layout.Library
		want string
	}{
		{&layout.Library{Name: "\x01"}, "library name \"\\x01\" has characters that cannot be printed\n    use printable characters in UTF-8"},
		{&layout.Library{Layers: []string{"\xff"}}, "layer name \"\\xff\" has characters that cannot be printed\n    use printable characters in UTF-8"},
		{cell(func(c *layout.Cell) { c.Name = "\x00" }), "cell \x00: cell name \"\\x00\" has characters that cannot be printed\n    use printable characters in UTF-8"},
		{&layout.Library{Cells: []*layout.Cell{{Name: "A"}, {Name: "A"}}}, "two cells \"A\"\n    rename one of them"},
		{cell(func(c *layout.Cell) { c.Shapes = []layout.Shape{{Layer: 3}} }), "cell A: layer 3 of a library with 1\n    add the layer to the library"},
		{cell(func(c *layout.Cell) { c.Shapes = []layout.Shape{{Polygon: far}} }), "cell A: layer m: a shape reaches outside the frame of ±1073741.824 µm\n    move the drawing nearer to the origin"},
		{&layout.Library{Layers: []string{"m"}, Traced: []layout.Shape{{Polygon: far}}}, "layer m: a shape reaches outside the frame of ±1073741.824 µm\n    move the drawing nearer to the origin"},
		{cell(func(c *layout.Cell) { c.Labels = []layout.Label{{Layer: 3}} }), "cell A: layer 3 of a library with 1\n    add the layer to the library"},
		{cell(func(c *layout.Cell) { c.Labels = []layout.Label{{Text: "\x02"}} }), "cell A: label \"\\x02\" has characters that cannot be printed\n    use printable characters in UTF-8"},
		{cell(func(c *layout.Cell) { c.Labels = []layout.Label{{Text: "a", At: geom.Point{X: 2 * geom.Limit}}} }), "cell A: label \"a\" is outside the frame of ±1073741.824 µm\n    move the drawing nearer to the origin"},
		{place(layout.Placement{Transform: geom.Identity}), "cell A: a placement without a cell\n    name the cell that is placed, or remove the placement"},
		{place(layout.Placement{Cell: b, Transform: geom.Identity}), "cell A: a placement of cell \"B\", which the library does not contain\n    add that cell to the library"},
		{big, "cell A: an array of 2000 × 2000 placements of cell \"B\": each would be an element; at most 1048576\n    split the array, or export another format"},
		{away, "cell A: a placement of cell \"B\" is outside the frame of ±1073741.824 µm\n    move the drawing nearer to the origin"},
		{ring, "cell \"A\" contains itself: A → A\n    remove one of these placements"},
	} {
		var out bytes.Buffer
		err := Write(&out, tc.lib, nil, nil, nil)
		if e := (*Error)(nil); err == nil || err.Error() != tc.want || !errors.As(err, &e) || out.Len() > 0 {
			t.Errorf("%v\nwant %s", err, tc.want)
		}
	}
	if err := Write(&bytes.Buffer{}, &layout.Library{}, b, nil, nil); err == nil || err.Error() != "cell \"B\" is to be shown, which the library does not contain\n    add that cell to the library" {
		t.Error(err)
	}
}
