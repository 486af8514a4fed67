package shot

import (
	"bufio"
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"io"
)

// jpegBlock unpacks a block in JPEG compression: the tables that all blocks share without their end, then the block
// without its beginning (TIFF Technical Note 2).
func (r *blockReader) jpegBlock(i, high, perPixel int) ([]byte, error) {
	in, err := r.block(i)
	if err != nil {
		return nil, err
	}
	stream := func() io.Reader {
		in.Seek(0, io.SeekStart) // of a section: cannot fail
		if len(r.tables) < 4 {
			return bufio.NewReader(in)
		}
		in.Seek(2, io.SeekStart)
		return bufio.NewReader(io.MultiReader(bytes.NewReader(r.tables[:len(r.tables)-2]), in))
	}
	cfg, err := jpeg.DecodeConfig(stream())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", r.name(i), err)
	}
	if cfg.Width < min(r.blockWidth, r.header.Width) || cfg.Width > r.blockWidth || cfg.Height < high || cfg.Height > r.blockHeight {
		return nil, fmt.Errorf("%s: the JPEG data says %d × %d pixels, the directory %d × %d", r.name(i), cfg.Width, cfg.Height, r.blockWidth, r.blockHeight)
	}
	if err := r.jpegFits(stream(), in.Size()+int64(len(r.tables))); err != nil {
		return nil, fmt.Errorf("%s: %w", r.name(i), err)
	}
	img, err := jpeg.Decode(stream())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", r.name(i), err)
	}
	if _, grey := img.(*image.Gray); grey != (perPixel == 1) {
		return nil, fmt.Errorf("%s: the JPEG data and the directory disagree about colours", r.name(i))
	}
	b := make([]byte, high*r.blockWidth*perPixel)
	for y := range high {
		row := b[y*r.blockWidth*perPixel:]
		if c, ok := img.(*image.YCbCr); ok && r.photometric == tiffRGB {
			for x := range cfg.Width { // its planes are red, green and blue
				yi, ci := c.YOffset(x, y), c.COffset(x, y)
				row[3*x], row[3*x+1], row[3*x+2] = c.Y[yi], c.Cb[ci], c.Cr[ci]
			}
			continue
		}
		imageRow(row, img, y, perPixel, 8)
	}
	return b, nil
}

// jpegFits returns an error where a block's stream of so many bytes cannot hold what it says, or takes too much memory.
func (r *blockReader) jpegFits(in io.Reader, size int64) error {
	frame, err := readJPEGFrame(in)
	if err != nil {
		return err
	}
	if need := frame.memory(true); need > wholePicture {
		return fmt.Errorf("its JPEG data needs %d MB at once, where %d are allowed: save it in tiles of 256 × 256", need>>20, wholePicture>>20)
	}
	return frame.fits(size)
}
