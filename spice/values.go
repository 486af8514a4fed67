package spice

import (
	"math"
	"slices"

	"undermetal/netlist"
)

// largest is the length in m, the area in m², above which no size is taken for one: 640 is a forgotten unit. mostParallel
// is how many devices or fingers one line may stand for.
const (
	largest      = 10
	mostParallel = 1_000_000_000
)

// element is a line while it is read. The first error stays, so that a caller may ask for several values and look once.
type element struct {
	rd    *reader
	b     *build
	line  int
	name  string
	plain []word // what follows the name and is no parameter
	named []word
	late  bool // plain words follow parameters
	err   error
}

func (e *element) fail(remedy, format string, args ...any) {
	if e.err == nil {
		e.err = e.rd.fail(e.line, remedy, "element "+e.name+": "+format, args...)
	}
}

// parse splits a line into its words. The numbers after tc= and ic=, which may be several, are passed over.
func (rd *reader) parse(b *build, c card) (*element, error) {
	words, err := split(c.text, b.words[:0])
	b.words = words
	if err != nil {
		return nil, rd.fail(c.line, "", "%v", err)
	}
	if len(words) == 0 || words[0].named || words[0].expr {
		return nil, rd.fail(c.line, "a line begins with the name of an element, a dot or *", "%s is no element", quote(c.text))
	}
	e := &element{rd: rd, b: b, line: c.line, name: words[0].text}
	n := 1
	for n < len(words) && !words[n].named {
		n++
	}
	e.plain, e.named = words[1:n:n], words[n:]
	list := false
	for _, w := range words[n:] {
		if w.named {
			list = slices.Contains([]string{"tc", "ic"}, folded(w.text))
			continue
		}
		if _, err := parseNumber(w.text); list && err == nil {
			continue
		}
		e.late = true
		e.plain = append(e.plain, w)
	}
	return e, nil
}

// given returns the parameter that has one of these names, or nil. Two are an error.
func (e *element) given(keys ...string) *word {
	var found *word
	for i := range e.named {
		w := &e.named[i]
		if w.named && slices.Contains(keys, folded(w.text)) {
			if found != nil {
				e.fail("leave one of them", "%s and %s are both given", found.text+"="+found.value, w.text+"="+w.value)
			}
			found = w
		}
	}
	return found
}

// number returns the value of the parameter of one of these names; without any, ok is false.
func (e *element) number(keys ...string) (x float64, ok bool) {
	w := e.given(keys...)
	if w == nil {
		return 0, false
	}
	x, err := e.b.params.value(w.value)
	if err != nil {
		e.fail("write a number, such as 0.13u", "%s: %v", w.text, err)
	}
	return x, true
}

// whole returns a parameter that counts, 1 where it is not given.
func (e *element) whole(keys ...string) float64 {
	x, ok := e.number(keys...)
	if !ok {
		return 1
	}
	if !(x >= 1 && x <= mostParallel) || x != math.Trunc(x) {
		e.fail("", "%s = %v is no whole number from 1 to %d", keys[0], x, mostParallel)
	}
	return x
}

// times returns how many of the device lie in parallel.
func (e *element) times() float64 {
	m := e.whole("m") * e.b.times
	if m > mostParallel {
		e.fail("", "stands for %v devices in parallel, more than %d", m, mostParallel)
	}
	return m
}

// length returns a parameter that is a length, m times, in nm; 0 where it is not given.
func (e *element) length(m float64, keys ...string) float64 {
	x, _ := e.number(keys...)
	return nm(e.size(keys[0], x, e.rd.scale, m))
}

// area returns a parameter that is an area, m times, in nm²; 0 where it is not given.
func (e *element) area(m float64, keys ...string) float64 {
	x, _ := e.number(keys...)
	return nm2(e.size(keys[0], x, e.rd.scale*e.rd.scale, m))
}

// size returns x in m or m², scaled and m times.
func (e *element) size(key string, x, scale, m float64) float64 {
	if y := x * scale * m; y >= 0 && y <= largest {
		return math.Abs(y) // -0 is written by nobody
	}
	e.fail("lengths are in metres, areas in m²; write 0.13u for 0.13 µm", "%s = %g is no size of a device", key, x)
	return 0
}

// nets returns the nets that the first n words name; the rest of the words is left in plain.
func (e *element) nets(n int) [4]netlist.Net {
	t := [4]netlist.Net{netlist.NoNet, netlist.NoNet, netlist.NoNet, netlist.NoNet}
	for i, w := range e.plain[:n] {
		t[i] = e.net(w)
	}
	e.plain = e.plain[n:]
	return t
}

func (e *element) net(w word) netlist.Net {
	if w.expr {
		e.fail("", "%s stands where a net is named", quote(w.text))
	}
	return e.rd.net(e.b, w.text)
}

// modelName takes the first word as a model.
func (e *element) modelName() string {
	w := e.plain[0]
	if w.expr {
		e.fail("", "%s stands where a model is named", quote(w.text))
	}
	e.plain = e.plain[1:]
	return w.text
}

// rest refuses the words that nobody took; off, which steers a simulation, is passed over.
func (e *element) rest(allowed string) {
	for _, w := range e.plain {
		if folded(w.text) != "off" {
			e.fail(allowed, "%s has no meaning here", quote(w.text))
		}
	}
}

// isValue reports whether a plain word is a value: a number, an expression in braces, a parameter.
func (e *element) isValue(w word) bool {
	if w.expr {
		return true
	}
	if _, ok := e.b.model(w.text); ok {
		return false
	}
	_, n := number(w.text)
	return n > 0 && n == len(w.text) || e.b.params.has(w.text)
}

// value takes the first word as a value.
func (e *element) value() float64 {
	x, err := e.b.params.value(e.plain[0].text)
	if err != nil {
		e.fail("write a number, such as 1k", "%v", err)
	}
	e.plain = e.plain[1:]
	return x
}
