package shot

import "fmt"

func (p *tiffPicture) Clear() []bool { return p.clear }

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
			p.alpha, p.clear = colours+i, make([]bool, h.Width)
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
	wide := p.bits / 8
	from, step, row := p.alpha*wide, p.samples*wide, planes[0]
	if p.planar {
		from, step, row = 0, wide, planes[len(planes)-1]
	}
	if !p.bigEndian() {
		from += wide - 1 // the high byte
	}
	for x := range clear {
		clear[x] = row[from+x*step] < 1<<7
	}
}
