package simulate

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// values reads the values of a plot whose head was read.
func (s *rawReader) values(h *rawHead) error {
	next := s.text(h.plot.Complex)
	if h.binary {
		next = s.double(h.plot.Complex)
	}
	for p := range h.points {
		if !h.binary {
			word, err := s.word()
			if err == nil {
				_, err = number(word, p, p)
			}
			if err != nil {
				return within(h, p, err)
			}
		}
		for i := range h.plot.Vectors {
			inside := h.lengths[i] < 0 || p < h.lengths[i]
			if !inside && h.unpadded {
				continue
			}
			re, im, err := next()
			if err != nil {
				return within(h, p, err)
			}
			if !inside {
				continue
			}
			v := &h.plot.Vectors[i]
			v.Re = append(v.Re, re)
			if h.plot.Complex {
				v.Im = append(v.Im, im)
			}
		}
	}
	return nil
}

func within(h *rawHead, point int, err error) error {
	if err == io.EOF || err == io.ErrUnexpectedEOF {
		err = errors.New("the file ends")
	}
	return fmt.Errorf("%s, point %d of %d: %w", shorten(h.plot.Title, 40), point+1, h.points, err)
}

// double returns a reader of binary values.
func (s *rawReader) double(isComplex bool) func() (re, im float64, err error) {
	var buffer [16]byte
	b := buffer[:8]
	if isComplex {
		b = buffer[:]
	}
	return func() (re, im float64, err error) {
		if _, err := io.ReadFull(s.r, b); err != nil {
			return 0, 0, err
		}
		re = math.Float64frombits(binary.LittleEndian.Uint64(b))
		if isComplex {
			im = math.Float64frombits(binary.LittleEndian.Uint64(b[8:]))
		}
		return re, im, nil
	}
}

// text returns a reader of values that are words: "1.5e-3", complex "1.5e-3,0".
func (s *rawReader) text(isComplex bool) func() (re, im float64, err error) {
	return func() (re, im float64, err error) {
		word, err := s.word()
		if err != nil {
			return 0, 0, err
		}
		if !isComplex {
			re, err = textValue(word)
			return re, 0, err
		}
		a, b, ok := strings.Cut(word, ",")
		if !ok {
			return 0, 0, fmt.Errorf("%q is no complex value", word)
		}
		if re, err = textValue(a); err != nil {
			return 0, 0, err
		}
		im, err = textValue(b)
		return re, im, err
	}
}

// textValue reads what C's printf writes of a double, "-nan" among it. What is out of range is infinite or 0.
func textValue(word string) (float64, error) {
	v, err := strconv.ParseFloat(word, 64)
	if err == nil || errors.Is(err, strconv.ErrRange) {
		return v, nil
	}
	if strings.HasPrefix(strings.TrimLeft(strings.ToLower(word), "+-"), "nan") {
		return math.NaN(), nil
	}
	return 0, fmt.Errorf("%q is no value", shorten(word, 40))
}

// word returns the next run of letters that are not blank, of at most 200, with a blank or a line's end behind it.
func (s *rawReader) word() (string, error) {
	var b []byte
	for {
		c, err := s.r.ReadByte()
		if err != nil {
			return "", err // also within a word: of a file that was cut, "1e-3" may be all that there is of 1e-31
		}
		if c == ' ' || c == '\t' || c == '\n' || c == '\r' {
			if len(b) > 0 {
				return string(b), nil
			}
			continue
		}
		if len(b) == 200 {
			return "", errors.New("a value of more than 200 letters")
		}
		b = append(b, c)
	}
}
