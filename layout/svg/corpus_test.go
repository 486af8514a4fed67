package svg

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"undermetal/layout"
)

// The hand-labelled tiles of the corpus come in whole: as many tracks and vias as the text of the file has elements with
// those colours; and what is written of them comes back the same.
func TestCorpusTracks(t *testing.T) {
	corpus := os.Getenv("UNDERMETAL_CORPUS")
	if corpus == "" {
		t.Skip("UNDERMETAL_CORPUS is not set: the hand-labelled tiles of sem-tracks are NOT read")
	}
	files, err := filepath.Glob(filepath.Join(corpus, "sem-tracks", "*.svg"))
	if err != nil || len(files) != 3 {
		t.Fatalf("%d tiles, want 3 (%v)", len(files), err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		var tracks, vias int
		for _, line := range strings.Split(string(text), "\n") {
			switch {
			case strings.HasPrefix(line, "<path ") && strings.Contains(line, `fill="lime"`):
				tracks++
			case strings.HasPrefix(line, "<circle ") && strings.Contains(line, `fill="red"`):
				vias++
			}
		}
		d, err := Parse(filepath.Base(file), bytes.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		lib, rep, err := d.Library(Options{Place: d.PlaceUm(0.01), Rules: rules(t, "lime=metal1", "red=via1")})
		if err != nil {
			t.Fatal(err)
		}
		if m, v := rep.Layers[0], rep.Layers[1]; m.Polygons != tracks || v.Polygons != vias || tracks == 0 || vias == 0 || len(rep.Notes) != 0 {
			t.Errorf("%s: %+v, want %d tracks and %d vias; %v", file, rep.Layers, tracks, vias, rep.Notes)
		}
		t.Logf("%s: %d tracks, %d vias", filepath.Base(file), tracks, vias)
		var b bytes.Buffer
		if err := Write(&b, lib, nil, nil, nil); err != nil {
			t.Fatal(err)
		}
		back, _ := mustRead(t, b.String(), Options{})
		if diff := difference(lib, back); diff != "" {
			t.Errorf("%s: %s", file, diff)
		}
	}
}

func rules(t testing.TB, texts ...string) (out []Rule) {
	t.Helper()
	for _, text := range texts {
		r, err := ParseRule(text)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, r)
	}
	return out
}

// difference tells the first difference between two libraries, cell by cell and layer by layer; "" if there is none.
func difference(a, b *layout.Library) string {
	return firstDifference(a, b)
}
