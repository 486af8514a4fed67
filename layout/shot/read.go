package shot

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
)

// Open opens a PNG, TIFF or JPEG file, told by its content. Of a TIFF file with several pictures it reads that of a page,
// counted from 1; 0 is the first. JPEG files and interlaced PNG files are decoded here, as a whole.
//
// Once ctx ends, so does all reading of the file, here and in ReadRow, with the context's error; what was decoded
// before is still given.
func Open(ctx context.Context, path string, page int) (File, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	info, err := f.Stat()
	if err == nil && !info.Mode().IsRegular() {
		err = fmt.Errorf("%s: not a file", path)
	}
	if err != nil {
		f.Close()
		return nil, err
	}
	r, err := newReader(heard{ctx, f}, info.Size(), page)
	if err != nil {
		f.Close()
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return &fileReader{r, f, path}, nil
}

// Known returns an error where a file is of no kind that Open reads, by its first bytes.
func Known(path string) error {
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	if !info.Mode().IsRegular() { // to open a pipe would wait for somebody who writes
		return errors.New("not a file")
	}
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	_, err = formatOf(f)
	return err
}

// fileReader closes the file and names it in errors.
type fileReader struct {
	rows
	file *os.File
	path string
}

func (f *fileReader) ReadRow(dst []byte) error {
	err := f.rows.ReadRow(dst)
	if err == nil || err == io.EOF {
		return err
	}
	return fmt.Errorf("%s: %w", f.path, err)
}

func (f *fileReader) Close() error { return f.file.Close() }

// heard reads until a context ends.
type heard struct {
	ctx context.Context
	in  io.ReaderAt
}

func (h heard) ReadAt(b []byte, at int64) (int, error) {
	if err := h.ctx.Err(); err != nil {
		return 0, err
	}
	return h.in.ReadAt(b, at)
}

// endsAt says what an error in reading at a byte means: that the file ends there, or what else the system says.
func endsAt(at int64, err error) error {
	if err == io.EOF || err == io.ErrUnexpectedEOF {
		return fmt.Errorf("byte %d: the file is %s", at, cutOff)
	}
	return fmt.Errorf("byte %d: %w", at, err)
}

// rows is a File without what is to be closed.
type rows interface {
	Header() *Header
	ReadRow(dst []byte) error
	Clear() []bool
	Straight()
}

// The first bytes by which files are told.
var (
	pngMagic   = []byte("\x89PNG\r\n\x1a\n")
	jpegMagic  = []byte("\xff\xd8\xff")
	tiffMagics = [][]byte{[]byte("II*\x00"), []byte("MM\x00*"), []byte("II+\x00"), []byte("MM\x00+")}
)

// errKind is the error for files of no kind that is read.
var errKind = errors.New("not a PNG, TIFF or JPEG file: save the photograph as one of these; TIFF in tiles is best for large ones")

// formatOf tells what a file holds by its first bytes.
func formatOf(f io.ReaderAt) (string, error) {
	magic := make([]byte, 8)
	if n, err := f.ReadAt(magic, 0); err != nil && err != io.EOF {
		return "", err
	} else if n < 4 {
		return "", errKind
	}
	switch {
	case slices.ContainsFunc(tiffMagics, func(m []byte) bool { return bytes.HasPrefix(magic, m) }):
		return "TIFF", nil
	case bytes.Equal(magic, pngMagic):
		return "PNG", nil
	case bytes.HasPrefix(magic, jpegMagic):
		return "JPEG", nil
	}
	return "", errKind
}

// newReader reads size bytes of f.
func newReader(f io.ReaderAt, size int64, page int) (r rows, err error) {
	format, err := formatOf(f)
	switch {
	case err != nil:
		return nil, err
	case format == "TIFF":
		r, err = newTIFF(f, size, page)
	case page > 1:
		return nil, fmt.Errorf("page %d: only TIFF files have more than one picture", page)
	case format == "PNG":
		r, err = newPNG(f, size)
	default:
		r, err = newJPEG(f, size)
	}
	if err != nil {
		return nil, err
	}
	return r, r.Header().Check()
}

// Check returns an error where a photograph cannot be what the header says.
func (h *Header) Check() error {
	switch err := h.checkSides(); {
	case err != nil:
		return err
	case h.Channels != 1 && h.Channels != 3:
		return fmt.Errorf("%d channels: a photograph has 1 or 3", h.Channels)
	case h.Depth != 8 && h.Depth != 16:
		return fmt.Errorf("samples of %d bits: a photograph has 8 or 16", h.Depth)
	case !h.Orientation.Valid():
		return fmt.Errorf("orientation %d: there are 1 to 8", h.Orientation)
	}
	return nil
}

func (h *Header) checkSides() error {
	if h.Width < 1 || h.Height < 1 || h.Width > MaxSide || h.Height > MaxSide {
		return fmt.Errorf("the %s header says %d × %d pixels: a photograph has 1 to %d a side; where it is right, cut the picture into parts", h.Format, h.Width, h.Height, MaxSide)
	}
	return nil
}

// cutOff says of a file that ends too early what it is and what to do.
const cutOff = "cut off or damaged: copy it anew from the camera"

// wholePicture bounds what must be held in memory at once, in bytes, where a format has no rows to stream.
const wholePicture = 1 << 30
