package mask

import (
	"cmp"
	"fmt"
	"io"
	"math/bits"
	"path/filepath"
	"slices"
	"strings"

	"undermetal/layout"
	"undermetal/layout/pen"
	"undermetal/layout/shot"
)

// Colour is red, green and blue.
type Colour [3]byte

func (c Colour) String() string { return fmt.Sprintf("#%02x%02x%02x", c[0], c[1], c[2]) }

// Meaning says what layer a colour stands for. The same colour may stand for several.
type Meaning struct {
	Colour Colour
	Layer  string // empty: it stands for nothing, such as a background
}

// Options say how a mask is taken.
type Options struct {
	Place       pen.Place // pixels to the frame
	ToleranceNm float64   // how far the border of a pixel may be from the edge that stands for it, where Place bends it; 0: pen.DefaultTolerance

	// Layer is what a mask of one layer stands for: where its pixels have half of the brightness that they can have, or
	// more, it is covered; where Dark is set, where they have less.
	Layer string
	Dark  bool

	// Meanings make it a mask of colours; Layer and Dark do not count then. Of samples of 16 bits the upper half counts.
	Meanings []Meaning

	// LeaveUnmapped leaves out, and reports, pixels of other colours; otherwise they are an error.
	LeaveUnmapped bool
}

// Count is what was read onto one layer.
type Count struct {
	Layer    string
	Pixels   int // that it covers
	Polygons int
}

// Unmapped is a colour that stands for nothing.
type Unmapped struct {
	Colour Colour
	Pixels int
	X, Y   int // the first of them
}

func (u Unmapped) String() string {
	return fmt.Sprintf("%v: %d pixels, the first at (%d, %d)", u.Colour, u.Pixels, u.X, u.Y)
}

// Report says what was read, and what was left out.
type Report struct {
	Width, Height int
	Layers        []Count    // in the library's order
	Unmapped      []Unmapped // the most frequent first; at most 256 colours are told apart
	Notes         []string
	Met           map[Colour]bool // the colours that pixels have, of those that mean something
}

// Rows is a picture, row by row: what shot.Open returns.
type Rows interface {
	Header() *shot.Header
	ReadRow(dst []byte) error
	Clear() []bool // which pixels of the row that was read last are transparent; nil: none
	Straight()     // colours are to come as they were before they were multiplied by alpha, if they were
}

// Read reads a mask; name stands for it in errors. The library has one cell, named after the file. Errors are of type
// *Error, except for options that contradict themselves.
func Read(name string, in Rows, o Options) (*layout.Library, *Report, error) {
	r := &reader{name: name, in: in, header: in.Header(), o: &o, unmapped: map[Colour]*Unmapped{}, met: map[Colour]bool{}}
	if err := r.layers(); err != nil {
		return nil, nil, err
	}
	if err := r.check(); err != nil {
		return nil, nil, err
	}
	base := filepath.Base(name)
	cell := &layout.Cell{Name: cmp.Or(strings.TrimSuffix(base, filepath.Ext(base)), "drawing")}
	corners := MaxCorners
	for l := range r.names {
		r.tracers = append(r.tracers, newTracer(layout.Layer(l), cell, &o, &corners))
	}
	if err := r.rows(); err != nil {
		return nil, nil, err
	}
	rep := r.report()
	if len(rep.Unmapped) > 0 && !o.LeaveUnmapped {
		return nil, nil, r.unmappedFault(rep.Unmapped)
	}
	return &layout.Library{Layers: r.names, Cells: []*layout.Cell{cell}}, rep, nil
}

// reader takes rows apart.
type reader struct {
	name     string
	in       Rows
	header   *shot.Header
	o        *Options
	names    []string // of the layers
	met      map[Colour]bool
	meaning  map[Colour]uint64 // the layers of a colour, one bit each; nil: bright or dark
	tracers  []*tracer
	unmapped map[Colour]*Unmapped
	clear    int // pixels that are transparent

	last     Colour // looked up last
	lastMask uint64
	lastBad  *Unmapped
	hasLast  bool
}

func (r *reader) layers() error {
	if len(r.o.Meanings) == 0 {
		if r.o.Layer == "" {
			return fmt.Errorf("a mask needs the name of the layer that it stands for, or what its colours stand for")
		}
		r.names = []string{r.o.Layer}
		return nil
	}
	r.meaning = map[Colour]uint64{}
	for _, m := range r.o.Meanings {
		mask := uint64(0)
		if m.Layer != "" {
			i := slices.Index(r.names, m.Layer)
			if i < 0 {
				if len(r.names) == layout.MaxLayers {
					return fmt.Errorf("layer %q is one more than the %d that a library can have", m.Layer, layout.MaxLayers)
				}
				i = len(r.names)
				r.names = append(r.names, m.Layer)
			}
			mask = 1 << i
		}
		r.meaning[m.Colour] |= mask
	}
	return nil
}

func (r *reader) check() error {
	switch h := r.header; {
	case r.o.Place == nil:
		return fmt.Errorf("a mask needs a map from its pixels to the frame")
	case h.Format == "JPEG":
		return fault(r.name, "save the mask as PNG from where it was made", "a JPEG file has no exact pixels, as a mask needs them")
	case h.Orientation > shot.TopLeft:
		return fault(r.name, "turn it, and save it without the mark", "the picture is marked as to be turned (EXIF orientation %d)", h.Orientation)
	}
	return nil
}

