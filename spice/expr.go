package spice

import (
	"fmt"
	"math"
	"strings"
)

// maxNesting is how deep parentheses, and parameters that refer to others, may go.
const maxNesting = 200

// scope is the parameters that an expression may use: those of a subcircuit, or of the file, which up leads to.
type scope struct {
	params map[string]*param // by folded name
	up     *scope
}

// param is a parameter; its value is computed when it is first asked for, so that the order of cards does not matter.
type param struct {
	name  string
	text  string
	line  int
	value float64
	state paramState
}

type paramState uint8

const (
	unknown paramState = iota
	computing
	known
)

// has reports whether name is a parameter.
func (s *scope) has(name string) bool {
	p, _ := s.find(name)
	return p != nil
}

// find returns the parameter of that name and the scope that it stands in, or nil.
func (s *scope) find(name string) (*param, *scope) {
	for ; s != nil; s = s.up {
		if len(s.params) == 0 {
			continue
		}
		if p := s.params[folded(name)]; p != nil {
			return p, s
		}
	}
	return nil, nil
}

// value returns what a text means: a number, or an expression. The error is a phrase.
func (s *scope) value(text string) (float64, error) { return s.valueAt(text, 0) }

func (s *scope) valueAt(text string, depth int) (float64, error) {
	if v, n := number(text); n == len(text) && n > 0 && !math.IsInf(v, 0) {
		return v, nil
	}
	e := expression{text: text, scope: s, depth: depth}
	v := e.sum()
	e.skip()
	if e.err == nil && e.at < len(text) {
		e.stop()
	}
	if e.err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
		e.err = fmt.Errorf("%s has no finite value", quote(text))
	}
	return v, e.err
}

// expression evaluates a text by recursive descent.
//
//	sum = product { (+|-) product }   product = factor { (*|/) factor }
//	factor = [+|-] factor | number | name | ( sum )
type expression struct {
	text  string
	at    int
	scope *scope
	depth int
	err   error // the first one
}

func (e *expression) fail(format string, args ...any) {
	if e.err == nil {
		e.err = fmt.Errorf(format, args...)
	}
}

// stop fails at the present place.
func (e *expression) stop() {
	if e.at >= len(e.text) {
		e.fail("%s ends where a number is missing", quote(e.text))
		return
	}
	e.fail("%s is no expression from %s on; numbers, parameters, + - * / and parentheses are read", quote(e.text), quote(e.text[e.at:]))
}

// skip passes over blanks and returns the next byte, 0 at the end.
func (e *expression) skip() byte {
	for e.at < len(e.text) && isBlank(e.text[e.at]) {
		e.at++
	}
	if e.at == len(e.text) {
		return 0
	}
	return e.text[e.at]
}

func (e *expression) sum() float64 {
	v := e.product()
	for e.err == nil {
		switch e.skip() {
		case '+':
			e.at++
			v += e.product()
		case '-':
			e.at++
			v -= e.product()
		default:
			return v
		}
	}
	return v
}

func (e *expression) product() float64 {
	v := e.factor()
	for e.err == nil {
		switch e.skip() {
		case '*':
			e.at++
			v *= e.factor()
		case '/':
			e.at++
			d := e.factor()
			if d == 0 {
				e.fail("%s divides by zero", quote(e.text))
			}
			v /= d
		default:
			return v
		}
	}
	return v
}

func (e *expression) factor() float64 {
	if e.depth++; e.depth > maxNesting {
		e.fail("%s nests more than %d deep", quote(e.text), maxNesting)
	}
	defer func() { e.depth-- }()
	c := e.skip()
	switch {
	case e.err != nil:
		return 0
	case c == '+':
		e.at++
		return e.factor()
	case c == '-':
		e.at++
		return -e.factor()
	case c == '(':
		e.at++
		v := e.sum()
		if e.skip() != ')' {
			e.fail("%s lacks a )", quote(e.text))
			return 0
		}
		e.at++
		return v
	case isDigit(c) || c == '.':
		v, n := number(e.text[e.at:])
		if n == 0 {
			e.stop()
		}
		e.at += n
		return v
	case isLetter(c) || c == '_':
		return e.name()
	}
	e.stop()
	return 0
}

// name reads a name and returns the value of the parameter.
func (e *expression) name() float64 {
	start := e.at
	for e.at < len(e.text) && (isLetter(e.text[e.at]) || isDigit(e.text[e.at]) || strings.IndexByte("_.#!", e.text[e.at]) >= 0) {
		e.at++
	}
	name := e.text[start:e.at]
	if e.skip() == '(' {
		e.fail("%s is no function that is read; numbers, parameters, + - * / and parentheses are", quote(name))
		return 0
	}
	p, s := e.scope.find(name)
	if p == nil {
		e.fail("%s is neither a number nor a parameter", quote(name))
		return 0
	}
	if err := p.compute(s, e.depth); err != nil {
		e.fail("%w", err)
	}
	return p.value
}

// compute gives p its value; s is the scope that it stands in.
func (p *param) compute(s *scope, depth int) error {
	switch p.state {
	case known:
		return nil
	case computing:
		return fmt.Errorf("parameter %s is defined by itself, on line %d", p.name, p.line)
	}
	p.state = computing
	v, err := s.valueAt(p.text, depth)
	if err != nil {
		return fmt.Errorf("parameter %s, line %d: %w", p.name, p.line, err)
	}
	p.value, p.state = v, known
	return nil
}
