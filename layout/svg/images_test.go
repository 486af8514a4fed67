package svg

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"undermetal/layout/geom"
)

// TestImageByUse: a picture lies where use shows it (SVG 1.1, 5.6: x and y are a translation more, a symbol's viewBox is
// fitted into the use's width and height). All by hand: a picture of 200 × 100 px stretched over 100 × 100 units has 2 px a
// unit across and 1 down.
func TestImageByUse(t *testing.T) {
	const image = `<image id="i" href="die.png" width="100" height="100" preserveAspectRatio="none"/>`
	for _, tc := range []struct {
		body     string
		from, to geom.Vec
	}{
		{`<defs>` + image + `</defs><use href="#i" x="10" y="20"/>`, geom.Vec{X: 60, Y: 70}, geom.Vec{X: 100, Y: 50}},
		{`<use href="#i" x="10" y="20"/><defs>` + image + `</defs>`, geom.Vec{X: 60, Y: 70}, geom.Vec{X: 100, Y: 50}},
		{`<symbol id="s" viewBox="0 0 100 100">` + image + `</symbol><use href="#s" x="10" y="20" width="50" height="50"/>`, geom.Vec{X: 60, Y: 70}, geom.Vec{X: 200, Y: 100}},
		{`<defs><g id="g" transform="translate(3 4)">` + image + `</g><use id="u" href="#g" x="2" y="6"/></defs><g transform="scale(2)"><use href="#u"/></g>`, geom.Vec{X: 60, Y: 70}, geom.Vec{X: 50, Y: 25}},
		{`<defs><svg id="n" x="10" y="20" width="100" height="100" viewBox="0 0 50 50"><image href="die.png" width="50" height="50" preserveAspectRatio="none"/></svg></defs><use href="#n"/>`, geom.Vec{X: 60, Y: 70}, geom.Vec{X: 100, Y: 50}},
		{`<g opacity="0.5"><symbol id="s">` + image + `</symbol><use href="#s" transform="translate(10 20)" display="none"/></g>`, geom.Vec{X: 60, Y: 70}, geom.Vec{X: 100, Y: 50}},
	} {
		d := mustParse(t, `<svg viewBox="0 0 400 300">`+tc.body+`</svg>`)
		if len(d.Images) != 1 || d.Images[0].Href != "die.png" || d.Images[0].Line != 1 {
			t.Errorf("%s: %+v", tc.body, d.Images)
			continue
		}
		px, err := d.Images[0].Pixels(200, 100)
		if err != nil {
			t.Fatal(err)
		}
		if got := px(tc.from); math.Hypot(got.X-tc.to.X, got.Y-tc.to.Y) > 1e-9 {
			t.Errorf("%s: %v is pixel %v, want %v", tc.body, tc.from, got, tc.to)
		}
	}
	for body, want := range map[string]int{
		`<defs>` + image + `<use href="#i"/></defs>`:                                               0,
		`<defs id="d">` + image + `</defs><use href="#d"/>`:                                        0,
		image + `<use href="#i" x="7"/>`:                                                           2,
		`<g id="g">` + image + `<use href="#g"/></g>`:                                              1, // an error when it is drawn
		`<use href="#gone"/><use href="other.svg#i"/><text>a</text><symbol>` + image + `</symbol>`: 0,
	} {
		if d := mustParse(t, `<svg>`+body+`</svg>`); len(d.Images) != want {
			t.Errorf("%s: %d pictures, want %d", body, len(d.Images), want)
		}
	}
}

// TestImagesBounded: pictures that are shown a million times by way of use in use are an error, and what shows none costs nothing
// however often it is used.
func TestImagesBounded(t *testing.T) {
	bomb := func(what string) string {
		s := `<svg><defs><g id="a0">` + what + `</g>`
		for i := 1; i < 12; i++ {
			s += fmt.Sprintf(`<g id="a%d">%s</g>`, i, strings.Repeat(fmt.Sprintf(`<use href="#a%d"/>`, i-1), 10))
		}
		return s + `</defs><use href="#a11"/></svg>`
	}
	_, err := Parse("test.svg", strings.NewReader(bomb(`<image width="1"/>`)))
	if err == nil || !strings.HasSuffix(err.Error(), "more than 65536 pictures, with what they lie in, are drawn by way of use\n    leave one picture in the drawing, or draw it without use") {
		t.Error(err)
	}
	if d := mustParse(t, bomb(`<rect/>`)); len(d.Images) != 0 {
		t.Error(d.Images)
	}
}
