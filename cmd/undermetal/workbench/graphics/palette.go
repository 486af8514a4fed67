package graphics

import (
	"cmp"
	"image"
	"slices"
)

// mostColours is how many colour registers a terminal has, unless it says otherwise (common practice), and what a px is numbered in.
const mostColours = 256

// tones is how many bits of a channel tell colours apart. Sixel itself has 101 tones a channel, so 64 lose little.
const tones = 6

// palette chooses colours for pictures. What one picture needed is kept for the next.
type palette struct {
	colours [][3]uint8
	bins    []bin   // by red, green, blue, tones bits each
	used    []int32 // the bins that are not empty
	boxes   []box
}

// bin is the px of nearly one colour.
type bin struct {
	n       uint32
	sum     [3]uint32
	colour  uint8 // the one of the palette that stands for it
	channel [3]uint8
}

// box is a part of used, to be divided further or to become a colour.
type box struct {
	bins []int32
	axis int    // the channel in which it is widest
	gain uint64 // what dividing it is worth: px × the square of its width
}

func binOf(px []uint8) int32 {
	const drop = 8 - tones
	return int32(px[0]>>drop)<<(2*tones) | int32(px[1]>>drop)<<tones | int32(px[2]>>drop)
}

// choose finds as many colours of a picture as there may be by halving, again and again, the box of colours that is worth most, at the middle of
// its px. Median cut is due to P. Heckbert, "Color image quantization for frame buffer display" (SIGGRAPH 1982, from memory).
func (p *palette) choose(img *image.RGBA, most int) {
	if p.bins == nil {
		p.bins = make([]bin, 1<<(3*tones))
	}
	for _, b := range p.used {
		p.bins[b] = bin{}
	}
	p.used = p.used[:0]
	for y := range img.Rect.Dy() {
		row := img.Pix[y*img.Stride:][:4*img.Rect.Dx()]
		for i := 0; i < len(row); i += 4 {
			k := binOf(row[i : i+3])
			b := &p.bins[k]
			if b.n == 0 {
				p.used = append(p.used, k)
			}
			b.n++
			b.sum[0] += uint32(row[i])
			b.sum[1] += uint32(row[i+1])
			b.sum[2] += uint32(row[i+2])
		}
	}
	for _, k := range p.used {
		b := &p.bins[k]
		for c := range b.channel {
			b.channel[c] = uint8(b.sum[c] / b.n)
		}
	}
	slices.Sort(p.used)
	p.boxes = append(p.boxes[:0], p.box(p.used))
	for len(p.boxes) < most {
		best := 0
		for i := range p.boxes {
			if p.boxes[i].gain > p.boxes[best].gain {
				best = i
			}
		}
		if p.boxes[best].gain == 0 {
			break // every bin has its own colour
		}
		a, b := p.halve(p.boxes[best])
		p.boxes[best] = a
		p.boxes = append(p.boxes, b)
	}
	p.colours = p.colours[:0]
	for i, box := range p.boxes {
		var n uint64
		var sum [3]uint64
		for _, k := range box.bins {
			b := &p.bins[k]
			b.colour = uint8(i)
			n += uint64(b.n)
			for c := range sum {
				sum[c] += uint64(b.sum[c])
			}
		}
		p.colours = append(p.colours, [3]uint8{uint8((sum[0] + n/2) / n), uint8((sum[1] + n/2) / n), uint8((sum[2] + n/2) / n)})
	}
}

// box measures some bins.
func (p *palette) box(bins []int32) box {
	b := box{bins: bins}
	if len(bins) < 2 {
		return b
	}
	lo, hi := [3]uint8{255, 255, 255}, [3]uint8{}
	var n uint64
	for _, k := range bins {
		at := &p.bins[k]
		n += uint64(at.n)
		for c, v := range at.channel {
			lo[c], hi[c] = min(lo[c], v), max(hi[c], v)
		}
	}
	for c := range lo {
		if hi[c]-lo[c] > hi[b.axis]-lo[b.axis] {
			b.axis = c
		}
	}
	wide := uint64(hi[b.axis] - lo[b.axis])
	b.gain = n * wide * wide
	return b
}

// halve parts a box at the middle of its px, so that either half has a bin at least.
func (p *palette) halve(b box) (low, high box) {
	slices.SortFunc(b.bins, func(x, y int32) int {
		return cmp.Or(cmp.Compare(p.bins[x].channel[b.axis], p.bins[y].channel[b.axis]), cmp.Compare(x, y))
	})
	var all, sum uint64
	for _, k := range b.bins {
		all += uint64(p.bins[k].n)
	}
	at := 1
	for i, k := range b.bins[:len(b.bins)-1] {
		at = i + 1
		if sum += uint64(p.bins[k].n); 2*sum >= all {
			break
		}
	}
	return p.box(b.bins[:at]), p.box(b.bins[at:])
}

// apply writes the number of each px's colour. The picture is the one that choose saw.
func (p *palette) apply(dst []uint8, img *image.RGBA) {
	width := img.Rect.Dx()
	for y := range img.Rect.Dy() {
		row, out := img.Pix[y*img.Stride:][:4*width], dst[y*width:][:width]
		for i := range out {
			out[i] = p.bins[binOf(row[4*i:4*i+3])].colour
		}
	}
}
