package shot

import "io"

// MaxSide is the largest width and height in pixels of a photograph, far beyond any mosaic that a microscope makes.
const MaxSide = 1 << 18

// Header says what a photograph holds before a pixel of it is read.
type Header struct {
	Format        string      // "PNG", "TIFF" or "JPEG"
	Width, Height int         // in pixels, as stored: before Orientation is applied
	Channels      int         // 1 grey, 3 red, green, blue
	Depth         int         // bits a sample: 8 or 16
	Orientation   Orientation // how the stored picture is to be turned to stand upright
	Pages         int         // pictures in the file; one of them is read
	Notes         []string    // what the file holds and ReadRow leaves out, for the user
}

// PixelBytes returns the number of bytes of a pixel.
func (h *Header) PixelBytes() int { return h.Channels * h.Depth / 8 }

// RowBytes returns the number of bytes of a row.
func (h *Header) RowBytes() int { return h.Width * h.PixelBytes() }

// Reader reads a photograph row by row, as it is stored, so that memory does not go with its size.
type Reader interface {
	Header() *Header
	// ReadRow fills dst, RowBytes long, with the next row: samples of a pixel together, those of 16 bits with the high
	// byte first. After the last row it returns io.EOF; where the file is at fault an error that says what and where.
	ReadRow(dst []byte) error
	io.Closer
}

// File is a picture in a file: what Open returns.
type File interface {
	Reader
	// Clear says of each pixel of the row that was read last whether it is transparent: whether its alpha is below half, 128
	// of 255 or 32768 of 65535. nil: the file says nothing of that. It holds until the next row is read. ReadRow gives the
	// pixels' colours as they are stored, as if they were opaque.
	Clear() []bool
	// Straight has ReadRow give colours that the file holds multiplied by alpha (associated alpha, in TIFF) as they were
	// before. It is to be called before the first row is read.
	Straight()
}

// AlphaLeftOut is the note of what File.Clear tells, for those who only take rows.
const AlphaLeftOut = "transparency is left out"
