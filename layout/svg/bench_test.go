package svg

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
)

// A drawing of 100,000 slanted polygons and as many circles is read, placed and written.
func BenchmarkSVG(b *testing.B) {
	const n = 100_000
	var text strings.Builder
	text.WriteString(`<svg viewBox="0 0 10000 10000">`)
	for i := range n {
		x, y := i%400*25, i/400*25
		fmt.Fprintf(&text, "<path d=\"M%d,%d L%d,%d L%d,%d L%d,%d Z\" fill=\"lime\"/>\n<circle cx=\"%d\" cy=\"%d\" r=\"5\" fill=\"red\"/>\n",
			x, y, x+20, y+1, x+19, y+9, x+1, y+11, x+10, y+5)
	}
	text.WriteString("</svg>")
	rules := rules(b, "lime=metal1", "red=via1")
	var lib *layout.Library
	b.Run("read", func(b *testing.B) {
		b.SetBytes(int64(text.Len()))
		b.ReportAllocs()
		for b.Loop() {
			d, err := Parse("bench.svg", strings.NewReader(text.String()))
			if err != nil {
				b.Fatal(err)
			}
			if lib, _, err = d.Library(Options{Place: pen.UmPerUnit(0.01, geom.Vec{}), Rules: rules}); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(2*n*b.N)/b.Elapsed().Seconds(), "shapes/s")
	})
	b.Run("write", func(b *testing.B) {
		for b.Loop() {
			var out bytes.Buffer
			if err := Write(&out, lib, nil, nil, nil); err != nil {
				b.Fatal(err)
			}
			b.SetBytes(int64(out.Len()))
		}
	})
}
