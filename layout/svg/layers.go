package svg

import (
	"fmt"
	"slices"
	"strings"

	"undermetal/layout"
)

// By says what a rule looks at.
type By int

const (
	ByColour By = iota // the fill of what is filled, the stroke of a wire
	ByClass            // a class of the element or of a group around it
	ByGroup            // the id, label or layer of the element or of a group around it
	ByID               // the element's own id
)

// Rule says what layer a part of the drawing belongs to.
type Rule struct {
	By     By
	Colour Colour // ByColour
	Name   string // otherwise
	Layer  string // empty: left out
}

// ParseRule reads a rule: lime=metal1 or #00ff00=metal1 for a colour, class:NAME=LAYER, group:NAME=LAYER, id:NAME=LAYER;
// with nothing behind the last = what it says is left out.
func ParseRule(text string) (Rule, error) {
	i := strings.LastIndexByte(text, '=')
	if i < 0 {
		return Rule{}, fmt.Errorf("rule %q has no layer: write COLOUR=LAYER, class:NAME=LAYER, group:NAME=LAYER or id:NAME=LAYER", text)
	}
	key, r := text[:i], Rule{Layer: text[i+1:]}
	for prefix, by := range map[string]By{"class:": ByClass, "group:": ByGroup, "id:": ByID} {
		if name, ok := strings.CutPrefix(key, prefix); ok {
			if r.By, r.Name = by, name; name == "" {
				return r, fmt.Errorf("rule %q has no name behind %s", text, prefix)
			}
			return r, nil
		}
	}
	var err error
	if r.Colour, err = ParseColour(key); err != nil {
		return r, fmt.Errorf("rule %q: %w; or write class:NAME, group:NAME or id:NAME", text, err)
	}
	return r, nil
}

func (r Rule) String() string {
	switch r.By {
	case ByClass:
		return "class:" + r.Name + "=" + r.Layer
	case ByGroup:
		return "group:" + r.Name + "=" + r.Layer
	case ByID:
		return "id:" + r.Name + "=" + r.Layer
	}
	return r.Colour.String() + "=" + r.Layer
}

// matches reports whether the rule holds for what is drawn in a context, with a paint.
func (r *Rule) matches(c *context, p paint) bool {
	switch r.By {
	case ByColour:
		return p.known && p.colour == r.Colour
	case ByID:
		return c.node.id == r.Name
	}
	for ; c != nil; c = c.outer {
		if r.By == ByClass && slices.Contains(c.node.classes, r.Name) || r.By == ByGroup && c.node.called(r.Name) {
			return true
		}
	}
	return false
}

func (n *node) called(name string) bool {
	return n.id == name || n.label == name || n.data["layer"] == name
}

// layers knows the layers that there are.
type layers struct {
	names []string
	fixed bool // no others may come
	rules []Rule
	rest  string // the layer of what nothing gives one; empty: there is none
	held  []bool // by rule: it decided something
}

func newLayers(o *Options) (*layers, error) {
	l := &layers{names: slices.Clone(o.Layers), fixed: o.Layers != nil, rules: o.Rules, rest: o.Default, held: make([]bool, len(o.Rules))}
	if len(l.names) > layout.MaxLayers {
		return nil, fmt.Errorf("%d layers; a library has at most %d", len(l.names), layout.MaxLayers)
	}
	for _, r := range o.Rules {
		if r.Layer == "" {
			continue
		}
		if _, ok, err := l.named(r.Layer, true); err != nil {
			return nil, err
		} else if !ok {
			return nil, fmt.Errorf("rule %s: there is no layer %q\n    there are %s", r, r.Layer, strings.Join(l.names, ", "))
		}
	}
	if l.rest != "" {
		if _, ok, err := l.named(l.rest, true); err != nil {
			return nil, err
		} else if !ok {
			return nil, fmt.Errorf("there is no layer %q\n    there are %s", l.rest, strings.Join(l.names, ", "))
		}
	}
	return l, nil
}

// named returns the layer of a name; a new one where there is none, if that is allowed and wanted.
func (l *layers) named(name string, add bool) (layer layout.Layer, ok bool, err error) {
	i := slices.Index(l.names, name)
	if i < 0 {
		if l.fixed || !add || name == "" {
			return 0, false, nil
		}
		if len(l.names) == layout.MaxLayers {
			return 0, false, fmt.Errorf("layer %q is one more than the %d that a library can have", name, layout.MaxLayers)
		}
		i = len(l.names)
		l.names = append(l.names, name)
	}
	return layout.Layer(i), true, nil
}

