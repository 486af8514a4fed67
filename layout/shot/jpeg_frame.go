package shot

import (
	"bufio"
	"errors"
	"fmt"
	"io"
)

// jpegFrame is what a JPEG stream says before its first scan (ITU-T T.81, B.2; from memory).
type jpegFrame struct {
	width, height int
	progressive   bool
	factors       [][2]int // of each component, how often it is sampled across and down
	scans         int64    // the byte of the stream at which the first scan begins
}

// readJPEGFrame reads the segments up to the first scan in the way of image/jpeg, which skips stray bytes between them,
// so that both see the same frame.
func readJPEGFrame(in io.Reader) (*jpegFrame, error) {
	s := &jpegSegments{in: bufio.NewReader(in)}
	s.skip(2) // the start of the image
	var f *jpegFrame
	for {
		marker, n := s.next()
		switch {
		case s.err != nil:
			return nil, s.err
		case marker == 0xda && f == nil:
			return nil, errors.New("a scan before the frame that says what it holds")
		case marker == 0xda:
			f.scans = s.at
			return f, nil
		case marker >= 0xc0 && marker <= 0xc2 && f == nil:
			f = s.frame(marker == 0xc2, n)
		default:
			s.skip(n)
		}
	}
}

// jpegSegments reads a stream segment by segment; the first error stays.
type jpegSegments struct {
	in  *bufio.Reader
	at  int64
	err error
}

func (s *jpegSegments) byte() int {
	if s.err != nil {
		return 0
	}
	b, err := s.in.ReadByte()
	if err != nil {
		s.err = endsAt(s.at, err)
	}
	s.at++
	return int(b)
}

func (s *jpegSegments) skip(n int) {
	for range n {
		s.byte()
	}
}

// next returns the marker of the next segment that has a length, and how many bytes follow it.
func (s *jpegSegments) next() (marker, n int) {
	for s.err == nil {
		if s.byte() != 0xff {
			continue
		}
		marker = s.byte()
		for marker == 0xff && s.err == nil {
			marker = s.byte()
		}
		if marker == 0 || marker >= 0xd0 && marker <= 0xd7 { // a stray byte, a restart
			continue
		}
		n = s.byte()<<8 + s.byte() - 2
		if marker == 0xd9 || n < 0 {
			s.err = fmt.Errorf("byte %d: the JPEG data ends without a picture", s.at)
		}
		return marker, n
	}
	return 0, 0
}

// frame reads the segment of n bytes that says what the picture is.
func (s *jpegSegments) frame(progressive bool, n int) *jpegFrame {
	f := &jpegFrame{progressive: progressive}
	s.byte() // bits a sample
	f.height = s.byte()<<8 + s.byte()
	f.width = s.byte()<<8 + s.byte()
	for range min(s.byte(), 4) {
		s.byte() // its name
		hv := s.byte()
		f.factors = append(f.factors, [2]int{max(1, hv>>4), max(1, hv&15)})
		s.byte() // its table
	}
	if len(f.factors) == 1 {
		f.factors[0] = [2]int{1, 1} // a single component is never interleaved
	}
	s.skip(n - 6 - 3*len(f.factors))
	return f
}

// blocks returns how many blocks of 8 × 8 samples the picture has, and how many are held with the rims filled up to
// whole units of interleaving.
func (f *jpegFrame) blocks() (coded, held int64) {
	across, down := 1, 1
	for _, k := range f.factors {
		across, down = max(across, k[0]), max(down, k[1])
	}
	units := int64(ceil(f.width, 8*across)) * int64(ceil(f.height, 8*down))
	for _, k := range f.factors {
		coded += int64(ceil(ceil(f.width*k[0], across), 8)) * int64(ceil(ceil(f.height*k[1], down), 8))
		held += units * int64(k[0]*k[1])
	}
	return coded, held
}

func ceil(a, b int) int { return (a + b - 1) / b }

// memory returns how many bytes image/jpeg takes for the picture, by its source as of Go 1.26 (scan.go, reader.go): one
// a sample; four more where it is progressive, since all coefficients are held until the last scan; and four a pixel
// for another picture where colours are converted, as those of print are, and red, green, blue kept as such.
func (f *jpegFrame) memory(converted bool) int64 {
	_, held := f.blocks()
	need := 64 * held
	if f.progressive {
		need *= 5
	}
	if converted || len(f.factors) == 4 {
		need += 4 * int64(f.width) * int64(f.height)
	}
	return need
}

// fits returns an error where a stream of so many bytes cannot hold the picture: a block takes two bits at least, a
// code for its mean and one for the end of its block, which a code table may make as short as one bit each. In
// progressive files one is certain: the codes after that of the mean may stand for the ends of 32,767 blocks at once.
func (f *jpegFrame) fits(size int64) error {
	bits, _ := f.blocks()
	if !f.progressive {
		bits *= 2
	}
	if bits/8 > size-f.scans {
		return fmt.Errorf("the JPEG header says %d × %d pixels, which %d bytes cannot hold: the file is %s", f.width, f.height, size, cutOff)
	}
	return nil
}
