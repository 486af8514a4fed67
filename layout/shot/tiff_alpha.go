package shot

import (
	"encoding/binary"
	"fmt"
)

func (p *tiffPicture) Clear() []bool { return p.clear }

func (p *tiffPicture) Straight() { p.straight = true }

// readExtra finds out what a pixel has beside its colours. It is said in their order; 1 and 2 are alpha, with the colours
// multiplied by it or not (TIFF 6.0, section 18, ExtraSamples; from memory). The first alpha counts.
func (p *tiffPicture) readExtra(colours int) error {
	h := &p.header
	if p.compression == tiffJPEG && !p.planar {
		return fmt.Errorf("%d samples a pixel in JPEG compression are not read: save it without transparency", p.samples)
	}
	kinds, err := p.dir.uints(tagExtraSamples, mostSamples)
	if err != nil {
		return err
	}
	others := p.samples - colours
	for i, k := range kinds {
		if (k == 1 || k == 2) && colours+i < p.samples {
			p.alpha, p.associated, p.clear = colours+i, k == 1, make([]bool, h.Width)
			h.Notes = append(h.Notes, AlphaLeftOut)
			others--
			break
		}
	}
	if others > 0 {
		h.Notes = append(h.Notes, "what a pixel has beside its colour is left out")
	}
	return nil
}

// findClear finds what is transparent in a row of stored planes.
func (p *tiffPicture) findClear(clear []bool, planes [][]byte) {
	if p.alpha == 0 {
		return
	}
	row, step := p.alphas(planes)
	if !p.bigEndian() {
		row = row[p.bits/8-1:] // the high byte
	}
	for x := range clear {
		clear[x] = row[x*step] < 1<<7
	}
}

// alphas returns where the first alpha of a row of stored planes begins, and how many bytes further on the next one.
func (p *tiffPicture) alphas(planes [][]byte) (row []byte, step int) {
	wide := p.bits / 8
	if p.planar {
		return planes[len(planes)-1], wide
	}
	return planes[0][p.alpha*wide:], p.samples * wide
}

// straighten divides the colours of a row by its alphas, if that is wanted. What has an alpha of 0 has no colour to find. Of a
// palette the colours are none of the samples; what white is zero multiplies is not told (TIFF 6.0, section 18).
func (p *tiffPicture) straighten(dst []byte, planes [][]byte, width int) {
	if !p.straight || !p.associated || p.palette != nil || p.photometric == whiteIsZero {
		return
	}
	row, step := p.alphas(planes)
	n := p.header.Channels
	for x := range width {
		if a := row[x*step:]; p.bits == 8 {
			for i := x * n; i < (x+1)*n; i++ {
				dst[i] = byte(divided(int(dst[i]), int(a[0]), 1<<8-1))
			}
		} else {
			for i := 2 * x * n; i < 2*(x+1)*n; i += 2 {
				v := divided(int(binary.BigEndian.Uint16(dst[i:])), int(p.dir.file.order.Uint16(a)), 1<<16-1)
				binary.BigEndian.PutUint16(dst[i:], uint16(v))
			}
		}
	}
}

// divided returns the sample that, multiplied by a part alpha of most, is v.
func divided(v, alpha, most int) int {
	if alpha == 0 {
		return v
	}
	return min((v*most+alpha/2)/alpha, most)
}
