package shot

import (
	"bufio"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"io"

	"github.com/bep/imagemeta"
)

// newJPEG reads a JPEG file whole: there is no reader of rows for it. A header that the file cannot hold, or that needs
// too much memory, is refused before anything is allocated for the picture.
func newJPEG(f io.ReaderAt, size int64) (rows, error) {
	cfg, err := jpeg.DecodeConfig(bufio.NewReader(io.NewSectionReader(f, 0, size)))
	if err != nil {
		return nil, jpegFault(err)
	}
	h := Header{Format: "JPEG", Width: cfg.Width, Height: cfg.Height, Channels: 3, Depth: 8, Orientation: exifOrientation(f, size, "JPEG"), Pages: 1}
	if err := h.checkSides(); err != nil {
		return nil, err
	}
	frame, err := readJPEGFrame(io.NewSectionReader(f, 0, size))
	if err != nil {
		return nil, fmt.Errorf("JPEG header: %w", err)
	}
	if err := frame.fits(size); err != nil {
		return nil, err
	}
	if need := frame.memory(cfg.ColorModel == color.RGBAModel); need > wholePicture {
		return nil, fmt.Errorf("this JPEG file of %d × %d pixels needs %d MB at once, where %d are allowed: save it as TIFF in tiles, or as PNG", h.Width, h.Height, need>>20, wholePicture>>20)
	}
	switch cfg.ColorModel {
	case color.GrayModel:
		h.Channels = 1
	case color.CMYKModel:
		h.Notes = append(h.Notes, "colours of print (CMYK) are turned into red, green, blue")
	}
	img, err := jpeg.Decode(bufio.NewReader(io.NewSectionReader(f, 0, size)))
	if err != nil {
		return nil, jpegFault(err)
	}
	return &imageReader{header: h, img: img}, nil
}

// jpegFault says what to do about a file that cannot be decoded.
func jpegFault(err error) error {
	if unread := jpeg.UnsupportedError(""); errors.As(err, &unread) {
		return fmt.Errorf("JPEG: %w: save it as PNG or TIFF", err)
	}
	return fmt.Errorf("JPEG: %w", short(err))
}

// imageReader gives the rows of a picture that is held whole.
type imageReader struct {
	header Header
	img    image.Image
	row    int
	clear  []bool // of the last row; nil: nothing is transparent
}

func (r *imageReader) Header() *Header { return &r.header }

func (r *imageReader) Clear() []bool { return r.clear }

func (r *imageReader) Straight() {} // PNG never multiplies

func (r *imageReader) ReadRow(dst []byte) error {
	if r.row == r.header.Height {
		return io.EOF
	}
	imageRow(dst, r.img, r.row, r.header.Channels, r.header.Depth)
	b := r.img.Bounds()
	for x := range r.clear {
		_, _, _, alpha := r.img.At(b.Min.X+x, b.Min.Y+r.row).RGBA()
		r.clear[x] = alpha < 1<<15
	}
	r.row++
	return nil
}

// imageRow writes row y of an image, counted from its top.
func imageRow(dst []byte, img image.Image, y, channels, depth int) {
	b := img.Bounds()
	y += b.Min.Y
	switch img := img.(type) {
	case *image.Gray:
		copy(dst, img.Pix[img.PixOffset(b.Min.X, y):][:b.Dx()])
		return
	case *image.YCbCr:
		for x := range b.Dx() {
			yi, ci := img.YOffset(b.Min.X+x, y), img.COffset(b.Min.X+x, y)
			dst[3*x], dst[3*x+1], dst[3*x+2] = color.YCbCrToRGB(img.Y[yi], img.Cb[ci], img.Cr[ci])
		}
		return
	}
	for x := range b.Dx() {
		rgb := straight(img.At(b.Min.X+x, y))
		for i, v := range rgb[:channels] {
			k := x*channels + i
			if depth == 8 {
				dst[k] = byte(v >> 8)
			} else {
				dst[2*k], dst[2*k+1] = byte(v>>8), byte(v)
			}
		}
	}
}

// straight returns red, green and blue without transparency. Colours that keep it apart are taken as they are: their
// RGBA method would multiply it in.
func straight(c color.Color) [3]uint16 {
	switch c := c.(type) {
	case color.NRGBA:
		return [3]uint16{uint16(c.R) * 257, uint16(c.G) * 257, uint16(c.B) * 257}
	case color.NRGBA64:
		return [3]uint16{c.R, c.G, c.B}
	}
	r, g, b, _ := c.RGBA()
	return [3]uint16{uint16(r), uint16(g), uint16(b)}
}

// exifOrientation returns the orientation that a JPEG or PNG file states, upright where it states none.
func exifOrientation(f io.ReaderAt, size int64, format string) Orientation {
	kind := imagemeta.JPEG
	if format == "PNG" {
		kind = imagemeta.PNG
	}
	o := TopLeft
	// An error means that the rest cannot be read: what was found before it counts.
	_, _ = imagemeta.Decode(imagemeta.Options{R: io.NewSectionReader(f, 0, size), ImageFormat: kind, Sources: imagemeta.EXIF,
		ShouldHandleTag: func(t imagemeta.TagInfo) bool { return t.Tag == "Orientation" },
		HandleTag: func(t imagemeta.TagInfo) error {
			if v, ok := t.Value.(uint16); ok && Orientation(v).Valid() && t.Namespace == "IFD0" {
				o = Orientation(v)
			}
			return nil
		}})
	return o
}
