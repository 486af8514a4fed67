package geojson

import (
	"fmt"
	"strings"
	"testing"
)

// TestBare: a geometry by itself is a GeoJSON text (RFC 7946, section 2), and is read as that of a Feature without
// properties, whatever the order of its members. Areas by hand.
func TestBare(t *testing.T) {
	const square, other = `[[0,0],[2,0],[2,2],[0,2],[0,0]]`, `[[5,0],[6,0],[6,1],[5,1],[5,0]]`
	const note = "points without a property \"label\", left out: 1"
	for _, tc := range []struct{ text, want string }{
		{`{"type":"Polygon","coordinates":[` + square + `]}`, "[[4]] []"},
		{`{"coordinates":[` + square + `],"bbox":[0,0,2,2],"type":"Polygon"}`, "[[4]] []"},
		{`{"type":"MultiPolygon","coordinates":[[` + square + `],[` + other + `]]}`, "[[4 1]] []"},
		{`{"type":"GeometryCollection","geometries":[{"type":"Polygon","coordinates":[` + square + `]},{"type":"GeometryCollection","geometries":[{"type":"Polygon","coordinates":[` + other + `]}]}]}`, "[[4] [1]] []"},
		{`{"geometries":[],"type":"GeometryCollection"}`, "[] []"},
		{`{"type":"Point","coordinates":[1,2]}`, "[] [" + note + "]"},
		{`{"type":"Polygon","coordinates":null}`, "[] [geometries without a position, left out: 1]"},
	} {
		lib, rep := read(t, tc.text, Options{Layers: []string{"a", "b"}, Default: "b"})
		areas := [][]float64{}
		for _, s := range lib.Cells[0].Shapes {
			var list []float64
			for _, r := range s.Polygon {
				list = append(list, r.Area()/1e6)
			}
			areas = append(areas, list)
			if s.Layer != 1 {
				t.Errorf("%s: lies on layer %d", tc.text, s.Layer)
			}
		}
		if got := fmt.Sprint(areas, rep.Notes); got != tc.want {
			t.Errorf("%s: %s\nwant %s", tc.text, got, tc.want)
		}
		if !Known([]byte(tc.text[:20])) {
			t.Errorf("not known: %s", tc.text)
		}
	}
	_, rep := read(t, `{"type":"Polygon","coordinates":[`+square+`]}`, Options{LeaveUnmapped: true})
	if got := fmt.Sprint(rep.Unmapped); got != "[a geometry by itself, which names no layer]" {
		t.Error(got)
	}
	for _, tc := range []struct{ text, want string }{
		{`{"type":"LineString","coordinates":[[0,0],[1,0]]}`, "t: byte 49: a line without a width in µm above 0\n    make it the geometry of a Feature with a property \"width\" in µm, or draw a polygon"},
		{`{"type":"Polygon","coordinates":[[[0,0],[1,0],[0,1],[1,1]]]}`, "t: byte 60: a ring that is not closed: it begins at (0.000, 0.000) µm and ends at (1.000, 1.000)\n    repeat its first position at its end"},
		{`{"type":"Polygon","coordinates":[[1,2]]}`, "t: byte 40: coordinates of a Polygon that lie in 1 lists, not 2\n    " + correct},
		{`{"type":"Point","coordinates":[1,2]} x`, "t: byte 37: something follows the end: invalid character 'x' looking for beginning of value\n    remove it"},
	} {
		if _, _, err := Read("t", strings.NewReader(tc.text), Options{Default: "m"}); err == nil || err.Error() != tc.want {
			t.Errorf("%s:\n%v\nwant %s", tc.text, err, tc.want)
		}
	}
}
