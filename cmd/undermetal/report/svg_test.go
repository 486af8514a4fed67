package report

import (
	"bytes"
	"strings"
	"testing"

	"undermetal/cmd/undermetal/plot"
	"undermetal/netlist"
	"undermetal/netlist/schematic"
)

// hostile is what no text of a report must ever be taken for.
const hostile = `"'><script>window.taken=1</script><img src=x onerror="window.taken=2"><a href="javascript:window.taken=3">x</a></style></title></textarea>` +
	"<svg onload=window.taken=4>`${window.taken=5}` {{.Title}} <iframe src='https://example.org/'></iframe><!-- --><base href='https://example.org/'>&lt;b&gt;\u202e \x01"

// hostileSVG is a drawing with all that a drawing could do.
const hostileSVG = `<?xml version="1.0"?><!DOCTYPE svg><svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="100" height="100" viewBox="0 0 100 100" onload="window.taken=6">
<script>window.taken=7</script><style>@import "https://example.org/a.css"; *{background:url(https://example.org/b)}</style>
<foreignObject><body xmlns="http://www.w3.org/1999/xhtml"><script>window.taken=8</script></body></foreignObject>
<image href="https://example.org/c.png" xlink:href="https://example.org/d.png"/><use href="https://example.org/e.svg#f"/>
<a href="javascript:window.taken=9"><text>inside a link</text></a><animate attributeName="href" to="javascript:window.taken=10"/><set attributeName="onclick" to="window.taken=11"/>
<rect width="10" height="10" fill="url(https://example.org/g)" stroke="URL('https://example.org/h')" style="fill:url(https://example.org/i);stroke:#f00;background:red" onclick="window.taken=12" id="photographs"/>
<h:script xmlns:h="http://www.w3.org/1999/xhtml">window.taken=13</h:script><text x="5" y="50">&lt;script>window.taken=14&lt;/script><![CDATA[<img src=x onerror=window.taken=15>]]></text>
<path d="M0 0L9 9" fill="#abc"/></svg>`

func TestCleanSVG(t *testing.T) {
	got, err := cleanSVG(hostileSVG)
	if err != nil {
		t.Fatal(err)
	}
	low := strings.ToLower(string(got))
	for _, never := range []string{"<script", "<style", "<foreignobject", "<image", "<use", "<a ", "<animate", "<set", "<body", "<img", "<h:", "onload", "onclick", "javascript", "example.org", "url(", "id=", "href", "background", "<!"} {
		if strings.Contains(low, never) {
			t.Errorf("%s is left in %s", never, got)
		}
	}
	for _, want := range []string{`viewBox="0 0 100 100"`, `<path d="M0 0L9 9" fill="#abc">`, `style="stroke:#f00"`, "&lt;script&gt;window.taken=14"} {
		if !strings.Contains(string(got), want) {
			t.Errorf("%s is missing in %s", want, got)
		}
	}
	if again, err := cleanSVG(string(got)); err != nil || strings.Count(string(again), "<") != strings.Count(string(got), "<") {
		t.Error("what was cleaned changes once more", err)
	}
	for text, want := range map[string]string{"": "empty", "<svg": "no XML", "<svg><g></svg>": "no XML", "<html/>": "of <html>", "<svg/><svg/>": "one <svg>", "<svg>&bomb;</svg>": "no XML",
		strings.Repeat("<svg>", 70): "deeper", strings.Repeat(" ", most+1): "bytes", "text": "empty"} {
		if _, err := cleanSVG(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.20q: %v, want %q", text, err, want)
		}
	}
}

// TestOwnDrawings: what schematics and plots are made of comes through, every text of them with it.
func TestOwnDrawings(t *testing.T) {
	c := &netlist.Circuit{Name: "inverter", Nets: []netlist.NetInfo{{Name: "IN"}, {Name: "OUT"}, {Name: "VDD"}, {Name: "VSS"}}, Ports: []netlist.Net{0, 1, 2, 3}, Devices: []netlist.Device{
		{Kind: netlist.NMOS, Terminals: [4]netlist.Net{1, 0, 3, 3}, W: 2000, L: 500}, {Kind: netlist.PMOS, Terminals: [4]netlist.Net{1, 0, 2, 2}, W: 4000, L: 500}}}
	d, err := schematic.Draw(t.Context(), c, schematic.Options{Title: "inverter"})
	if err != nil {
		t.Fatal(err)
	}
	var sheet, waves bytes.Buffer
	if err := d.WriteSVG(&sheet, 0); err != nil {
		t.Fatal(err)
	}
	if err := plot.SVG(&waves, &plot.Figure{Title: "a plot", Panels: []plot.Panel{{Series: []plot.Series{{Name: "v(out)", X: []float64{0, 1, 2}, Y: []float64{0, 5, 3}}}}}}); err != nil {
		t.Fatal(err)
	}
	for _, of := range []struct {
		svg  string
		want []string
	}{{sheet.String(), []string{"VDD", "IN", "OUT", "inverter"}}, {waves.String(), []string{"a plot", "v(out)"}}} {
		got, err := cleanSVG(of.svg)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range []string{"<path", "<text", "<polyline", "<g", "<circle"} {
			if a, b := strings.Count(of.svg, e), strings.Count(string(got), e); a != b {
				t.Errorf("%d of %d %s are left", b, a, e)
			}
		}
		for _, w := range of.want {
			if !strings.Contains(string(got), ">"+w+"<") {
				t.Errorf("%s is missing", w)
			}
		}
		if strings.Count(string(got), `d="M`) != strings.Count(of.svg, `d="M`) || !strings.Contains(string(got), "viewBox=") {
			t.Error("paths lost where they go")
		}
	}
}

func FuzzCleanSVG(f *testing.F) {
	f.Add(hostileSVG)
	f.Add(drawing)
	f.Fuzz(func(t *testing.T, text string) {
		got, err := cleanSVG(text)
		if err != nil {
			return
		}
		if again, err := cleanSVG(string(got)); err != nil || again == "" {
			t.Errorf("%q became %q, which is none: %v", text, got, err)
		}
		for _, never := range []string{"<script", "<style", "<foreignObject", "<a ", "<image", " on"} {
			if strings.Contains(stripText(string(got)), never) {
				t.Errorf("%q is in %q", never, got)
			}
		}
	})
}

// stripText leaves the tags of a drawing, with empty attributes.
func stripText(s string) string {
	var b strings.Builder
	tag, quoted := false, false
	for _, r := range s {
		switch {
		case quoted:
			quoted = r != '"'
			continue
		case tag && r == '"':
			quoted = true
		case r == '<':
			tag = true
		}
		if tag {
			b.WriteRune(r)
		}
		if r == '>' {
			tag = false
		}
	}
	return b.String()
}
