package glyph

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// lit says which px of a cell a rune has in the foreground, by its name in the Unicode Standard; bit 0 upper left, row by row.
func lit(t testing.TB, s Style, r rune) int {
	t.Helper()
	names := map[rune]int{' ': 0, '█': 15, '▀': 0b0011, '▄': 0b1100}
	switch s.Blocks {
	case Quadrants:
		for r, bits := range map[rune]int{'▌': 0b0101, '▐': 0b1010, '▖': 0b0100, '▗': 0b1000, '▘': 0b0001, '▙': 0b1101, '▚': 0b1001, '▛': 0b0111, '▜': 0b1011, '▝': 0b0010, '▞': 0b0110, '▟': 0b1110} {
			names[r] = bits
		}
	case Halves:
		names = map[rune]int{' ': 0, '▀': 0b01, '▄': 0b10, '█': 0b11}
	case Sextants: // BLOCK SEXTANT-n…: 1 upper left, 2 upper right, 3 and 4 in the middle, 5 and 6 below
		names = map[rune]int{' ': 0, '▌': 0b010101, '▐': 0b101010, '█': 0b111111}
		for r, digits := range map[rune]string{0x1FB00: "1", 0x1FB01: "2", 0x1FB02: "12", 0x1FB03: "3", 0x1FB07: "4", 0x1FB0F: "5", 0x1FB13: "35", 0x1FB14: "235", 0x1FB1E: "6", 0x1FB27: "146", 0x1FB28: "1246", 0x1FB3B: "23456"} {
			bits := 0
			for _, d := range digits {
				bits |= 1 << (d - '1')
			}
			names[r] = bits
		}
		if _, known := names[r]; !known && r >= 0x1FB00 && r <= 0x1FB3B {
			// Between those that were looked up, the block counts up without a gap.
			before := rune(0)
			for k := range names {
				if k >= 0x1FB00 && k < r {
					before = max(before, k)
				}
			}
			bits := names[before]
			for ; before < r; before++ {
				if bits++; bits == 0b010101 || bits == 0b101010 {
					bits++
				}
			}
			return bits
		}
	}
	bits, ok := names[r]
	if !ok {
		t.Fatalf("style %+v shows %q", s, r)
	}
	return bits
}

var coloured = []Style{{Blocks: Quadrants}, {Blocks: Halves}, {Blocks: Sextants}}

// missed is the sum of squared differences between a cell's px and its mean colours, before these are rounded.
func missed(px [][3]float64, bits int) (sum float64) {
	for group := range 2 {
		var mean [3]float64
		n := 0.0
		for i, p := range px {
			if bits>>i&1 == group {
				n++
				for c := range p {
					mean[c] += p[c]
				}
			}
		}
		for i, p := range px {
			if bits>>i&1 == group {
				for c := range p {
					d := p[c] - mean[c]/n
					sum += d * d
				}
			}
		}
	}
	return sum
}

// TestLeastSquares: no pattern of all that there are is nearer to any cell than the one that was chosen, and its colours are
// the means of the px that they stand for.
func TestLeastSquares(t *testing.T) {
	for _, s := range coloured {
		w, h := s.Size()
		rapid.Check(t, func(t *rapid.T) {
			img := image.NewRGBA(image.Rect(0, 0, w, h))
			few := rapid.IntRange(1, 255).Draw(t, "step") // large ones make equal px likely
			var px [][3]float64
			for i := range w * h {
				var p [3]float64
				for c := range p {
					v := rapid.Uint8().Draw(t, "v") / uint8(few) * uint8(few)
					img.Pix[4*i+c], p[c] = v, float64(v)
				}
				img.Pix[4*i+3] = 255
				px = append(px, p)
			}
			var g Grid
			g.Fit(img, s)
			c := g.At(0, 0)
			bits := lit(&testing.T{}, s, c.Rune)
			got, least := missed(px, bits), math.Inf(1)
			for b := range 1 << len(px) {
				least = min(least, missed(px, b))
			}
			if got > least+1e-6 {
				t.Fatalf("%v: %q misses by %g, the nearest by %g", px, c.Rune, got, least)
			}
			for group, colour := range []RGB{c.BG, c.FG} {
				var sum [3]float64
				n := 0.0
				for i, p := range px {
					if bits>>i&1 == group {
						n++
						for k := range p {
							sum[k] += p[k]
						}
					}
				}
				for k := range sum {
					if n > 0 && math.Abs(float64(colour[k])-sum[k]/n) > 0.5 {
						t.Fatalf("%v: %q in %v on %v, group %d should be %v / %g", px, c.Rune, c.FG, c.BG, group, sum, n)
					}
				}
			}
		})
	}
}

// TestExact: pictures that the characters can show are shown as they are, px for px, every pattern of them; the brighter
// colour is in the foreground.
func TestExact(t *testing.T) {
	dark, bright := RGB{20, 60, 10}, RGB{200, 30, 250}
	for _, s := range coloured {
		w, h := s.Size()
		n := 1 << (w * h)
		img := image.NewRGBA(image.Rect(0, 0, w*n+w-1, h)) // and less than a cell more
		for bits := range n {
			for i := range w * h {
				c := dark
				if bits>>i&1 == 1 {
					c = bright
				}
				copy(img.Pix[img.PixOffset(bits*w+i%w, i/w):], c[:])
			}
		}
		var g Grid
		g.Fit(img, s)
		if g.Columns != n || g.Rows != 1 {
			t.Fatalf("%+v: %d × %d cells", s, g.Columns, g.Rows)
		}
		for bits := range n {
			c := g.At(bits, 0)
			switch {
			case bits == 0 && (c.Rune != ' ' || c.BG != dark), bits == n-1 && (c.Rune != ' ' || c.BG != bright):
				t.Errorf("%+v: one colour becomes %q in %v on %v", s, c.Rune, c.FG, c.BG)
			case bits > 0 && bits < n-1 && (lit(t, s, c.Rune) != bits || c.FG != bright || c.BG != dark):
				t.Errorf("%+v: pattern %b becomes %q in %v on %v", s, bits, c.Rune, c.FG, c.BG)
			}
		}
	}
}

