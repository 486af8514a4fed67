package gds

import (
	"bytes"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// flatLibrary is one cell with n rectangles, from a fixed seed.
func flatLibrary(n int) *layout.Library {
	random := rand.New(rand.NewPCG(1, 2))
	c := &layout.Cell{Name: "FLAT"}
	for range n {
		x, y := random.IntN(1e6), random.IntN(1e6)
		c.Shapes = append(c.Shapes, layout.Shape{Layer: layout.Layer(random.IntN(4)),
			Polygon: geom.Polygon{geom.Box(x, y, x+1+random.IntN(1e3), y+1+random.IntN(1e3)).Ring()}})
	}
	return &layout.Library{Layers: []string{"a", "b", "c", "d"}, Cells: []*layout.Cell{c}}
}

func BenchmarkRead(b *testing.B) {
	run := func(name string, stream []byte) {
		b.Run(name, func(b *testing.B) {
			b.SetBytes(int64(len(stream)))
			b.ReportAllocs()
			for b.Loop() {
				if _, _, err := Read("bench.gds", bytes.NewReader(stream), nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
	run("in=flat/shapes=100000", mustWrite(b, flatLibrary(100_000)))
	for _, file := range corpus(b) {
		if strings.Contains(file, "RM_IHPSG13") {
			stream, err := os.ReadFile(file)
			if err != nil {
				b.Fatal(err)
			}
			run("in=sram", stream)
		}
	}
}

func BenchmarkWrite(b *testing.B) {
	l := flatLibrary(100_000)
	b.SetBytes(int64(len(mustWrite(b, l))))
	b.ReportAllocs()
	var out bytes.Buffer
	for b.Loop() {
		out.Reset()
		if err := Write(&out, l, plainPairs, plainLabels); err != nil {
			b.Fatal(err)
		}
	}
}
