package geojson

import (
	"bytes"
	"errors"
	"testing"
)

// FuzzGeoJSON: any bytes give a library or an *Error with its place, and what was read can be written and read again.
func FuzzGeoJSON(f *testing.F) {
	for _, s := range []string{
		`{"type":"FeatureCollection","name":"x","layers":["m","n"],"features":[{"type":"Feature","properties":{"layer":"m"},"geometry":{"type":"Polygon","coordinates":[[[0,0],[3,0],[3,3],[0,3],[0,0]],[[1,1],[1.5,2.001],[2,1],[1,1]]]}}]}`,
		one(`{"type":"MultiPolygon","coordinates":[[[[0,0],[2,0],[2,2],[0,0]]],[[[1,0],[2,0],[2,5],[1,0]]]]}`, `{"layer":"m","traced":true}`),
		one(`{"type":"LineString","coordinates":[[0,0],[1,0],[1,1]]}`, `{"layer":"m","width":0.5,"ends":"round"}`),
		one(`{"type":"GeometryCollection","geometries":[{"type":"MultiPoint","coordinates":[[1,2,3]]}]}`, `{"layer":"m","label":"a","path":"X1/X2","more":[{}]}`),
		`{"type":"Feature","geometry":null,"properties":null}`,
		`{"type":"Polygon","coordinates":[[[0,0],[3,0],[3,3],[0,3],[0,0]]]}`,
		`{"geometries":[{"type":"Polygon","coordinates":[[[0,0],[3,0],[3,3],[0,0]]]},{"type":"Point","coordinates":[1,2]}],"type":"GeometryCollection"}`,
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		lib, _, err := Read("fuzz.geojson", bytes.NewReader(data), Options{LeaveUnmapped: true, Default: "rest"})
		if err != nil {
			if e := (*Error)(nil); !errors.As(err, &e) || e.Text == "" || e.Remedy == "" || e.Offset > int64(len(data)) {
				t.Fatalf("error without place or remedy: %v", err)
			}
			return
		}
		var b, again bytes.Buffer
		if err := Write(&b, lib, lib.Cells[0], nil); err != nil {
			t.Fatalf("what was read cannot be written: %v", err)
		}
		back, rep, err := Read("back.geojson", bytes.NewReader(b.Bytes()), Options{})
		if err != nil || len(rep.Notes) > 0 {
			t.Fatalf("what was written cannot be read: %v, %v", err, rep)
		}
		if err := Write(&again, back, back.Cells[0], nil); err != nil {
			t.Fatal(err)
		}
		third, _, err := Read("back.geojson", bytes.NewReader(again.Bytes()), Options{})
		if err != nil || len(third.Cells[0].Shapes) != len(back.Cells[0].Shapes) || len(third.Traced) != len(back.Traced) {
			t.Fatalf("written again it differs (%v)", err)
		}
	})
}
