package svg

import (
	"fmt"
	"testing"
)

// TestClear: what has an alpha or an opacity of 0 draws nothing, however that is written, and is counted; what has the
// least of either draws. By the definitions of CSS Color 4 (alpha 0 is fully transparent) and SVG 1.1, 11.2 to 14.5 (from
// memory).
func TestClear(t *testing.T) {
	const box = ` width="1" height="1"/>`
	const line = ` d="M0 0H9"/>`
	none := func(n int, el string) string {
		return fmt.Sprintf("0 0 0 transparent elements (alpha or opacity 0), left out: %d (first at line 1, %s)", n, el)
	}
	for _, tc := range []struct{ body, want string }{
		{`<rect fill="transparent"` + box, none(1, "rect")},
		{`<rect fill="Transparent"` + box, none(1, "rect")},
		{`<rect fill="#ff000000"` + box, none(1, "rect")},
		{`<rect fill="#f000"` + box, none(1, "rect")},
		{`<rect fill="rgba(255,0,0,0)"` + box, none(1, "rect")},
		{`<rect fill="rgba(255, 0, 0, 0.0)"` + box, none(1, "rect")},
		{`<rect fill="rgb(255 0 0 / 0%)"` + box, none(1, "rect")},
		{`<rect fill="rgba(255,0,0,-1)"` + box, none(1, "rect")},
		{`<rect fill="hsla(120, 100%, 50%, 0)"` + box, none(1, "rect")},
		{`<rect fill="hsl(120deg 100% 50% / 0%)"` + box, none(1, "rect")},
		{`<rect fill-opacity="0"` + box, none(1, "rect")},
		{`<rect style="fill-opacity:0%"` + box, none(1, "rect")},
		{`<rect opacity="0"` + box, none(1, "rect")},
		{`<style>.c{fill:#0000}</style><rect class="c"` + box, none(1, "rect")},
		{`<g color="rgba(1,2,3,0)"><rect fill="currentColor"` + box + `</g>`, none(1, "rect")},
		{`<g color="transparent"><rect fill="currentColor"` + box + `</g>`, none(1, "rect")},
		{`<path fill="none" stroke="transparent"` + line, none(1, "path")},
		{`<path fill="none" stroke="red" stroke-opacity="0"` + line, none(1, "path")},
		{`<path fill="none" stroke="rgba(1,2,3,0)"` + line, none(1, "path")},
		{`<line x2="5" stroke="#12345600"/>`, none(1, "line")},
		{`<rect fill="transparent" stroke="#1230"` + box, none(1, "rect")},
		{`<text fill="transparent">a</text>`, none(1, "text")},
		{`<text><tspan fill-opacity="0">a</tspan></text>`, none(1, "tspan")},
		{`<text><tspan opacity="0">a</tspan></text>`, none(1, "tspan")},
		{`<g opacity="0"><rect` + box + `<g><rect` + box + `<text>a</text></g><defs><rect` + box + `</defs></g>`, none(3, "g")},
		{`<defs><symbol id="s" opacity="0"><rect` + box + `</symbol></defs><use href="#s"/><use href="#s"/>`, none(2, `symbol "s"`)},
		{`<text fill="none">a</text>`, "0 0 0 elements without fill and stroke, left out: 1 (first at line 1, text)"},

		{`<rect fill="#f001"` + box, "1 0 0 "},
		{`<rect fill="#ff000001"` + box, "1 0 0 "},
		{`<rect fill="rgba(255,0,0,0.001)"` + box, "1 0 0 "},
		{`<rect fill="rgb(255 0 0 / 1%)" fill-opacity="0.01" opacity=".01"` + box, "1 0 0 "},
		{`<rect fill="#000"` + box, "1 0 0 "},
		{`<rect stroke="transparent"` + box, "1 0 0 "},
		{`<rect stroke="red" stroke-opacity="0"` + box, "1 0 0 "},
		{`<path fill="transparent" stroke="red"` + line, "0 1 0 "},
		{`<path fill="#0000" stroke="red"` + line, "0 1 0 "},
		{`<g opacity="0" style="opacity:1"><rect` + box + `</g>`, "1 0 0 "},
		{`<rect fill="url(#g) transparent"` + box, "1 0 0 "},
		{`<text fill="none" stroke="red">a</text>`, "0 0 1 "},
		{`<g color="rgba(1,2,3,0)"><g color="red"><rect fill="currentColor"` + box + `</g></g>`, "1 0 0 "},
	} {
		_, rep := mustRead(t, `<svg><g data-layer="m">`+tc.body+`</g></svg>`, um)
		var n Count
		if len(rep.Layers) > 0 {
			n = rep.Layers[0]
		}
		got := fmt.Sprint(n.Polygons, n.Wires, n.Labels, " ")
		for _, note := range rep.Notes {
			got += note.String()
		}
		if got != tc.want {
			t.Errorf("%s: %s\nwant %s", tc.body, got, tc.want)
		}
	}
}

// TestClearRule: a text that is only a stroke goes by the stroke's colour, and what is transparent needs no rule.
func TestClearRule(t *testing.T) {
	o := um
	o.Rules = rules(t, "red=m")
	_, rep := mustRead(t, `<svg><text fill="none" stroke="red">a</text><text stroke="blue" fill="red">b</text><rect fill="#0f00" width="1" height="1"/></svg>`, o)
	if n := rep.Layers[0]; n.Labels != 2 || n.Polygons != 0 || len(rep.Unmapped) != 0 {
		t.Errorf("%+v, %v", n, rep.Unmapped)
	}
}