func (r *reader) rows() error {
	h := r.header
	row := make([]byte, h.RowBytes())
	r.in.Straight()
	toggles := make([][]int32, len(r.names)) // of each layer: where it begins, where it ends, and so on
	for y := range h.Height {
		if err := r.in.ReadRow(row); err != nil {
			if err == io.EOF {
				err = io.ErrUnexpectedEOF
			}
			return fault("", "get a complete copy of the file, or save it anew", "%v", err)
		}
		for l := range toggles {
			toggles[l] = toggles[l][:0]
		}
		r.toggles(row, r.in.Clear(), y, toggles)
		for l, t := range r.tracers {
			if err := r.trace(t, y, toggles[l]); err != nil {
				return err
			}
		}
	}
	for _, t := range r.tracers {
		if err := r.trace(t, h.Height, nil); err != nil {
			return err
		}
	}
	return nil
}

func (r *reader) trace(t *tracer, y int, toggles []int32) error {
	switch err := t.line(int32(y), toggles); {
	case err == errTooMany:
		return fault(r.name, "smooth the mask, or cut it into parts", "row %d: more than %d corners: this is noise rather than a drawing", y, MaxCorners)
	case err != nil:
		return fault(r.name, "give another map, or a smaller mask", "row %d: %v", y, err)
	}
	return nil
}

// toggles finds where each layer begins and ends in a row. What is clear covers nothing, whatever its colour.
func (r *reader) toggles(row []byte, clear []bool, y int, toggles [][]int32) {
	h := r.header
	step := h.PixelBytes()
	if r.meaning == nil && h.Channels == 1 && clear == nil {
		on, line := false, toggles[0]
		for x := range h.Width { // of 16 bits the upper half comes first
			if covered := row[x*step] >= 0x80 != r.o.Dark; covered != on {
				on = covered
				line = append(line, int32(x))
			}
		}
		if on {
			line = append(line, int32(h.Width))
		}
		toggles[0] = line
		return
	}
	now, sample := uint64(0), h.Depth/8
	toggle := func(x int, to uint64) {
		for m := now ^ to; m != 0; m &= m - 1 {
			l := bits.TrailingZeros64(m)
			toggles[l] = append(toggles[l], int32(x))
		}
		now = to
	}
	for x := range h.Width {
		if clear != nil && clear[x] {
			r.clear++
			toggle(x, 0)
			continue
		}
		v := row[x*step]
		c := Colour{v, v, v}
		if h.Channels == 3 {
			c[1], c[2] = row[x*step+sample], row[x*step+2*sample]
		}
		if m := r.mask(c, x, y); m != now {
			toggle(x, m)
		}
	}
	toggle(h.Width, 0)
}

// mask returns the layers that a pixel of a colour is covered by.
func (r *reader) mask(c Colour, x, y int) uint64 {
	if !r.hasLast || c != r.last {
		r.last, r.hasLast, r.lastBad = c, true, nil
		r.look(c, x, y)
	}
	if r.lastBad != nil {
		r.lastBad.Pixels++
	}
	return r.lastMask
}

func (r *reader) look(c Colour, x, y int) {
	mask, ok := r.meaning[c]
	if r.meaning == nil && c[0] == c[1] && c[1] == c[2] {
		ok = true
		if c[0] >= 0x80 != r.o.Dark {
			mask = 1
		}
	}
	r.lastMask = mask
	if ok {
		if r.meaning != nil {
			r.met[c] = true
		}
		return
	}
	u := r.unmapped[c]
	if u == nil {
		u = &Unmapped{Colour: c, X: x, Y: y}
		if len(r.unmapped) < 256 {
			r.unmapped[c] = u
		}
	}
	r.lastBad = u
}

func (r *reader) report() *Report {
	rep := &Report{Width: r.header.Width, Height: r.header.Height, Met: r.met}
	for _, n := range r.header.Notes {
		if n != shot.AlphaLeftOut { // here it counts
			rep.Notes = append(rep.Notes, n)
		}
	}
	if r.clear > 0 {
		rep.Notes = append(rep.Notes, fmt.Sprintf("transparent pixels (alpha below half), which cover nothing: %d", r.clear))
	}
	vanished := 0
	for l, t := range r.tracers {
		rep.Layers = append(rep.Layers, Count{r.names[l], t.pixels, t.polygons})
		vanished += t.vanished
	}
	if vanished > 0 {
		rep.Notes = append(rep.Notes, fmt.Sprintf("regions that are nothing on the grid of 1 nm, left out: %d", vanished))
	}
	for _, u := range r.unmapped {
		rep.Unmapped = append(rep.Unmapped, *u)
	}
	slices.SortFunc(rep.Unmapped, func(a, b Unmapped) int {
		return cmp.Or(cmp.Compare(b.Pixels, a.Pixels), cmp.Compare(a.Y, b.Y), cmp.Compare(a.X, b.X))
	})
	return rep
}

func (r *reader) unmappedFault(list []Unmapped) error {
	const shown = 12
	var lines []string
	for i, u := range list {
		if i == shown {
			lines = append(lines, fmt.Sprintf("and %d colours more", len(list)-i))
			break
		}
		lines = append(lines, u.String())
	}
	remedy := "say what layers the colours stand for, or that they stand for nothing"
	if r.meaning == nil {
		remedy = "say what its colours stand for, or save it in black and white"
	}
	return fault(r.name, remedy, "colours of which nobody says what they stand for:\n    %s", strings.Join(lines, "\n    "))
}
