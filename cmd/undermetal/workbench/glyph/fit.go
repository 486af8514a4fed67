package glyph

import (
	"image"
	"math/bits"
)

// quadrantRunes are the runes by which quarters are in the foreground: bit 0 upper left, 1 upper right, 2 lower left, 3 lower
// right. Source: The Unicode Standard, Block Elements, U+2580 to U+259F.
var quadrantRunes = [16]rune{' ', '▘', '▝', '▀', '▖', '▌', '▞', '▛', '▗', '▚', '▐', '▜', '▄', '▙', '▟', '█'}

// sextantRune returns the rune of which the px with set bits are in the foreground, bit 0 upper left, 1 upper right, and so
// on down. U+1FB00 and following have them in the order of these numbers, without those that there were before: none, the
// left and the right half, all. Source: The Unicode Standard, Symbols for Legacy Computing, U+1FB00 to U+1FB3B.
func sextantRune(bits int) rune {
	const left, right = 0b010101, 0b101010
	switch bits {
	case 0:
		return ' '
	case left:
		return '▌'
	case right:
		return '▐'
	case 0b111111:
		return '█'
	}
	r := rune(0x1FB00 + bits - 1)
	if bits > left {
		r--
	}
	if bits > right {
		r--
	}
	return r
}

var sextantRunes = func() (all [64]rune) {
	for i := range all {
		all[i] = sextantRune(i)
	}
	return all
}()

// sum is that of some px, by channel. A struct, since arrays do not stay in registers.
type sum struct{ r, g, b int }

func of(px []uint8) sum { return sum{int(px[0]), int(px[1]), int(px[2])} }

func (s sum) plus(o sum) sum  { return sum{s.r + o.r, s.g + o.g, s.b + o.b} }
func (s sum) minus(o sum) sum { return sum{s.r - o.r, s.g - o.g, s.b - o.b} }
func (s sum) times(k int) sum { return sum{s.r * k, s.g * k, s.b * k} }

// square is |S|².
func (s sum) square() int { return s.r*s.r + s.g*s.g + s.b*s.b }

// bright is the luma, times 1000 (ITU-R BT.601).
func (s sum) bright() int { return 299*s.r + 587*s.g + 114*s.b }

// mean is that of n px, rounded, halves up.
func (s sum) mean(n int) RGB {
	return RGB{uint8((2*s.r + n) / (2 * n)), uint8((2*s.g + n) / (2 * n)), uint8((2*s.b + n) / (2 * n))}
}

// cell returns the cell of two groups, of n and m px, the first those with set bits; the brighter one is in the foreground.
func cell(in, out sum, n, m, bits int, runes []rune) Cell {
	if in.bright()*m < out.bright()*n {
		return Cell{Rune: runes[(len(runes)-1)^bits], FG: out.mean(m), BG: in.mean(n)}
	}
	return Cell{Rune: runes[bits], FG: in.mean(n), BG: out.mean(m)}
}

// plain is a cell of one colour.
func plain(s sum) Cell {
	c := s.mean(1)
	return Cell{Rune: ' ', FG: c, BG: c}
}

// quadrants tries the seven ways to part four px in two groups.
func (g *Grid) quadrants(img *image.RGBA) {
	for row := range g.Rows {
		upper, lower := img.Pix[2*row*img.Stride:], img.Pix[(2*row+1)*img.Stride:]
		cells := g.Cells[row*g.Columns:][:g.Columns]
		for i := range cells {
			u, l := upper[8*i:8*i+8:8*i+8], lower[8*i:8*i+8:8*i+8]
			cells[i] = quadrant(of(u), of(u[4:]), of(l), of(l[4:]))
		}
	}
}

// quadrant compares |D|²/(n·m), where D is the sum of 4·px − all over a group of n px, and m = 4−n: all that Σ|S|²/n
// depends on, but for a constant and a factor.
func quadrant(a, b, c, d sum) Cell {
	if a == b && a == c && a == d {
		return plain(a)
	}
	all := a.plus(b).plus(c).plus(d)
	da, db, dc, dd := a.times(4).minus(all), b.times(4).minus(all), c.times(4).minus(all), d.times(4).minus(all)
	best, bits, n, in := 4*da.square(), 1, 1, a // one against three: 12/3
	try := func(gain, group, size int, s sum) {
		if gain > best {
			best, bits, n, in = gain, group, size, s
		}
	}
	try(4*db.square(), 2, 1, b)
	try(4*dc.square(), 4, 1, c)
	try(4*dd.square(), 8, 1, d)
	try(3*da.plus(db).square(), 3, 2, a.plus(b)) // two against two: 12/4
	try(3*da.plus(dc).square(), 5, 2, a.plus(c))
	try(3*da.plus(dd).square(), 9, 2, a.plus(d))
	return cell(in, all.minus(in), n, 4-n, bits, quadrantRunes[:])
}

// halves has nothing to choose.
func (g *Grid) halves(img *image.RGBA) {
	for row := range g.Rows {
		upper, lower := img.Pix[2*row*img.Stride:], img.Pix[(2*row+1)*img.Stride:]
		cells := g.Cells[row*g.Columns:][:g.Columns]
		for i := range cells {
			if a, b := of(upper[4*i:4*i+3]), of(lower[4*i:4*i+3]); a == b {
				cells[i] = plain(a)
			} else {
				cells[i] = cell(a, b, 1, 1, 3, quadrantRunes[:])
			}
		}
	}
}

// shares is 360/(n·m) for groups of n and m = 6−n px.
var shares = [6]int{0, 72, 45, 40, 45, 72}

// sextants tries the 31 ways to part six px in two groups, as quadrant does. From one to the next a single px changes sides
// (F. Gray's order), so that a group's sum is one addition; the last px is always in the other group.
func (g *Grid) sextants(img *image.RGBA) {
	for row := range g.Rows {
		cells := g.Cells[row*g.Columns:][:g.Columns]
		for i := range cells {
			var px, apart [6]sum
			var all sum
			for k := range px {
				px[k] = of(img.Pix[(3*row+k/2)*img.Stride+8*i+k%2*4:][:3])
				all = all.plus(px[k])
			}
			if all == px[0].times(6) && px[0] == px[1] && px[0] == px[2] && px[0] == px[3] && px[0] == px[4] {
				cells[i] = plain(px[0])
				continue
			}
			for k := range apart {
				apart[k] = px[k].times(6).minus(all)
			}
			best, bits := -1, 0
			var d sum
			for k := 1; k < 32; k++ {
				s := &order[k]
				if s.joins {
					d = d.plus(apart[s.px])
				} else {
					d = d.minus(apart[s.px])
				}
				if gain := s.share * d.square(); gain > best {
					best, bits = gain, int(s.bits)
				}
			}
			var in sum
			n := 0
			for k := range 5 {
				if bits>>k&1 == 1 {
					in, n = in.plus(px[k]), n+1
				}
			}
			cells[i] = cell(in, all.minus(in), n, 6-n, bits, sextantRunes[:])
		}
	}
}

// step is one from a group to the next.
type step struct {
	bits, px uint8
	joins    bool
	share    int
}

var order = func() (all [32]step) {
	for k := 1; k < 32; k++ {
		now, before := k^k>>1, (k-1)^(k-1)>>1
		all[k] = step{uint8(now), uint8(bits.TrailingZeros(uint(now ^ before))), now > before, shares[bits.OnesCount(uint(now))]}
	}
	return all
}()