// of returns the layer of what is drawn: by the first rule that holds; by the layer that the drawing itself names, as
// those of Write do; by the innermost group, or the element itself, that is called as a layer; the rest goes where Default
// says. out: a rule leaves it out.
func (l *layers) of(c *context, p paint) (layer layout.Layer, found, out bool, err error) {
	for i := range l.rules {
		if r := &l.rules[i]; r.matches(c, p) {
			l.held[i] = true
			if r.Layer == "" {
				return 0, false, true, nil
			}
			layer, found, err = l.named(r.Layer, false)
			return layer, found, false, err
		}
	}
	for g := c; g != nil; g = g.outer {
		for _, name := range [3]string{g.node.data["layer"], g.node.label, g.node.id} {
			if name == "" {
				continue
			}
			if layer, found, err = l.named(name, name == g.node.data["layer"]); found || err != nil {
				return layer, found, false, err
			}
		}
	}
	if l.rest != "" {
		layer, found, err = l.named(l.rest, false)
	}
	return layer, found, false, err
}

// Unmapped is a part of the drawing that nothing gives a layer.
type Unmapped struct {
	Colour, Class, Group string // as far as there are; Colour is #rrggbb
	Count, Line          int    // elements, and where the first is
	Shared               bool   // what has a layer has this colour too, so that a rule by colour would take that along
}

func (u Unmapped) String() string {
	var keys []string
	if u.Colour != "" {
		keys = append(keys, "colour "+u.Colour)
	}
	if u.Class != "" {
		keys = append(keys, fmt.Sprintf("class %q", u.Class))
	}
	if u.Group != "" {
		keys = append(keys, fmt.Sprintf("group %q", u.Group))
	}
	if keys == nil {
		keys = []string{"neither colour nor class nor group"}
	}
	return fmt.Sprintf("%s: %d (first at line %d)", strings.Join(keys, ", "), u.Count, u.Line)
}

const (
	mostUnmapped  = 1000 // kinds that are kept
	shownUnmapped = 12   // in an error
)

// unmapped counts what has no layer.
type unmapped struct {
	list  []Unmapped
	at    map[Unmapped]int
	total int
	other map[Colour]bool // those of what has a layer
}

// found notes the colour of what has a layer.
func (u *unmapped) found(p paint) {
	if u.other == nil {
		u.other = map[Colour]bool{}
	}
	if p.known {
		u.other[p.colour] = true
	}
}

// share says which colours something else has, too.
func (u *unmapped) share() {
	names := map[string]bool{}
	for c := range u.other {
		names[c.String()] = true
	}
	for i := range u.list {
		u.list[i].Shared = names[u.list[i].Colour]
	}
}

func (u *unmapped) add(c *context, p paint) {
	u.total++
	var k Unmapped
	if p.known {
		k.Colour = p.colour.String()
	}
	for g := c; g != nil; g = g.outer {
		if k.Class == "" && len(g.node.classes) > 0 {
			k.Class = g.node.classes[0]
		}
		if name := firstOf(g.node.data["layer"], g.node.label, g.node.id); k.Group == "" && g != c && g.outer != nil && name != "" {
			k.Group = name
		}
	}
	i, ok := u.at[k]
	if !ok {
		if len(u.list) == mostUnmapped {
			return
		}
		if u.at == nil {
			u.at = map[Unmapped]int{}
		}
		i = len(u.list)
		u.at[k] = i
		u.list = append(u.list, k)
		u.list[i].Line = c.node.line
	}
	u.list[i].Count++
}

func firstOf(names ...string) string {
	for _, n := range names {
		if n != "" {
			return n
		}
	}
	return ""
}

// fault is the error where that is not allowed.
func (u *unmapped) fault(d *Document) error {
	var lines []string
	for i, k := range u.list {
		if i == shownUnmapped {
			lines = append(lines, fmt.Sprintf("and %d kinds more", len(u.list)-i))
			break
		}
		lines = append(lines, k.String())
	}
	return d.fail(nil, "say so by rules such as '#00ff00=metal1', 'class:NAME=LAYER' or 'group:NAME=LAYER'; with nothing behind the = they are left out",
		"nothing says to what layers %d elements belong:\n    %s", u.total, strings.Join(lines, "\n    "))
}
