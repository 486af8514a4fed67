package simulate

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// ReadRaw reads a raw file, as SPICE3 and ngspice write it: one plot after the other, each with a head of text and then its
// values, either "Binary:" (8-byte little-endian doubles, point by point; two for a complex value) or "Values:" (text).
// Vectors that are shorter than their plot (dims= in the head) come out with their own length, whether the file fills
// the rest with zeros ("padded", the usual) or leaves it out ("unpadded").
//
// limit bounds the bytes that are read; 0 is none. Memory goes with what has been read, never with what the head claims.
// An error says in which plot; what was read whole before it comes with it. A plot that says that it has no points, as
// does one whose writer was ended, is an error.
// Sources: REFERENCES of the format are the SPICE3 user's manual and files written by ngspice-39.
func ReadRaw(r io.Reader, limit int64) ([]Plot, error) {
	s := &rawReader{left: limit}
	if limit <= 0 {
		s.left = math.MaxInt64
	}
	s.r = bufio.NewReaderSize(&countedReader{r, s}, 1<<16)
	var plots []Plot
	for {
		h, err := s.head()
		if err == io.EOF && len(plots) > 0 {
			return plots, nil
		}
		if err == io.EOF {
			return nil, errors.New("raw file: empty")
		}
		if err == nil {
			err = s.values(h)
		}
		if err != nil {
			return plots, fmt.Errorf("raw file, plot %d: %w", len(plots)+1, err)
		}
		plots = append(plots, h.plot)
	}
}

// What a raw file may not exceed, whatever its length.
const (
	maxLine      = 1 << 16
	maxVariables = 1 << 20
)

var errLimit = errors.New("longer than the limit")

// rawReader reads a raw file within a limit.
type rawReader struct {
	r    *bufio.Reader
	left int64 // bytes that may still be taken from the file
}

type countedReader struct {
	r io.Reader
	s *rawReader
}

func (c *countedReader) Read(p []byte) (int, error) {
	if c.s.left <= 0 {
		// At the limit it matters whether the file ends here.
		var one [1]byte
		if n, err := c.r.Read(one[:]); n == 0 {
			return 0, err
		}
		return 0, errLimit
	}
	if int64(len(p)) > c.s.left {
		p = p[:c.s.left]
	}
	n, err := c.r.Read(p)
	c.s.left -= int64(n)
	return n, err
}

// line returns the next line without its end. io.EOF only where nothing is left.
func (s *rawReader) line() (string, error) {
	var b []byte
	for {
		part, err := s.r.ReadSlice('\n')
		b = append(b, part...)
		if len(b) > maxLine {
			return "", errors.New("a line of the head is longer than 65,536 bytes")
		}
		if err == bufio.ErrBufferFull {
			continue
		}
		if err == io.EOF && len(b) > 0 {
			err = nil
		}
		return strings.TrimRight(string(b), "\r\n"), err
	}
}

// rawHead is what stands before the values.
type rawHead struct {
	plot     Plot
	points   int
	lengths  []int // of each vector; -1: all points
	unpadded bool
	binary   bool
}

// head reads up to and with the line "Binary:" or "Values:". io.EOF if only blank lines are left.
func (s *rawReader) head() (*rawHead, error) {
	h := &rawHead{points: -1}
	count, begun := -1, false
	for {
		line, err := s.line()
		if err != nil {
			if err == io.EOF && begun {
				return nil, errors.New("ends in its head")
			}
			return nil, err
		}
		if strings.TrimSpace(line) == "" {
			continue
		}
		begun = true
		key, value, ok := strings.Cut(line, ":")
		if !ok {
			return nil, fmt.Errorf("%q is no line of a head", shorten(line, 40))
		}
		value = strings.TrimSpace(value)
		switch strings.ToLower(strings.TrimSpace(key)) {
		case "plotname":
			h.plot.Title = value
		case "flags":
			for _, f := range strings.Fields(strings.ToLower(value)) {
				switch f {
				case "real", "padded":
				case "complex":
					h.plot.Complex = true
				case "unpadded":
					h.unpadded = true
				default:
					return nil, fmt.Errorf("unknown flag %q", shorten(f, 40))
				}
			}
		case "no. variables":
			if count, err = number(value, 1, maxVariables); err != nil {
				return nil, fmt.Errorf("number of variables: %w", err)
			}
		case "no. points":
			if h.points, err = number(value, 0, math.MaxInt32); err != nil {
				return nil, fmt.Errorf("number of points: %w", err)
			}
		case "variables":
			if count < 0 {
				return nil, errors.New("variables before their number")
			}
			if err := s.variables(h, count, value); err != nil {
				return nil, err
			}
		case "binary", "values":
			h.binary = strings.EqualFold(strings.TrimSpace(key), "binary")
			switch {
			case value != "":
				return nil, fmt.Errorf("%q is no line of a head", shorten(line, 40))
			case len(h.plot.Vectors) == 0:
				return nil, errors.New("no variables")
			case h.points < 0:
				return nil, errors.New("no number of points")
			case h.points == 0:
				return nil, errors.New("it has no points; its writer may have been ended before it was done")
			}
			return h, h.fits()
		case "title", "date", "command", "option", "dimensions", "offset", "backannotation", "source":
		default:
			return nil, fmt.Errorf("%q is no line of a head", shorten(line, 40))
		}
	}
}

// fits says whether the lengths go with the number of points. In an unpadded file a point beyond all vectors would take no
// byte: a head could claim any number of them.
func (h *rawHead) fits() error {
	longest := 0
	for _, n := range h.lengths {
		if n < 0 {
			return nil
		}
		longest = max(longest, n)
	}
	if longest < h.points && h.unpadded {
		return fmt.Errorf("%d points, but the longest vector has %d", h.points, longest)
	}
	return nil
}

func number(s string, least, most int) (int, error) {
	n, err := strconv.Atoi(s)
	if err != nil || n < least || n > most {
		return 0, fmt.Errorf("%q; %d to %d were expected", shorten(s, 40), least, most)
	}
	return n, nil
}

// variables reads the lines "index name type [dims=…]" of all vectors; the first may stand behind "Variables:".
func (s *rawReader) variables(h *rawHead, count int, first string) error {
	if len(h.plot.Vectors) > 0 {
		return errors.New("variables twice")
	}
	for i := range count {
		line := first
		if i > 0 || first == "" {
			var err error
			if line, err = s.line(); err != nil {
				if err == io.EOF {
					err = errors.New("ends among its variables")
				}
				return err
			}
		}
		f := strings.Fields(line)
		if len(f) < 3 {
			return fmt.Errorf("variable %d: %q has no index, name and type", i, shorten(line, 40))
		}
		if n, err := strconv.Atoi(f[0]); err != nil || n != i {
			return fmt.Errorf("variable %d: %q has another index", i, shorten(line, 40))
		}
		length := -1
		for _, extra := range f[3:] {
			if dims, ok := strings.CutPrefix(extra, "dims="); ok {
				length = 1
				for _, d := range strings.Split(dims, ",") {
					n, err := number(d, 1, math.MaxInt32)
					if err != nil || length > math.MaxInt32/n {
						return fmt.Errorf("variable %d: dimensions %q", i, shorten(dims, 40))
					}
					length *= n
				}
			}
		}
		h.plot.Vectors = append(h.plot.Vectors, Vector{Name: strings.ToLower(f[1]), Type: f[2]})
		h.lengths = append(h.lengths, length)
	}
	return nil
}
