package svg

import (
	"slices"
	"strings"
)

// declaration is a property with its value, from an attribute or a style sheet.
type declaration struct{ name, value string }

// properties are those that decide what is drawn here, or that are reported.
var properties = map[string]bool{
	"fill": true, "stroke": true, "stroke-width": true, "fill-rule": true, "display": true, "visibility": true, "color": true,
	"stroke-linecap": true, "stroke-linejoin": true, "stroke-miterlimit": true, "stroke-dasharray": true,
	"opacity": true, "fill-opacity": true, "stroke-opacity": true, "clip-path": true, "mask": true, "filter": true, "vector-effect": true,
	"transform-origin": true, "marker": true, "marker-start": true, "marker-mid": true, "marker-end": true,
}

// placing are properties that say where something lies. In attributes they are read; in styles they are not understood.
var placing = map[string]bool{"transform": true, "translate": true, "rotate": true, "scale": true, "d": true, "x": true, "y": true,
	"cx": true, "cy": true, "r": true, "rx": true, "ry": true, "width": true, "height": true}

// parseDeclarations reads "name: value; name: value" and keeps the known properties, in order.
func parseDeclarations(text string) (out []declaration) {
	for part := range strings.SplitSeq(text, ";") {
		name, value, ok := strings.Cut(part, ":")
		name = strings.ToLower(strings.TrimSpace(name))
		if !ok || !properties[name] && !placing[name] {
			continue
		}
		value, _, _ = strings.Cut(value, "!") // !important: everything counts in the usual order here
		out = append(out, declaration{name, strings.TrimSpace(value)})
	}
	return out
}

// rule is one selector of a style sheet with its declarations. Only simple selectors are known: an element's name, an
// id, classes, or these together.
type rule struct {
	element, id  string // empty: any
	classes      []string
	specificity  int
	declarations []declaration
}

func (r *rule) matches(n *node) bool {
	if r.element != "" && r.element != n.name || r.id != "" && r.id != n.id {
		return false
	}
	for _, c := range r.classes {
		if !slices.Contains(n.classes, c) {
			return false
		}
	}
	return true
}

// parseSheet reads a style sheet. other counts selectors and at-rules that are not understood.
func parseSheet(text string) (rules []rule, other int) {
	text = withoutComments(text)
	for {
		open := strings.IndexAny(text, "{;")
		if open < 0 {
			return rules, other
		}
		head := strings.TrimSpace(text[:open])
		if text[open] == ';' { // @import, @charset
			if head != "" {
				other++
			}
			text = text[open+1:]
			continue
		}
		end := blockEnd(text[open:])
		body := text[open+1 : open+end]
		text = text[min(open+end+1, len(text)):]
		if strings.HasPrefix(head, "@") {
			other++
			continue
		}
		found := parseDeclarations(body)
		for selector := range strings.SplitSeq(head, ",") {
			r, ok := parseSelector(strings.TrimSpace(selector))
			if !ok {
				other++
			} else if len(found) > 0 {
				r.declarations = found
				rules = append(rules, r)
			}
		}
	}
}

// blockEnd returns where the block that opens at the beginning of text ends: its closing bracket, or the text's end.
func blockEnd(text string) int {
	depth := 0
	for i := range len(text) {
		switch text[i] {
		case '{':
			depth++
		case '}':
			if depth--; depth == 0 {
				return i
			}
		}
	}
	return len(text)
}

func withoutComments(text string) string {
	var b strings.Builder
	for {
		before, rest, ok := strings.Cut(text, "/*")
		b.WriteString(before)
		if !ok {
			return b.String()
		}
		if _, text, ok = strings.Cut(rest, "*/"); !ok {
			return b.String()
		}
		b.WriteByte(' ')
	}
}

func parseSelector(s string) (r rule, ok bool) {
	name := func() string {
		end := strings.IndexAny(s, ".#")
		if end < 0 {
			end = len(s)
		}
		out := s[:end]
		s = s[end:]
		return out
	}
	if s == "" || strings.ContainsAny(s, " \t\r\n>+~:[]()\"'\\") {
		return r, false
	}
	if r.element = name(); r.element == "*" {
		r.element = ""
	} else if r.element != "" {
		r.specificity++
	}
	for s != "" {
		kind := s[0]
		s = s[1:]
		word := name()
		switch {
		case word == "":
			return r, false
		case kind == '.':
			r.classes = append(r.classes, word)
			r.specificity += 100
		case r.id != "" && r.id != word:
			return r, false
		default:
			r.id = word
			r.specificity += 10000
		}
	}
	return r, true
}

// sortRules puts rules in the order in which they are applied: the last one wins.
func sortRules(rules []rule) {
	slices.SortStableFunc(rules, func(a, b rule) int { return a.specificity - b.specificity })
}
