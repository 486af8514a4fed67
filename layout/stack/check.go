package stack

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"undermetal/layout"
)

// Words that stand where a layer could; no layer may be called that.
const (
	substrateName = "substrate" // what lies below all layers
	unknownName   = "unknown"   // a bulk of which nothing is known
)

// checker turns decoded tables into a Stack and collects what is wrong. What refers to a mistake that was reported
// already is not reported again.
type checker struct {
	file         string
	at           positions
	out          *Stack
	unknownRoles bool // some layer has no role that is known, so it could have any
	problems     []*Problem
}

// full reports whether no more problems are listed, so that looking for near names can be spared.
func (c *checker) full() bool { return len(c.problems) > maxProblems }

// add reports a mistake at the value (with atKey, at the key) of a path.
func (c *checker) add(path string, atKey bool, text, remedy string) {
	switch {
	case len(c.problems) < maxProblems:
		line, column := c.at.of(path, atKey)
		c.problems = append(c.problems, &Problem{c.file, line, column, path, text, remedy})
	case len(c.problems) == maxProblems:
		text := fmt.Sprintf("more than %d mistakes: only those that were found first are listed", maxProblems)
		c.problems = append(c.problems, &Problem{File: c.file, Text: text, Remedy: "mend these and look again"})
	}
}

func (c *checker) run(root map[string]any) {
	file := c.newTable("", "", 0, root)
	c.out.Name = file.line("name")
	layers := c.layers(file)
	if len(layers) == 0 || len(layers) > layout.MaxLayers {
		return // every name of a layer would be reported once more
	}
	c.joins(layers)
	c.rules(file)
	c.substrate(file, c.pairs(layers))
	c.process(file)
}

// tables returns the tables of a list such as [[mos]].
func (c *checker) tables(file *table, kind string) []*table {
	v, there := file.values[kind]
	if !there {
		return nil
	}
	list, ok := v.([]any)
	if !ok {
		file.wrongKind(kind, v, "a list of tables")
		return nil
	}
	var ts []*table
	for i, v := range list {
		at := fmt.Sprintf("%s[%d]", kind, i)
		if m, ok := v.(map[string]any); ok {
			ts = append(ts, c.newTable(kind, at, i+1, m))
		} else {
			file.wrongKind(at, v, "a table")
		}
	}
	return ts
}

// single returns a table that stands once at most; it is empty if it is not there.
func (c *checker) single(file *table, kind string) *table {
	v, there := file.values[kind]
	m, ok := v.(map[string]any)
	if there && !ok {
		file.wrongKind(kind, v, "a table")
	}
	return c.newTable(kind, kind, 0, m)
}

// layers reads all of the layers but what they refer to; it returns their tables, by layer.
func (c *checker) layers(file *table) []*table {
	ts := c.tables(file, "layer")
	if _, there := file.values["layer"]; !there && !file.meant["layer"] || file.length("layer") == 0 {
		c.add("layer", true, "the stack has no layer", "add a [[layer]] with name and role for each thing that is drawn")
	}
	if len(ts) > layout.MaxLayers {
		text := fmt.Sprintf("the stack has %d layers, %d is the most", len(ts), layout.MaxLayers)
		c.add(ts[layout.MaxLayers].path, true, text, "leave out layers that no rule needs")
		return ts
	}
	for _, t := range ts {
		name := t.word("name", "layer")
		if k, ok := c.out.LayerNamed(name); ok && name != "" {
			t.bad("name", fmt.Sprintf("give each layer its own name; the first is layer %d of the file", k+1), "there are two layers of that name")
		}
		if name == substrateName || name == unknownName {
			t.bad("name", `take another name, such as "nwell"`, "%q has a meaning of its own where rules name a bulk or a well", name)
		}
		c.out.Layers = append(c.out.Layers, Layer{Name: name, Role: c.role(t), Color: color(t), SheetOhm: t.number("sheet_ohm"),
			AreaAFUm2: t.number("area_af_um2"), EdgeAFUm: t.number("edge_af_um"), ThicknessNm: t.number("thickness_nm")})
	}
	return ts
}

func (c *checker) role(t *table) Role {
	names := roleNames[Diffusion:]
	s, ok := t.text("role", true)
	r := slices.Index(names, s)
	if ok && r < 0 {
		t.bad("role", instead(s, names, "roles are "+strings.Join(names, ", ")), "%s is no role", quoted(s))
	}
	if r < 0 {
		c.unknownRoles = true
		return 0
	}
	return Diffusion + Role(r)
}

var goodColor = regexp.MustCompile(`^#[0-9a-fA-F]{6}$`)

func color(t *table) string {
	s, ok := t.text("color", false)
	if ok && !goodColor.MatchString(s) {
		t.bad("color", `write red, green and blue as "#rrggbb", in hexadecimal: `+t.example("color"), "%s is no colour", quoted(s))
	}
	return s
}

// conductors are what a contact can join.
var conductors = []Role{Metal, Gate, Diffusion}

