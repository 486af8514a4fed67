package shot

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
)

func (p *pngReader) Clear() []bool { return p.clear }

func (p *pngReader) Straight() {} // PNG never multiplies

// seeThrough notes that there is alpha.
func (p *pngReader) seeThrough() {
	p.header.Notes = append(p.header.Notes, AlphaLeftOut)
	p.clear = make([]bool, p.header.Width)
}

// readAlphas reads a chunk tRNS: one alpha a colour of the palette, in its order, those that are missing 255; or the one
// grey or colour that is transparent, two bytes a sample (PNG specification, 11.3.1.1; from memory).
func (p *pngReader) readAlphas(c *pngChunks, n uint32) error {
	want := 2 * uint32(p.samples)
	switch {
	case p.samples != p.header.Channels && p.palette == nil: // not allowed beside an alpha of each pixel, which counts
		return nil
	case p.palette != nil && n > 256, p.palette == nil && n != want:
		return fmt.Errorf("byte %d: a chunk tRNS of %d bytes: save it again as a plain PNG", c.at, n)
	}
	p.trns = make([]byte, n)
	if _, err := io.ReadFull(c, p.trns); err != nil {
		return err
	}
	if p.clear == nil {
		p.seeThrough()
	}
	return nil
}

// findClear finds what is transparent in a stored row.
func (p *pngReader) findClear(row []byte) {
	switch wide := p.bits / 8; {
	case p.clear == nil:
	case p.palette != nil:
		for x := range p.clear {
			k := int(packedSample(row, x, p.bits))
			p.clear[x] = k < len(p.trns) && p.trns[k] < 1<<7
		}
	case p.trns == nil: // alpha is the last sample, its high byte first
		for x := range p.clear {
			p.clear[x] = row[((x+1)*p.samples-1)*wide] < 1<<7
		}
	case p.bits < 8:
		grey := binary.BigEndian.Uint16(p.trns)
		for x := range p.clear {
			p.clear[x] = uint16(packedSample(row, x, p.bits)) == grey
		}
	case p.bits == 16:
		for x := range p.clear {
			p.clear[x] = bytes.Equal(row[x*len(p.trns):(x+1)*len(p.trns)], p.trns)
		}
	default:
		for x := range p.clear {
			same := true
			for i := range p.samples {
				same = same && uint16(row[x*p.samples+i]) == binary.BigEndian.Uint16(p.trns[2*i:])
			}
			p.clear[x] = same
		}
	}
}
