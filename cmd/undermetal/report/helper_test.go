package report

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"reflect"
	"strings"
	"testing"
)

// photo is a picture of so many pixels.
func photo(t *testing.T, width, height int) Picture {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, width, height))
	for i := range img.Pix {
		img.Pix[i] = uint8(i * i >> 7)
	}
	for x := range 300 {
		img.Set(40+x, 950, color.White)
	}
	p, err := NewPicture(t.Context(), img, "a photograph", "As it was taken.")
	if err != nil {
		t.Fatal(err)
	}
	return *p
}

const drawing = `<svg xmlns="http://www.w3.org/2000/svg" width="900" height="300" viewBox="0 0 900 300" fill="none" stroke="#000"><title>a circuit</title><style>text{fill:red}</style>` +
	`<g class="symbol"><path d="M10 10L890 290"/><text x="20" y="40">M1</text></g></svg>`

// full is a report with all its sections, long words and wide tables among them.
func full(t *testing.T) *Report {
	t.Helper()
	p := photo(t, 1400, 1000)   // much wider than a telephone
	tall := photo(t, 700, 2600) // much higher than a page
	key := photo(t, 27, 15)
	over := p
	over.Keys = []Key{{"diffusion", key.Data}, {"metal1", key.Data}, {strings.Repeat("a long name of a layer ", 5), key.Data}}
	long := "a-name-without-any-place-to-break-it-and-longer-than-a-telephone-is-wide-as-hashes-are-0123456789abcdef"
	r := &Report{Title: "The kiln-window sensor", Subtitle: "As of 2026-01-02.", Facts: []Fact{{"Process", long}, {"shapes", "27"}}, Remarks: []Remark{{"(1, 2) µm", "look again"}},
		Shots:    []Shot{{Name: long, Facts: []Fact{{"SHA-256", long}}, Note: "residue", Pictures: []Picture{p, over}}, {Name: "metal", Pictures: []Picture{tall}}},
		Method:   []Section{{"Tracing", []string{"By hand.", long}}},
		Circuit:  []string{"4 devices."},
		Sizes:    &Table{Caption: "By kind", Columns: []Column{{Name: "Kind"}, {Name: "Devices", Figures: true}}, Rows: [][]string{{"nmos", "3"}}},
		Devices:  &Table{Caption: "Devices", Note: "± is one standard uncertainty."},
		Drawings: []Drawing{{drawing, "The circuit."}},
		Groups:   []Group{{Title: "pixel", What: "It senses.", Source: "somewhere", Count: 240, Arrays: []string{"An array of 20 rows × 12 columns, none odd."}, Members: []string{"M1", "M2"}, Drawing: &Drawing{drawing, "The first."}, Note: "n"}},
		Questions: []Question{{Title: "Transistor or capacitor?", Where: "at (1, 2) µm", Readings: []Reading{{"capacitor", "9:1", "90 %"}, {"transistor", "1:9", "10 %"}}, For: []string{"it is wide"},
			Against: []string{"it has a contact"}, Unseen: []string{"metal"}, NextLook: "at the contacts", Note: "a note", Picture: &tall}, {Title: "Contact?", Answer: "joins", Remark: "seen"}},
		Partial:   &Partial{Note: "None of these was recognised.", More: "3 more.", Fits: []PartialFit{{"inverter", "(1, 2) µm", "31 dB", []string{"M1", long}, []Piece{{"lacks a connection", "jqbrqs"}, {"has an nmos too many", ""}}}}},
		Waveforms: []Waveform{{Title: "pixel", Note: "level 1", Drawing: &Drawing{drawing, "v(out)"}, Compared: []Compared{{"gain", "0.95", "0.96", true}, {"slope", "3", "", false}}}},
		Netlist:   "* netlist\n.subckt die A B\nM1 " + long + " " + long + " nfet W=1u L=1u\n.ends\n", Left: []string{"nothing else"},
		Blocks: &BlockMap{Photo: &p, Width: 700, Height: 500, Die: [][][2]float64{{{10, 10}, {690, 10}, {690, 490}, {10, 490}}}, Notes: []string{"60 % have no name."}, Blocks: []Block{
			{Name: "pixels", Status: Seen, Area: "20 µm²", Share: "15 %", Source: "KL-1, fig. 2, 10", Reason: "an array", Support: []string{"240 × pixel"}, Rings: [][][2]float64{{{50, 50}, {300, 50}, {300, 300}, {50, 300}}, {{100, 100}, {200, 100}, {200, 200}, {100, 200}}}},
			{Name: "pump", Status: Supposed, Rings: [][][2]float64{{{400, 50}, {600, 60}, {590, 200}}}}, {Name: "decoder", Status: Contradicted, Area: "no region"}}}}
	row := []string{}
	for i := range 9 {
		r.Devices.Columns = append(r.Devices.Columns, Column{fmt.Sprint("Column ", i), i > 3, i == 3})
		row = append(row, "1.618 ± 0.024 µm")
	}
	for range 40 {
		r.Devices.Rows = append(r.Devices.Rows, row)
	}
	return r
}

// fill puts a text into every text of a value but drawings, which get it inside, and returns how many there were.
func fill(v reflect.Value, text string) (n int) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			return fill(v.Elem(), text)
		}
	case reflect.Slice:
		if v.Type().Elem().Kind() != reflect.Uint8 {
			for i := range v.Len() {
				n += fill(v.Index(i), text)
			}
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).Name == "SVG" {
				v.Field(i).SetString(hostileSVG)
				n++
				continue
			}
			n += fill(v.Field(i), text)
		}
	case reflect.String:
		v.SetString(text)
		n = 1
	}
	return n
}

func written(t *testing.T, r *Report) string {
	t.Helper()
	var b bytes.Buffer
	if err := r.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}