func (c *checker) joins(layers []*table) {
	for i, t := range layers {
		l := &c.out.Layers[i]
		items, n := t.texts("joins"), t.length("joins")
		_, there := t.values["joins"]
		switch {
		case l.Role != Contact && l.Role != 0:
			if len(items) > 0 {
				t.badKey("joins", `only contacts and vias join layers: leave joins out, or write role = "contact"`, "joins layers, but its role is %s", l.Role)
			}
			continue
		case l.Role == Contact && !there:
			t.missing("joins")
		case l.Role == Contact && (n == 0 || n == 1):
			t.bad("joins", "name them from top to bottom: "+t.example("joins"), "a contact joins at least two layers, this one %d", n)
		}
		for _, it := range items {
			j, ok := c.reference(t, it, "joins", conductors...)
			if ok && slices.Contains(l.Joins, j) {
				t.bad(it.key, "name each layer once, from top to bottom", "joins %q twice", it.text)
			} else if ok {
				l.Joins = append(l.Joins, j)
			}
		}
	}
}

// reference finds the layer that an item names and that must have one of the allowed roles (none given: any).
func (c *checker) reference(t *table, it item, verb string, allowed ...Role) (layout.Layer, bool) {
	l, ok := c.out.LayerNamed(it.text)
	switch {
	case c.full():
		return 0, false
	case !ok || it.text == "":
		names := slices.DeleteFunc(c.out.LayerNames(), func(n string) bool { return n == "" })
		t.bad(it.key, instead(it.text, names, "this stack has "+strings.Join(names, ", ")), "%s %s, which is no layer", verb, quoted(it.text))
		return 0, false
	}
	if r := c.out.Layers[l].Role; len(allowed) > 0 && r != 0 && !slices.Contains(allowed, r) {
		t.bad(it.key, c.wouldDo(allowed), "%s %q, which has role %s; it must be %s", verb, it.text, r, roleList(allowed))
		return 0, false
	}
	return l, true
}

func roleList(roles []Role) string {
	var names []string
	for _, r := range roles {
		names = append(names, r.String())
	}
	return strings.Join(names, " or ")
}

// wouldDo names the layers that have one of the roles.
func (c *checker) wouldDo(roles []Role) string {
	var names []string
	for _, l := range c.out.Layers {
		if slices.Contains(roles, l.Role) {
			names = append(names, l.Name)
		}
	}
	if len(names) == 0 {
		return "this stack has no such layer: add a [[layer]] of role " + roleList(roles)
	}
	return "these would do: " + strings.Join(names, ", ")
}

// pairs reads the GDSII pairs; no two layers may share one. It returns whose the pairs of labels are.
func (c *checker) pairs(layers []*table) (labels map[Pair]string) {
	shapes, labels := map[Pair]string{}, map[Pair]string{}
	for i, t := range layers {
		l := &c.out.Layers[i]
		l.GDS, l.Labels = c.pairList(t, "gds", shapes), c.pairList(t, "labels", labels)
	}
	return labels
}

// pairList reads a list of pairs. taken says whose each one is.
func (c *checker) pairList(t *table, key string, taken map[Pair]string) []Pair {
	var pairs []Pair
	for _, it := range t.texts(key) {
		p, ok := parsePair(it.text)
		other, isTaken := taken[p]
		switch {
		case !ok:
			t.bad(it.key, `write them as in "22/0", each from 0 to 32767`, "%s is no GDSII layer and datatype", quoted(it.text))
		case isTaken && slices.Contains(pairs, p):
			t.bad(it.key, "name it once", "%s names %s twice", key, p)
		case isTaken:
			t.bad(it.key, "take it out of one of them: what a file keeps there can be on one layer only",
				"%s names %s, which belongs to %s already", key, p, other)
		default:
			taken[p] = t.subject
			pairs = append(pairs, p)
		}
	}
	return pairs
}

// parsePair reads "22/0".
func parsePair(s string) (Pair, bool) {
	a, b, ok := strings.Cut(s, "/")
	l, err1 := strconv.ParseUint(a, 10, 15)
	d, err2 := strconv.ParseUint(b, 10, 15)
	if !ok || err1 != nil || err2 != nil {
		return Pair{}, false
	}
	return Pair{int16(l), int16(d)}, true
}

func (c *checker) substrate(file *table, labels map[Pair]string) {
	t := c.single(file, "substrate")
	s := &c.out.Substrate
	s.Type = cmp.Or(t.polarity(false), "p")
	if net, ok := t.text("net", false); ok {
		if s.Net = net; !goodName.MatchString(strings.TrimSuffix(net, "!")) {
			t.bad("net", "letters, digits, _ . and - will do, 1 to 64 of them, with a ! behind them if need be",
				"%s cannot be a net name, because it is written into SPICE", quoted(net))
		}
	}
	s.Labels = c.pairList(t, "labels", labels)
	if len(s.Labels) > 0 && len(c.out.Layers) == layout.MaxLayers {
		t.bad("labels", "leave out a layer that no rule needs", "the stack has %d layers, so there is none left for labels of the substrate", layout.MaxLayers)
	}
}

func (c *checker) process(file *table) {
	t := c.single(file, "process")
	c.out.Process = Process{GateOxideNm: t.number("gate_oxide_nm"), SupplyV: t.number("supply_v"), MinFeatureNm: t.number("min_feature_nm")}
}
