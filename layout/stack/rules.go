package stack

import (
	"fmt"
	"slices"
	"strings"

	"undermetal/layout"
)

// rules reads the device rules, after the layers that they refer to.
func (c *checker) rules(file *table) {
	for _, t := range c.tables(file, "mos") {
		r := MOSRule{Model: t.word("model", "model"), Type: t.polarity(true), Where: c.where(t), Bulk: c.tie(t, "bulk", "bulk names", true),
			Gates: c.oneOrAll(t, "gate", Gate), Diffusions: c.oneOrAll(t, "diffusion", Diffusion)}
		c.out.MOS = append(c.out.MOS, r)
	}
	for _, t := range c.tables(file, "tap") {
		r := TapRule{Where: c.where(t), Diffusions: c.oneOrAll(t, "diffusion", Diffusion), Ties: c.tie(t, "ties", "ties", false)}
		c.out.Taps = append(c.out.Taps, r)
	}
	for _, t := range c.tables(file, "diode") {
		r := DiodeRule{Model: t.word("model", "model"), Type: t.polarity(true), Body: c.diodeBody(t), Where: c.where(t),
			To: c.tie(t, "to", "to names", false)}
		c.out.Diodes = append(c.out.Diodes, r)
	}
	for _, t := range c.tables(file, "capacitor") {
		r := CapacitorRule{Model: t.word("model", "model"), Where: c.where(t), AreaAFUm2: t.number("area_af_um2"), EdgeAFUm: t.number("edge_af_um")}
		r.Upper, r.Lower = c.plates(t)
		c.out.Capacitors = append(c.out.Capacitors, r)
	}
	for _, t := range c.tables(file, "resistor") {
		r := ResistorRule{Model: t.word("model", "model"), Where: c.where(t), SheetOhm: t.number("sheet_ohm")}
		if s, ok := t.text("body", true); ok {
			r.Body, _ = c.reference(t, item{"body", s}, "body names", Metal, Gate, Diffusion, Well)
		}
		c.out.Resistors = append(c.out.Resistors, r)
	}
}

// where reads a rule's conditions.
func (c *checker) where(t *table) []Condition {
	var where []Condition
	for _, it := range t.texts("where") {
		name, not := strings.CutPrefix(it.text, "!")
		l, ok := c.reference(t, item{it.key, name}, "where names")
		switch {
		case !ok:
		case slices.Contains(where, Condition{l, not}):
			t.bad(it.key, "name each condition once", "where names %q twice", it.text)
		case slices.Contains(where, Condition{l, !not}):
			t.bad(it.key, "leave out one of them", `where asks for both %q and "!%s", which never holds`, name, name)
		default:
			where = append(where, Condition{l, not})
		}
	}
	return where
}

// tie reads a reference to the substrate or a well layer; a bulk may be unknown too.
func (c *checker) tie(t *table, key, verb string, unknownToo bool) Tie {
	s, ok := t.text(key, true)
	if !ok || s == unknownName && unknownToo {
		return Tie{}
	}
	if s == substrateName {
		return ToSubstrate
	}
	words := []string{substrateName}
	if unknownToo {
		words = append(words, unknownName)
	}
	for _, l := range c.out.Layers {
		if l.Role == Well || l.Role == 0 {
			words = append(words, l.Name)
		}
	}
	l, found := c.out.LayerNamed(s)
	switch {
	case c.full():
	case !found || s == "":
		t.bad(key, instead(s, words, "these would do: "+strings.Join(words, ", ")), "%s %s, which is no well layer", verb, quoted(s))
	case !slices.Contains(words, s):
		t.bad(key, "these would do: "+strings.Join(words, ", "),
			"%s %q, which has role %s; it must be a well layer or the substrate", verb, s, c.out.Layers[l].Role)
	default:
		return ToWell(l)
	}
	return Tie{}
}

// oneOrAll reads the layers of a role that a rule is for: one, a list, or all where the key is not given. The order in
// which they are written means nothing; they come in the order of the layers.
func (c *checker) oneOrAll(t *table, key string, r Role) []layout.Layer {
	all := c.out.ofRole(r)
	if len(all) == 0 && !c.unknownRoles {
		t.bad("", fmt.Sprintf("add a [[layer]] with role = %q, or leave the rule out", r), "a [[%s]] rule needs a layer of role %s", t.kind, r)
		return nil
	}
	var items []item
	switch v := t.values[key].(type) {
	case nil:
		return all
	case string:
		items = []item{{key, v}}
	default:
		items = t.texts(key)
	}
	if t.length(key) == 0 {
		t.bad(key, "leave it out, then the rule is for all layers of role "+r.String(), "%s names no layer", key)
	}
	var ls []layout.Layer
	for _, it := range items {
		l, ok := c.reference(t, it, key+" names", r)
		if ok && slices.Contains(ls, l) {
			t.bad(it.key, "name each layer once", "%s names %q twice", key, it.text)
		} else if ok {
			ls = append(ls, l)
		}
	}
	slices.Sort(ls)
	return ls
}

// diodeBody reads what a diode is made of: the only diffusion, where the key is not given.
func (c *checker) diodeBody(t *table) layout.Layer {
	if s, ok := t.text("body", false); ok {
		l, _ := c.reference(t, item{"body", s}, "body names", Diffusion, Well)
		return l
	}
	if _, wrong := t.values["body"]; wrong || c.unknownRoles || t.meant["body"] {
		return 0
	}
	all := c.out.ofRole(Diffusion)
	if len(all) != 1 {
		t.bad("body", c.wouldDo([]Role{Diffusion, Well}), "body is missing, and the stack has %d diffusion layers, not one", len(all))
		return 0
	}
	return all[0]
}

// plates reads the two conductors of a capacitor; the lower one may be a well.
func (c *checker) plates(t *table) (upper, lower layout.Layer) {
	if _, there := t.values["plates"]; !there {
		t.missing("plates")
		return 0, 0
	}
	items := t.texts("plates")
	if n := t.length("plates"); n >= 0 && n != 2 {
		t.bad("plates", "name the upper one, then the lower one: "+t.example("plates"), "a capacitor has two plates, this one %d", n)
		return 0, 0
	}
	if len(items) != 2 {
		return 0, 0
	}
	upper, ok := c.reference(t, items[0], "the upper plate is", conductors...)
	lower, ok2 := c.reference(t, items[1], "the lower plate is", Metal, Gate, Diffusion, Well)
	if ok && ok2 && upper == lower {
		t.bad(items[1].key, "name two layers that lie above each other", "both plates are %q", items[1].text)
	}
	return upper, lower
}
