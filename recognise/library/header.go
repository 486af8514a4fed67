package library

import (
	"fmt"
	"slices"
	"strings"
)

// headerLine is one "* key: value".
type headerLine struct {
	line  int
	value string
}

// header is the comments before a subcircuit.
type header map[string]headerLine

var keys = []string{"name", "title", "what", "group", "ports", "source", "optional", "either", "shared", "context", "joins", "flavours",
	"series", "alternatives"}

var needed = []string{"name", "title", "what", "ports", "source"}

var roles = []string{Supply, Ground, Bias, Clock, Input, Output, Row, Column, Reset, Sense, Transfer, Reference, Any}

// problem is a mistake in a pattern.
type problem struct {
	line   int
	reason string
	remedy string
}

func (p *problem) Error() string { return p.reason }

func wrong(line int, remedy, reason string, args ...any) error {
	return &problem{line, fmt.Sprintf(reason, args...), remedy}
}

// readHeader reads the comments before the first line that is none. A comment without a colon is a mere comment.
func readHeader(text string) (header, error) {
	h := header{}
	for i, line := range strings.Split(text, "\n") {
		line = strings.TrimSpace(line)
		if line == "" {
			continue
		}
		if line[0] != '*' {
			break
		}
		key, value, ok := strings.Cut(strings.TrimSpace(line[1:]), ":")
		if !ok || strings.Contains(key, " ") {
			continue
		}
		key, value = strings.ToLower(key), strings.TrimSpace(value)
		if !slices.Contains(keys, key) {
			return nil, wrong(i+1, "keys are "+strings.Join(keys, ", "), "the header has no key %q", key)
		}
		if value == "" {
			return nil, wrong(i+1, "", "%q has no value", key)
		}
		if old, ok := h[key]; ok {
			h[key] = headerLine{old.line, old.value + " " + value}
		} else {
			h[key] = headerLine{i + 1, value}
		}
	}
	for _, k := range needed {
		if _, ok := h[k]; !ok {
			return nil, wrong(0, "a pattern begins with lines like \"* name: my_pixel\"; needed are "+strings.Join(needed, ", "), "the header lacks %q", k)
		}
	}
	return h, nil
}

// words returns the words of a value; none where the key is not there.
func (h header) words(key string) []string { return strings.Fields(h[key].value) }

// pairs returns the words A=B of a value.
func (h header) pairs(key string) ([][2]string, error) {
	var all [][2]string
	for _, w := range h.words(key) {
		a, b, ok := strings.Cut(w, "=")
		if !ok || a == "" || b == "" {
			return nil, wrong(h[key].line, "write it as A=B, without blanks", "%q of %q is no pair", w, key)
		}
		all = append(all, [2]string{a, b})
	}
	return all, nil
}

// pattern makes what the header says into a pattern without a circuit.
func (h header) pattern() (*Pattern, error) {
	p := &Pattern{Name: h["name"].value, Title: h["title"].value, What: h["what"].value, Group: h["group"].value, Source: h["source"].value,
		Optional: h.words("optional"), Either: h.words("either"), Shared: h.words("shared"), Context: h.words("context"),
		Alternatives: h.words("alternatives")}
	if strings.ContainsAny(p.Name, " \t") {
		return nil, wrong(h["name"].line, "", "the name %q is more than one word", p.Name)
	}
	ports, err := h.pairs("ports")
	if err != nil {
		return nil, err
	}
	for _, x := range ports {
		role := strings.ToLower(x[1])
		if !slices.Contains(roles, role) {
			return nil, wrong(h["ports"].line, "roles are "+strings.Join(roles, ", "), "port %s has the role %q, which there is none of", x[0], x[1])
		}
		p.Ports = append(p.Ports, Port{x[0], role})
	}
	if p.Joins, err = h.pairs("joins"); err != nil {
		return nil, err
	}
	for _, w := range h.words("flavours") {
		switch strings.ToLower(w) {
		case "p":
			p.Mirror = true
		case "n":
		default:
			return nil, wrong(h["flavours"].line, "flavours are n and p", "%q is no flavour", w)
		}
	}
	if s, ok := h["series"]; ok {
		if p.SeriesFree = strings.EqualFold(s.value, "free"); !p.SeriesFree {
			return nil, wrong(s.line, "the only one is \"series: free\"", "%q says nothing of series", s.value)
		}
	}
	return p, nil
}
