package svg

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"

	"undermetal/layout/geom"
	"undermetal/layout/pen"
)

// FuzzPath: any text is path data or has a mistake at one of its characters, and all numbers that come of it are finite.
func FuzzPath(f *testing.F) {
	for _, s := range []string{"", "M0 0 10 0 10 10z m20 0h5v5h-5z", "M10-20.5.5", "M0 0a1 1 0 0110 10", "M0,0C0,10 10,10 10,0Z", "M0,0Q5,10 10,0Zt1 1 1 1",
		"M10 0A10 10 0 0 1-10 0Z", "m1e3.5S1 2 3 4 5 6 7 8zL1 1", "M1e308 1e308l1e308 1e308", "M0 0A1e-300 1e300 7 1 1 1e9 0"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, d string) {
		p, err := parsePath(d)
		if err != nil {
			if e := (*syntaxError)(nil); !errors.As(err, &e) || e.at < 0 || e.at > len(d) || e.text == "" {
				t.Fatalf("%#v", err)
			}
			return
		}
		n := 0
		for i, s := range p.steps {
			if i == 0 && s != 'M' {
				t.Fatalf("begins with %c", s)
			}
			n += stepPoints(s)
		}
		if n != len(p.at) || len(p.steps) > 2*len(d) {
			t.Fatalf("%d steps with %d points of %d bytes", len(p.steps), len(p.at), len(d))
		}
	})
}

// FuzzSVG: any bytes give a drawing or an *Error with its place; what was read can be written, and comes back equal.
func FuzzSVG(f *testing.F) {
	for _, s := range []string{
		`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><style>.a{fill:red}</style><g id="m" class="a" transform="rotate(30 1 2)"><path d="M0 0 10 0 10 10z" fill-rule="evenodd"/><circle r="3"/><rect width="2" height="3" rx="1"/></g></svg>`,
		`<svg data-um-per-unit="1" data-name="n"><g data-cell="T"><g data-layer="m"><path d="M0 0H3V3"/><text x="1">a</text></g><g data-array="2 1 1000 0 0 0" data-instance="i"><use href="#c"/><use href="#c" transform="translate(1)"/></g></g><g data-traced=""><path data-layer="m" d="M0 0H3V3"/></g><defs><g data-cell="C" id="c" data-layer="m"><rect width="1" height="1"/></g></defs></svg>`,
		`<svg><symbol id="s" viewBox="0 0 5 5"><line x2="5" stroke="#0f0" stroke-linejoin="round"/></symbol><use href="#s" width="9"/><image href="x.png" width="5"/><text><tspan x="1" y="2">A</tspan></text></svg>`,
		`<?xml version="1.0" encoding="ISO-8859-1"?><!DOCTYPE svg [<!ENTITY a "b">]><svg a="&a;"><polyline points="0,0 5 5 5 0 0 5" fill="none" stroke="red" stroke-linecap="round"/></svg>`,
		`<svg><g id="a"><use href="#a"/></g></svg>`,
		`<svg viewBox="0 0 9 9"><defs><g id="a"><image width="3"/><use href="#b"/></g><symbol id="b" viewBox="1 1 2 2"><image height="1"/></symbol></defs><use href="#a" transform="scale(2)"/></svg>`,
	} {
		f.Add([]byte(s))
		f.Add(packed(f, s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		fault := func(err error) {
			if e := (*Error)(nil); !errors.As(err, &e) || e.Text == "" || e.Remedy == "" || e.File == "" || e.Line > 1+bytes.Count(data, []byte("\n")) && !bytes.HasPrefix(data, gzipMagic) {
				t.Fatalf("error without place or remedy: %v", err)
			}
		}
		d, err := Parse("fuzz.svg", bytes.NewReader(data))
		if err != nil {
			fault(err)
			return
		}
		if _, _, err = d.Library(Options{Place: pen.UmPerUnit(0.01, geom.Vec{}), LeaveUnmapped: true, ToleranceNm: 50}); err != nil && !strings.Contains(err.Error(), "layer") {
			fault(err)
		}
		if d.UmPerUnit == 0 {
			return
		}
		lib, _, err := d.Library(Options{LeaveUnmapped: true, ToleranceNm: 50})
		if err != nil {
			fault(err)
			return
		}
		var b bytes.Buffer
		if err := Write(&b, lib, lib.Cells[0], nil, nil); err != nil {
			if e := (*Error)(nil); !errors.As(err, &e) || e.Remedy == "" {
				t.Fatalf("what was read cannot be written: %v", err)
			}
			return // beyond the frame once placed
		}
		back, err := Parse("back.svg", bytes.NewReader(b.Bytes()))
		if err != nil {
			t.Fatalf("what was written cannot be read: %v", err)
		}
		again, _, err := back.Library(Options{LeaveUnmapped: true})
		if err != nil {
			t.Fatalf("what was written cannot be read: %v", err)
		}
		if diff := firstDifference(lib, again); diff != "" {
			t.Fatal(diff)
		}
	})
}

// Even-odd against its definition: points of the plane are filled where a ray from them crosses an odd number of edges.
func FuzzEvenOdd(f *testing.F) {
	f.Add([]byte{0, 0, 20, 0, 20, 20, 0, 20, 5, 5, 15, 5, 15, 15, 5, 15}, uint8(4))
	f.Add([]byte{0, 0, 40, 30, 40, 0, 0, 10}, uint8(9))
	f.Add([]byte{0, 0, 0, 9, 9, 9, 9, 0, 0, 9, 0, 18, 9, 18, 9, 9}, uint8(4))
	f.Fuzz(func(t *testing.T, data []byte, cut uint8) {
		const scale = 100 // so that rounding at crossings stays far from the points that are asked for
		var rings []geom.Ring
		var ring geom.Ring
		for i := 0; i+1 < len(data) && i < 60; i += 2 {
			ring = append(ring, geom.Point{X: scale * int(data[i]%32), Y: scale * int(data[i+1]%32)})
			if n := int(cut%8) + 3; len(ring) == n {
				rings, ring = append(rings, ring), nil
			}
		}
		if len(ring) > 2 {
			rings = append(rings, ring)
		}
		if len(rings) == 0 {
			return
		}
		got := evenOdd(rings)
		for y := 0; y < 32*scale; y += 137 {
			for x := 0; x < 32*scale; x += 149 {
				p := geom.Point{X: x, Y: y}
				odd, near := false, false
				for _, r := range rings {
					for i, a := range r {
						b := r[(i+1)%len(r)]
						near = near || distance(p, a, b) < 3
						if (a.Y <= p.Y) != (b.Y <= p.Y) && (geom.Side(a, b, p) > 0) == (a.Y <= p.Y) {
							odd = !odd
						}
					}
				}
				if !near && (got.Locate(p) == geom.Inside) != odd {
					t.Fatalf("%v: %v is inside by even-odd: %t; got %v", rings, p, odd, got)
				}
			}
		}
	})
}

func distance(p, a, b geom.Point) float64 {
	d, q := b.Sub(a), p.Sub(a)
	k, l := float64(d.X*q.X+d.Y*q.Y), float64(d.X*d.X+d.Y*d.Y)
	if l > 0 {
		k = min(max(k/l, 0), 1)
	}
	return math.Hypot(float64(q.X)-k*float64(d.X), float64(q.Y)-k*float64(d.Y))
}
