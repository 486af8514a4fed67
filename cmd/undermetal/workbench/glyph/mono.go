package glyph

import (
	"image"
	"math"
)

// thresholds is the order of B. E. Bayer, "An optimum method for two-level rendition of continuous-tone pictures" (ICC
// 1973; the recursion from memory): of every tone between two neighbours as many px are lit as it needs, spread evenly.
var thresholds = func() (m [8][8]int32) {
	for y := range m {
		for x := range m {
			v := 0
			for bit := range 3 { // the finest bits of the place are the highest of the order
				bx, by := x>>bit&1, y>>bit&1
				v = v<<2 | (bx^by)<<1 | by
			}
			m[y][x] = int32((2*v + 1) * (1 << 16) / 128)
		}
	}
	return m
}()

// linear is the light of a tone, in 1/65536 (IEC 61966-2-1): lit px and dark ones mix by light.
var linear = func() (all [256]int32) {
	for i := range all {
		v := float64(i) / 255
		if v <= 0.04045 {
			v /= 12.92
		} else {
			v = math.Pow((v+0.055)/1.055, 2.4)
		}
		all[i] = int32(math.Round(v * (1 << 16)))
	}
	return all
}()

var (
	litBlocks = [4]rune{' ', '▀', '▄', '█'}
	litASCII  = [4]rune{' ', '"', '_', '#'} // nothing, above, below, both
)

// dither lights px, two a cell, by their luminance (ITU-R BT.709).
func (g *Grid) dither(img *image.RGBA, ascii bool) {
	runes := &litBlocks
	if ascii {
		runes = &litASCII
	}
	for row := range g.Rows {
		for column := range g.Columns {
			lit := 0
			for half := range 2 {
				y := 2*row + half
				px := img.Pix[y*img.Stride+4*column:][:3]
				light := (2126*int64(linear[px[0]]) + 7152*int64(linear[px[1]]) + 722*int64(linear[px[2]])) / 10000
				if light > int64(thresholds[y%8][column%8]) {
					lit |= 1 << half
				}
			}
			g.Cells[row*g.Columns+column] = Cell{Rune: runes[lit]}
		}
	}
}