// TestNearest: of the 240 colours none is nearer, for all greys and many colours.
func TestNearest(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 1))
	for i := range 20_000 {
		c := RGB{uint8(i), uint8(i), uint8(i)}
		if i >= 256 {
			c = RGB{uint8(rnd.Uint32()), uint8(rnd.Uint32()), uint8(rnd.Uint32())}
		}
		if i%2 == 1 && i > 256 { // near the greys, where cube and greys vie
			c = RGB{c[0], c[0] + uint8(rnd.IntN(12)), c[0] - uint8(rnd.IntN(12))}
		}
		least := math.MaxInt
		for k := 16; k < 256; k++ {
			least = min(least, apart(c, Palette(uint8(k))))
		}
		if got := Nearest(c); apart(c, Palette(got)) != least {
			t.Fatalf("%v becomes colour %d, %v, which is not nearest", c, got, Palette(got))
		}
	}
	for i, want := range map[uint8]RGB{16: {}, 21: {0, 0, 255}, 196: {255, 0, 0}, 46: {0, 255, 0}, 231: {255, 255, 255}, 232: {8, 8, 8}, 244: {128, 128, 128}, 255: {238, 238, 238}} {
		if got := Palette(i); got != want {
			t.Errorf("colour %d is %v, want %v", i, got, want)
		}
	}
	img := image.NewRGBA(image.Rect(0, 0, 2, 2))
	copy(img.Pix, []uint8{250, 1, 1, 255})
	var g Grid
	g.Fit(img, Style{Colours: Indexed})
	if c := g.At(0, 0); c.FGIndex != 196 || c.BGIndex != 16 || c.FG != (RGB{255, 0, 0}) || c.BG != (RGB{}) {
		t.Errorf("red on black becomes %+v", c)
	}
}

// TestDither: of any tone, as many px are lit as give its light, by IEC 61966-2-1, to half a step of 64; in blocks and in ASCII.
func TestDither(t *testing.T) {
	for _, s := range []Style{{Colours: Mono}, {ASCII: true}, {ASCII: true, Blocks: Sextants, Colours: Indexed}} {
		for tone := range 256 {
			img := image.NewRGBA(image.Rect(0, 0, 8, 8))
			for i := range img.Pix {
				img.Pix[i] = uint8(tone)
			}
			var g Grid
			g.Fit(img, s)
			if g.Columns != 8 || g.Rows != 4 {
				t.Fatalf("%d × %d cells", g.Columns, g.Rows)
			}
			n := 0
			for _, c := range g.Cells {
				if s.ASCII && c.Rune > 126 {
					t.Fatalf("ASCII has no %q", c.Rune)
				}
				n += map[rune]int{' ': 0, '▀': 1, '▄': 1, '█': 2, '"': 1, '_': 1, '#': 2}[c.Rune]
			}
			v := float64(tone) / 255
			light := v / 12.92
			if v > 0.04045 {
				light = math.Pow((v+0.055)/1.055, 2.4)
			}
			if math.Abs(float64(n)-64*light) > 0.5+1e-3 {
				t.Errorf("%+v: tone %d lights %d px of 64, want %.2f", s, tone, n, 64*light)
			}
		}
	}
	rank := map[int32]bool{}
	for _, row := range thresholds {
		for _, v := range row {
			rank[v] = true
		}
	}
	if len(rank) != 64 {
		t.Errorf("%d thresholds of 64", len(rank))
	}
}

// TestAspect: a picture for cells twice as high as wide.
func TestAspect(t *testing.T) {
	for s, want := range map[Style]float64{{}: 2, {Blocks: Halves}: 1, {Blocks: Sextants}: 4. / 3, {ASCII: true}: 1, {Colours: Mono}: 1} {
		if a, b := s.Aspect(10, 20), s.Aspect(0, 0); math.Abs(a-want) > 1e-12 || math.Abs(b-want) > 1e-12 {
			t.Errorf("%+v: %g and %g, want %g", s, a, b, want)
		}
	}
}

// BenchmarkFit: 200 × 60 cells of noise, in which no two px are equal.
func BenchmarkFit(b *testing.B) {
	for _, s := range []Style{{}, {Blocks: Halves}, {Blocks: Sextants}, {Colours: Indexed}, {Colours: Mono}} {
		w, h := s.Size()
		img := image.NewRGBA(image.Rect(0, 0, 200*w, 60*h))
		rnd := rand.New(rand.NewPCG(1, 2))
		for i := range img.Pix {
			img.Pix[i] = uint8(rnd.Uint32())
		}
		b.Run(fmt.Sprintf("blocks=%d/colours=%d", s.Blocks, s.Colours), func(b *testing.B) {
			b.ReportAllocs()
			var g Grid
			for b.Loop() {
				g.Fit(img, s)
			}
		})
	}
}
