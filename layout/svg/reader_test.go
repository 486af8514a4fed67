package svg

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"undermetal/layout/geom"
	"undermetal/layout/pen"
)

func mustParse(t testing.TB, text string) *Document {
	t.Helper()
	d, err := Parse("test.svg", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

var um = Options{Place: pen.UmPerUnit(1, geom.Vec{})}

// Every way to say which layer something is on.
func TestLayers(t *testing.T) {
	for _, tc := range []struct {
		body, rules string
		want        string // layers with their counts
	}{
		{`<rect fill="lime" width="1" height="1"/>`, "#0f0=a", "a 1"},
		{`<rect fill="#00FF00" width="1" height="1"/>`, "lime=a", "a 1"},
		{`<rect fill="rgb(0,255,0)" width="1" height="1"/>`, "lime=a", "a 1"},
		{`<rect fill="rgb(0%, 100%, 0%)" width="1" height="1"/>`, "lime=a", "a 1"},
		{`<rect width="1" height="1"/>`, "black=a", "a 1"}, // the initial fill
		{`<g color="red"><rect fill="currentColor" width="1" height="1"/></g>`, "red=a", "a 1"},
		{`<g fill="red"><rect width="1" height="1"/></g>`, "red=a", "a 1"},
		{`<g fill="red"><rect fill="blue" style="fill:lime" width="1" height="1"/></g>`, "lime=a", "a 1"},
		{`<style>rect{fill:blue}.x{fill:lime}</style><rect class="y x" width="1" height="1"/>`, "lime=a", "a 1"},
		{`<rect id="q" class="x" width="1" height="1"/><style>/*c*/ #q{fill:lime} .x{fill:blue}</style>`, "lime=a", "a 1"},
		{`<style>rect.x{fill:lime}.x{fill:blue}</style><rect class="x" width="1" height="1"/>`, "lime=a", "a 1"},
		{`<style><![CDATA[.x , .z{fill:lime;stroke:none}]]></style><rect class="z" width="1" height="1"/>`, "lime=a", "a 1"},
		{`<path d="M0 0H5" fill="none" stroke="red"/>`, "red=a", "a 1"}, // a wire: its stroke
		{`<path d="M0 0H5V5" fill="red" stroke="lime"/>`, "red=a", "a 1"},
		{`<g class="metal"><g><rect width="1" height="1"/></g></g>`, "class:metal=a", "a 1"},
		{`<g id="metal"><rect width="1" height="1"/></g>`, "group:metal=a", "a 1"},
		{`<g xmlns:e="urn:editor" e:label="Metal 1"><rect width="1" height="1"/></g>`, "group:Metal 1=a", "a 1"},
		{`<rect id="r1" width="1" height="1"/>`, "id:r1=a", "a 1"},
		{`<rect id="r1" fill="red" width="1" height="1"/><rect fill="red" width="1" height="1"/>`, "id:r1=a;red=b", "a 1, b 1"}, // the first rule that holds
		{`<rect fill="white" width="1" height="1"/><rect fill="red" width="1" height="1"/>`, "white=;red=a", "a 1"},
		{`<g data-layer="poly"><rect width="1" height="1"/></g>`, "", "poly 1"},
		{`<text fill="red">x</text>`, "red=a", "a 1"},
		{`<rect fill="url(#g) red" width="1" height="1"/>`, "red=a", "a 1"},
		{`<defs><g id="d"><rect width="1" height="1"/></g></defs><use class="k" href="#d"/>`, "class:k=a", "a 1"},
	} {
		o := um
		if tc.rules != "" {
			o.Rules = rules(t, strings.Split(tc.rules, ";")...)
		}
		_, rep := mustRead(t, `<svg>`+tc.body+`</svg>`, o)
		var got []string
		for _, c := range rep.Layers {
			got = append(got, fmt.Sprintf("%s %d", c.Layer, c.Polygons+c.Wires+c.Labels))
		}
		if s := strings.Join(got, ", "); s != tc.want {
			t.Errorf("%s by %s: %s, want %s", tc.body, tc.rules, s, tc.want)
		}
	}
	o := um // the innermost group that is called as a layer that there is
	o.Layers = []string{"metal1", "via"}
	_, rep := mustRead(t, `<svg><g id="metal1"><g id="odd"><rect width="1" height="1"/></g><rect id="via" width="1" height="1"/></g></svg>`, o)
	if rep.Layers[0].Polygons != 1 || rep.Layers[1].Polygons != 1 {
		t.Errorf("by group: %+v", rep.Layers)
	}
}

func TestUnmapped(t *testing.T) {
	text := `<svg><rect fill="red" width="1" height="1"/>
<g id="Layer 2"><rect fill="red" class="c d" width="1" height="1"/><circle class="c" r="1" fill="red"/></g>
<rect fill="url(#x)" width="1" height="1"/></svg>`
	d := mustParse(t, text)
	_, _, err := d.Library(um)
	want := `test.svg: nothing says to what layers 4 elements belong:
    colour #ff0000: 1 (first at line 1)
    colour #ff0000, class "c", group "Layer 2": 2 (first at line 2)
    neither colour nor class nor group: 1 (first at line 3)
    say so by rules such as '#00ff00=metal1', 'class:NAME=LAYER' or 'group:NAME=LAYER'; with nothing behind the = they are left out`
	if err == nil || err.Error() != want {
		t.Errorf("%v\nwant %s", err, want)
	}
	o := um
	o.LeaveUnmapped = true
	lib, rep, err := d.Library(o)
	if err != nil || len(rep.Unmapped) != 3 || rep.Unmapped[1].Count != 2 || len(lib.Cells[0].Shapes) != 0 {
		t.Errorf("%+v, %v", rep, err)
	}
	var many strings.Builder
	for i := range 20 {
		fmt.Fprintf(&many, `<rect fill="#0000%02x" width="1" height="1"/>`, i)
	}
	if _, _, err = mustParse(t, "<svg>"+many.String()+"</svg>").Library(um); err == nil || !strings.Contains(err.Error(), "#00000b: 1 (first at line 1)\n    and 8 kinds more\n") {
		t.Error(err)
	}
}

func TestNotes(t *testing.T) {
	for _, tc := range []struct{ body, want string }{
		{`<rect width="1" height="1" display="none"/>`, `hidden elements, left out: 1 (first at line 1, rect)`},
		{`<g visibility="hidden"><rect width="1" height="1"/></g>`, `hidden elements, left out: 1 (first at line 1, rect)`},
		{`<rect width="1" height="1" fill="none"/>`, `elements without fill and stroke, left out: 1 (first at line 1, rect)`},
		{`<rect width="1" height="1" stroke="red"/>`, `filled shapes with a stroke, taken without it: 1 (first at line 1, rect)`},
		{`<rect width="0" height="1"/><circle id="o" r="0"/>`, `shapes that cover nothing, left out: 2 (first at line 1, rect)`},
		{`<path d="M1 1" fill="none" stroke="red"/>`, `wires that cover nothing, left out: 1 (first at line 1, path)`},
		{`<path d="M1 1H5" fill="none" stroke="red" stroke-dasharray="1 2"/>`, `dashed wires, taken as whole ones: 1 (first at line 1, path)`},
		{`<path d="M1 1H5" fill="none" stroke="red" transform="scale(1 2)"/>`, `wires whose width is stretched unevenly, taken with the mean: 1 (first at line 1, path)`},
		{`<rect width="1" height="1" clip-path="url(#c)"/>`, `elements with a clip path, mask or filter, taken as they are without it: 1 (first at line 1, rect)`},
		{`<rect width="1" height="1" fill="lab(1% 2 3)"/>`, `colours that are not understood: they map to no layer by colour: 1 (first at line 1, rect)`},
		{`<rect width="1" height="1" stroke-width="1em"/>`, `values of stroke-width that are not understood, left out: 1 (first at line 1, rect)`},
		{`<foreignObject><p/></foreignObject>`, `elements foreignObject, which are not understood, left out: 1 (first at line 1, foreignObject)`},
		{`<style>g > rect{fill:red} @media print{rect{fill:blue}} rect{fill:red}</style>`, `selectors of style sheets that are not understood, left out: 2 (first at line 1, style)`},
		{`<use href="other.svg#x"/>`, `references to other files, left out: 1 (first at line 1, use)`},
		{`<use href="#gone" id="u"/>`, `references to what the drawing does not contain, left out: 1 (first at line 1, use "u")`},
		{`<text x="1em">a</text>`, `places of text that are not understood (x), left out: 1 (first at line 1, text)`},
		{`<path d="M1 1H5" fill-opacity="0%" stroke="red" vector-effect="non-scaling-stroke"/>`, `strokes that do not grow with the drawing (vector-effect), which are taken to grow: 1 (first at line 1, path)`},
		{`<path d="M1 1H5V5" marker-end="url(#m)"/>`, `markers, left out: 1 (first at line 1, path)`},
		{`<rect width="1" height="1" style="transform:rotate(5deg)"/>`, `places that a style says (transform), which are not understood, left out: 1 (first at line 1, rect)`},
		{`<image href="x.png" style="width:5px"/>`, `places that a style says (width), which are not understood, left out: 1 (first at line 1, image)`},
		{`<g style="width:5px"/>`, ``},
		{`<rect width="1" height="1" transform-origin="5 5"/>`, `places that a style says (transform-origin), which are not understood, left out: 1 (first at line 1, rect)`},
		{`<title>x</title><metadata><a/></metadata><clipPath id="c"><rect/></clipPath><x:y xmlns:x="urn:z"/>`, ``},
	} {
		_, rep := mustRead(t, `<svg><g data-layer="m">`+tc.body+`</g></svg>`, um)
		got := ""
		for _, n := range rep.Notes {
			got += n.String()
		}
		if got != tc.want {
			t.Errorf("%s: %s\nwant %s", tc.body, got, tc.want)
		}
	}
	o := um
	o.Rules = rules(t, "black=")
	if _, rep := mustRead(t, `<svg><rect width="1" height="1"/></svg>`, o); len(rep.Notes) != 1 || rep.Notes[0].String() != `elements that a rule leaves out: 1 (first at line 1, rect)` {
		t.Error(rep.Notes)
	}
}

func TestErrors(t *testing.T) {
	deep := strings.Repeat("<g>", 300)
	bomb := `<svg><g data-layer="m"><defs><rect id="a0" width="1" height="1"/>`
	for i := 1; i < 12; i++ {
		bomb += fmt.Sprintf(`<g id="a%d">%s</g>`, i, strings.Repeat(fmt.Sprintf(`<use href="#a%d"/>`, i-1), 10))
	}
	bomb += `</defs><use href="#a11"/></g></svg>`
	// Each use draws 3001 elements, so that of the 1398th takes more than 2²² of them: at byte 12033 + 1397·17.
	empty := `<svg><defs><g id="a0">` + strings.Repeat("<g/>", 3000) + `</g></defs>` + strings.Repeat(`<use href="#a0"/>`, 3000) + `</svg>`
	for _, tc := range []struct{ text, want string }{
		{empty, "test.svg:1:35783: use: more than 4194304 points and elements are drawn by way of use\n    save the drawing with fewer copies by reference, or in parts"},
		{"", "test.svg: the file is empty\n    get a complete copy of the file, or save it anew"},
		{"\x1f\x8b\x08\x00", "test.svg: the file is cut off\n    get a complete copy of the file, or save it anew"},
		{"\xff\xfe<\x00", "test.svg: the file is in UTF-16\n    save it in UTF-8"},
		{`<html/>`, "test.svg:1:1: html: this is no SVG drawing, whose outermost element is svg\n    take an SVG drawing"},
		{` `, "test.svg: this is no SVG drawing: it has no element svg\n    take an SVG drawing"},
		{`<svg><g>`, "test.svg:1:9: the file is cut off: unexpected EOF\n    get a complete copy of the file, or save it anew"},
		{`<svg><g></svg>`, "test.svg:1:15: this is no well-formed XML: element <g> closed by </svg>\n    correct it, or save the drawing anew as plain SVG"},
		{`<svg>&nbsp;</svg>`, "test.svg:1:12: this is no well-formed XML: invalid character entity &nbsp;\n    correct it, or save the drawing anew as plain SVG"},
		{`<?xml version="1.0" encoding="shift-jis"?><svg/>`, "test.svg:1:43: xml: opening charset \"shift-jis\": encoding \"shift-jis\"; UTF-8, ISO-8859-1 and US-ASCII are read\n    save it in UTF-8"},
		{"<svg>\n <path id=\"p\" d=\"M0 0 1\"/></svg>", "test.svg:2:2: path \"p\": attribute d, character 7: a number is missing, it ends\n    correct it, or save the drawing anew as plain SVG"},
		{`<svg><rect width="-1"/></svg>`, "test.svg:1:6: rect: attribute width, -1: there are no negative lengths\n    correct it, or save the drawing anew as plain SVG"},
		{`<svg><rect width="1em"/></svg>`, "test.svg:1:6: rect: attribute width, \"1em\": lengths are numbers, or have one of the units px, mm, cm, in, pt, pc, Q and %\n    correct it, or save the drawing anew as plain SVG"},
		{`<svg><circle r="-1"/></svg>`, "test.svg:1:6: circle: attribute radius, -1: there are no negative lengths\n    correct it, or save the drawing anew as plain SVG"},
		{`<svg><polygon points="1 2 3"/></svg>`, "test.svg:1:6: polygon: attribute points, character 6: an odd number of coordinates\n    correct it, or save the drawing anew as plain SVG"},
		{`<svg><g transform="turn(5)"/></svg>`, "test.svg:1:6: g: attribute transform, character 1: turn with 1 numbers: there are matrix (6), translate (1, 2), scale (1, 2), rotate (1, 3), skewX (1) and skewY (1)\n    correct it, or save the drawing anew as plain SVG"},
		{`<svg><g transform="5"/></svg>`, "test.svg:1:6: g: attribute transform, character 1: a transform such as translate(1 2) is missing, found \"5\"\n    correct it, or save the drawing anew as plain SVG"},
		{`<svg><g transform="scale(5"/></svg>`, "test.svg:1:6: g: attribute transform, character 6: a bracket is not closed\n    correct it, or save the drawing anew as plain SVG"},
		{`<svg><g transform="scale(1e200) scale(1e200)"/></svg>`, "test.svg:1:6: g: attribute transform, character 1: numbers beyond all bounds\n    correct it, or save the drawing anew as plain SVG"},
		{`<svg viewBox="0 0 1"/>`, "test.svg:1:1: svg: attribute viewBox, \"0 0 1\": a viewBox has four numbers, x, y, width and height\n    correct it, or save the drawing anew as plain SVG"},
		{`<svg data-um-per-unit="0"/>`, "test.svg:1:1: svg: attribute data-um-per-unit, \"0\": a unit has a size in µm\n    correct it, or save the drawing anew as plain SVG"},
		{`<svg>` + deep, "test.svg:1:771: g: more than 256 elements inside of each other\n    save the drawing with fewer groups in groups"},
		{`<svg><g id="a"><use href="#a"/></g></svg>`, "test.svg:1:16: use: g \"a\" contains itself by way of use\n    remove one of these references"},
		{`<svg><g id="a"><use href="#b"/></g><defs><g id="b"><use href="#a"/></g></defs></svg>`, "test.svg:1:52: use: g \"a\" contains itself by way of use\n    remove one of these references"},
		{bomb, fmt.Sprintf("test.svg:1:%d", strings.LastIndex(bomb, "<use")+1) + ": use: more than 4194304 points and elements are drawn by way of use\n    save the drawing with fewer copies by reference, or in parts"},
		{`<svg><rect data-layer="m" x="2e6" width="1" height="1"/></svg>`, "test.svg:1:6: rect: (2e+06, 0) comes to (2e+06, 0) µm, outside the frame of ±1073741.824 µm\n    move the drawing nearer to the origin, or give a smaller unit"},
		{`<svg><text data-layer="m" x="2e6">a</text></svg>`, "test.svg:1:6: text: (2e+06, 0) comes to (2e+06, 0) µm, outside the frame of ±1073741.824 µm\n    move the drawing nearer to the origin, or give a smaller unit"},
		{`<svg><line data-layer="m" x2="1" stroke="red" stroke-width="1e7"/></svg>`, "test.svg:1:6: line: a stroke of 1e+07 units, which is 1e+07 µm\n    move the drawing nearer to the origin, or give a smaller unit"},
		{`<svg><line data-layer="m" x2="100" stroke="red" stroke-width="2147400" stroke-linecap="square"/></svg>`, "test.svg:1:6: line: a wire of width 2147400.000 µm reaches outside the frame of ±1073741.824 µm\n    move the drawing nearer to the origin, or give a smaller unit"},
	} {
		d, err := Parse("test.svg", strings.NewReader(tc.text))
		if err == nil {
			_, _, err = d.Library(um)
		}
		if err == nil || err.Error() != tc.want {
			t.Errorf("%.80s:\n%v\nwant %s", tc.text, err, tc.want)
		}
	}
	if _, _, err := mustParse(t, "<svg/>").Library(Options{}); err == nil || err.Error() != "test.svg: the drawing does not say how many µm a unit is\n    say how large a unit is (--um-per-unit), or which photograph it is drawn over (--over)" {
		t.Error(err)
	}
	lost := errors.New("the disk is gone")
	if _, err := Parse("test.svg", io.MultiReader(strings.NewReader("<svg>"), iotest.ErrReader(lost))); !errors.Is(err, lost) || !strings.Contains(err.Error(), "reading failed: the disk is gone") {
		t.Error(err)
	}
	if _, err := Parse("test.svg", iotest.ErrReader(lost)); !errors.Is(err, lost) {
		t.Error(err)
	}
}

func TestRules(t *testing.T) {
	for _, tc := range []struct{ text, want string }{
		{"lime", `rule "lime" has no layer: write COLOUR=LAYER, class:NAME=LAYER, group:NAME=LAYER or id:NAME=LAYER`},
		{"lyme=a", `rule "lyme=a": "lyme" is no colour: one is a name such as lime, #0f0, #00ff00 or rgb(0, 255, 0); or write class:NAME, group:NAME or id:NAME`},
		{"class:=a", `rule "class:=a" has no name behind class:`},
	} {
		if _, err := ParseRule(tc.text); err == nil || err.Error() != tc.want {
			t.Errorf("%s: %v", tc.text, err)
		}
	}
	for _, text := range []string{"#00ff00=a", "class:x=y=a", "group:Metal 1=a", "id:q="} {
		if r, err := ParseRule(text); err != nil || r.String() != text {
			t.Errorf("%s: %v, %v", text, r, err)
		}
	}
	_, _, err := mustParse(t, "<svg/>").Library(Options{Place: um.Place, Layers: []string{"a", "b"}, Rules: rules(t, "red=c")})
	if err == nil || err.Error() != "rule #ff0000=c: there is no layer \"c\"\n    there are a, b" {
		t.Error(err)
	}
	var many []string
	for i := range 65 {
		many = append(many, fmt.Sprintf("id:r%d=l%d", i, i))
	}
	if _, _, err := mustParse(t, "<svg/>").Library(Options{Place: um.Place, Rules: rules(t, many...)}); err == nil || err.Error() != `layer "l64" is one more than the 64 that a library can have` {
		t.Error(err)
	}
}

// Colours; source: SVG 1.1 §4.4 and CSS Color (from memory).
func TestColours(t *testing.T) {
	for _, tc := range []struct {
		text string
		want Colour
	}{
		{"rebeccapurple", Colour{}}, {"Lime", Colour{0, 255, 0}}, {"green", Colour{0, 128, 0}}, {"#abc", Colour{0xaa, 0xbb, 0xcc}},
		{"#A1B2C3", Colour{0xa1, 0xb2, 0xc3}}, {"#a1b2c380", Colour{0xa1, 0xb2, 0xc3}}, {"rgb(300, -5, 1.5)", Colour{255, 0, 2}},
		// The hues of hsl are sixths of the circle: red, yellow, green, cyan, blue, magenta.
		{"hsl(0,100%,50%)", Colour{255, 0, 0}}, {"hsl(60 100% 50%)", Colour{255, 255, 0}}, {"HSL(120deg, 100%, 50%)", Colour{0, 255, 0}},
		{"hsl(0.5turn 100 50)", Colour{0, 255, 255}}, {"hsla(-120, 100%, 50%, 0.5)", Colour{0, 0, 255}}, {"hsl(740,100%,25%)", Colour{128, 43, 0}},
		{"hsl(300grad 100% 50% / 1)", Colour{128, 0, 255}}, {"hsl(7, 0%, 20%)", Colour{51, 51, 51}}, {"hsl(3.14159265rad, 50%, 50%)", Colour{64, 191, 191}},
		{"rgba(1,2,3,0.5)", Colour{1, 2, 3}}, {"rgb(1 2 3 / 50%)", Colour{1, 2, 3}}, {" red ", Colour{255, 0, 0}},
	} {
		c, err := ParseColour(tc.text)
		if tc.text == "rebeccapurple" { // came after SVG 1.1
			if err == nil {
				t.Error("rebeccapurple is known")
			}
			continue
		}
		if err != nil || c != tc.want {
			t.Errorf("%q: %v, %v", tc.text, c, err)
		}
	}
	for _, text := range []string{"", "#12", "#12345", "#ggg", "rgb(1,2)", "rgb(1,2,3", "none", "rgb(1,2,3)x", "hsl(1,2)", "hsl(1,2,3px)", "rgb(1deg,2,3)", "hsv(1,2,3)", "(1,2,3)"} {
		if c, err := ParseColour(text); err == nil {
			t.Errorf("%q is %v", text, c)
		}
	}
}

// Entities of the document type, another character set, a byte order mark.
func TestXML(t *testing.T) {
	for _, text := range []string{
		"<?xml version=\"1.0\"?>\n<!DOCTYPE svg PUBLIC \"-//W3C//DTD SVG 1.1//EN\" \"x.dtd\" [\n<!ENTITY ns \"http://www.w3.org/2000/svg\"> <!ENTITY m 'm'>]>\n<svg xmlns=\"&ns;\"><g id=\"&m;\"><text>\u00e4</text></g></svg>",
		"<?xml version=\"1.0\" encoding=\"ISO-8859-1\"?><svg><g id=\"m\"><text>\xe4</text></g></svg>",
		"\xef\xbb\xbf<svg><g id=\"m\"><text>\u00e4</text></g></svg>",
	} {
		o := um
		o.Layers = []string{"m"}
		lib, _ := mustRead(t, text, o)
		if l := lib.Cells[0].Labels; len(l) != 1 || l[0].Text != "ä" {
			t.Errorf("%q: %v", text, l)
		}
		if !Known([]byte(text)) {
			t.Errorf("%q is not known as SVG", text)
		}
	}
	for _, text := range []string{"", "{", "\x89PNG", "<html><body>"} {
		if Known([]byte(text)) {
			t.Errorf("%q is taken for SVG", text)
		}
	}
}
