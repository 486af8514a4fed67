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

// checker resolves the names of a file and collects what is wrong.
type checker struct {
	file     string
	at       positions
	in       *file
	out      *Stack
	problems []error
}

// substrateName refers to the substrate where a layer could stand.
const substrateName = "substrate"

func (c *checker) run() {
	c.layers()
	c.joins()
	c.pairs()
	c.rules()
	c.rest()
}

// bad reports a mistake at the value of a key, or at the table where the key is missing.
func (c *checker) bad(key, remedy, format string, args ...any) {
	pos, path := position{}, key
	for pos.line == 0 && path != "" {
		pos = c.at[path]
		path = path[:max(strings.LastIndexAny(path, ".["), 0)]
	}
	c.problems = append(c.problems, &Problem{c.file, pos.line, pos.column, key, fmt.Sprintf(format, args...), remedy})
}

var roles = map[string]Role{"diffusion": Diffusion, "gate": Gate, "metal": Metal, "contact": Contact, "well": Well, "pad": Pad, "mark": Mark}

var (
	goodName  = regexp.MustCompile(`^[A-Za-z0-9_.-]{1,64}$`)
	goodColor = regexp.MustCompile(`^#[0-9a-fA-F]{6}$`)
)

// name checks what is later written into other files: layer and model names.
func (c *checker) name(key, s string) {
	switch {
	case s == "":
		c.bad(key, "", "%s is missing", key[strings.LastIndex(key, ".")+1:])
	case !goodName.MatchString(s):
		c.bad(key, "letters, digits, _ . and - will do, 64 at most", "%q cannot be a name", s)
	}
}

func (c *checker) amount(key string, v float64) {
	if !(v >= 0 && v < 1e30) {
		c.bad(key, "give a number from 0 up, or leave the key out", "%v cannot be right here", v)
	}
}

func (c *checker) layers() {
	if len(c.in.Layer) == 0 {
		c.bad("", "add a [[layer]] with name and role for each thing that is drawn", "the stack has no layer")
	}
	if len(c.in.Layer) > layout.MaxLayers {
		c.bad(fmt.Sprintf("layer[%d]", layout.MaxLayers), "leave out layers that no rule needs", "the stack has %d layers, %d is the most", len(c.in.Layer), layout.MaxLayers)
		c.in.Layer = c.in.Layer[:layout.MaxLayers]
	}
	first := map[string]int{}
	for i, l := range c.in.Layer {
		key := fmt.Sprintf("layer[%d]", i)
		c.name(key+".name", l.Name)
		if k, ok := first[l.Name]; ok {
			c.bad(key+".name", "", "layer %q is there already, as layer %d of the file", l.Name, k+1)
		} else {
			first[l.Name] = i
		}
		if l.Name == substrateName {
			c.bad(key+".name", "", "%q means what lies below all layers; a layer needs another name", l.Name)
		}
		role := roles[l.Role]
		if role == 0 {
			c.bad(key+".role", didYouMean(l.Role, roleNames[1:])+"roles are "+strings.Join(roleNames[1:], ", "), "layer %q: %q is no role", l.Name, l.Role)
		}
		if l.Color != "" && !goodColor.MatchString(l.Color) {
			c.bad(key+".color", `write it as "#rrggbb"`, "layer %q: %q is no colour", l.Name, l.Color)
		}
		c.amount(key+".sheet_ohm", l.SheetOhm)
		c.amount(key+".area_af_um2", l.AreaAFUm2)
		c.amount(key+".edge_af_um", l.EdgeAFUm)
		c.amount(key+".thickness_nm", l.ThicknessNm)
		c.out.Layers = append(c.out.Layers, Layer{Name: l.Name, Role: role, Color: l.Color, SheetOhm: l.SheetOhm,
			AreaAFUm2: l.AreaAFUm2, EdgeAFUm: l.EdgeAFUm, ThicknessNm: l.ThicknessNm})
	}
}

// layer finds a layer that must have one of the given roles; none: any.
func (c *checker) layer(key, what, name string, allowed ...Role) (layout.Layer, bool) {
	l, ok := c.out.LayerNamed(name)
	if !ok {
		names := c.out.LayerNames()
		c.bad(key, didYouMean(name, names)+"this stack has "+strings.Join(names, ", "), "%s%q, which is no layer", what, name)
		return 0, false
	}
	if role := c.out.Layers[l].Role; len(allowed) > 0 && role != 0 && !slices.Contains(allowed, role) {
		var names []string
		for _, r := range allowed {
			names = append(names, r.String())
		}
		c.bad(key, "", "%s%q, a layer of role %s; it must be %s", what, name, role, strings.Join(names, " or "))
		return 0, false
	}
	return l, true
}

func (c *checker) joins() {
	for i, l := range c.in.Layer {
		key := fmt.Sprintf("layer[%d].joins", i)
		if c.out.Layers[i].Role != Contact {
			if len(l.Joins) > 0 {
				c.bad(key, `a contact or via has role = "contact"`, "layer %q joins layers, but its role is %s", l.Name, l.Role)
			}
			continue
		}
		if len(l.Joins) < 2 {
			c.bad(key, `name them from top to bottom: joins = ["metal1", "poly", "diffusion"]`, "contact %q must join at least two layers", l.Name)
		}
		for k, name := range l.Joins {
			j, ok := c.layer(fmt.Sprintf("%s[%d]", key, k), fmt.Sprintf("layer %q: joins ", l.Name), name, Metal, Gate, Diffusion)
			if ok && slices.Contains(c.out.Layers[i].Joins, j) {
				c.bad(fmt.Sprintf("%s[%d]", key, k), "", "layer %q: joins %q twice", l.Name, name)
			} else if ok {
				c.out.Layers[i].Joins = append(c.out.Layers[i].Joins, j)
			}
		}
	}
}

// pairs reads the GDSII pairs; no two layers may share one.
func (c *checker) pairs() {
	shapes, labels := map[Pair]string{}, map[Pair]string{}
	for i, l := range c.in.Layer {
		key := fmt.Sprintf("layer[%d]", i)
		c.out.Layers[i].GDS = c.pairList(key+".gds", l.Name, l.GDS, shapes)
		c.out.Layers[i].Labels = c.pairList(key+".labels", l.Name, l.Labels, labels)
	}
	c.out.Substrate.Labels = c.pairList("substrate.labels", substrateName, c.in.Substrate.Labels, labels)
}

func (c *checker) pairList(key, layer string, texts []string, taken map[Pair]string) []Pair {
	var pairs []Pair
	for i, s := range texts {
		at := fmt.Sprintf("%s[%d]", key, i)
		p, err := parsePair(s)
		if err != nil {
			c.bad(at, `write layer and datatype as in "22/0"`, "layer %q: %q is no GDSII layer and datatype", layer, s)
			continue
		}
		if other, ok := taken[p]; ok {
			c.bad(at, "", "layer %q: %s belongs to layer %q already", layer, s, other)
			continue
		}
		taken[p] = layer
		pairs = append(pairs, p)
	}
	return pairs
}

func parsePair(s string) (Pair, error) {
	a, b, ok := strings.Cut(s, "/")
	l, err1 := strconv.ParseInt(a, 10, 16)
	d, err2 := strconv.ParseInt(b, 10, 16)
	if !ok || err1 != nil || err2 != nil || l < 0 || d < 0 {
		return Pair{}, strconv.ErrSyntax
	}
	return Pair{int16(l), int16(d)}, nil
}

func (p Pair) String() string { return fmt.Sprintf("%d/%d", p.Layer, p.Datatype) }

func (c *checker) ofRole(r Role) []layout.Layer {
	var ls []layout.Layer
	for i := range c.out.Layers {
		if c.out.Layers[i].Role == r {
			ls = append(ls, layout.Layer(i))
		}
	}
	return ls
}

// oneOrAll returns the named layer, or all of a role where none is named.
func (c *checker) oneOrAll(key, name string, r Role) []layout.Layer {
	if name == "" {
		return c.ofRole(r)
	}
	if l, ok := c.layer(key, "refers to ", name, r); ok {
		return []layout.Layer{l}
	}
	return nil
}

func (c *checker) where(key string, texts []string) []Condition {
	var where []Condition
	for i, s := range texts {
		name, not := strings.CutPrefix(s, "!")
		if l, ok := c.layer(fmt.Sprintf("%s.where[%d]", key, i), "the condition names ", name); ok {
			where = append(where, Condition{l, not})
		}
	}
	return where
}

// tie reads a reference to the substrate or a well.
func (c *checker) tie(key, name string, unknownToo bool) Tie {
	switch {
	case name == substrateName:
		return ToSubstrate
	case name == "unknown" && unknownToo:
		return Tie{}
	case name == "":
		c.bad(key, `it is "substrate" or a well layer`, "%s is missing", key[strings.LastIndex(key, ".")+1:])
		return Tie{}
	}
	if l, ok := c.layer(key, "refers to ", name, Well); ok {
		return ToWell(l)
	}
	return Tie{}
}

func (c *checker) polarity(key, s string) {
	if s != "n" && s != "p" {
		c.bad(key, "", `type is %q; it must be "n" or "p"`, s)
	}
}

func (c *checker) rules() {
	for i, m := range c.in.Mos {
		key := fmt.Sprintf("mos[%d]", i)
		c.name(key+".model", m.Model)
		c.polarity(key+".type", m.Type)
		r := MOSRule{Model: m.Model, Type: m.Type, Where: c.where(key, m.Where), Bulk: c.tie(key+".bulk", m.Bulk, true)}
		r.Gates, r.Diffusions = c.oneOrAll(key+".gate", m.Gate, Gate), c.oneOrAll(key+".diffusion", m.Diffusion, Diffusion)
		if len(c.ofRole(Gate)) == 0 || len(c.ofRole(Diffusion)) == 0 {
			c.bad(key, "", "a [[mos]] rule needs a layer of role gate and one of role diffusion")
		}
		c.out.MOS = append(c.out.MOS, r)
	}
	for i, t := range c.in.Tap {
		key := fmt.Sprintf("tap[%d]", i)
		c.out.Taps = append(c.out.Taps, TapRule{c.where(key, t.Where), c.oneOrAll(key+".diffusion", t.Diffusion, Diffusion), c.tie(key+".ties", t.Ties, false)})
	}
	for i, d := range c.in.Diode {
		key := fmt.Sprintf("diode[%d]", i)
		c.name(key+".model", d.Model)
		c.polarity(key+".type", d.Type)
		r := DiodeRule{Model: d.Model, Type: d.Type, Where: c.where(key, d.Where), To: c.tie(key+".to", d.To, false)}
		r.Body = c.body(key+".body", d.Body, Diffusion, Diffusion, Well)
		c.out.Diodes = append(c.out.Diodes, r)
	}
	for i, k := range c.in.Capacitor {
		key := fmt.Sprintf("capacitor[%d]", i)
		c.name(key+".model", k.Model)
		c.amount(key+".area_af_um2", k.AreaAFUm2)
		c.amount(key+".edge_af_um", k.EdgeAFUm)
		r := CapacitorRule{Model: k.Model, Where: c.where(key, k.Where), AreaAFUm2: k.AreaAFUm2, EdgeAFUm: k.EdgeAFUm}
		if len(k.Plates) != 2 {
			c.bad(key+".plates", `plates = ["poly2", "poly"]`, "a capacitor has two plates, the upper one first")
		} else {
			r.Upper, _ = c.layer(key+".plates[0]", "the upper plate is ", k.Plates[0], Metal, Gate, Diffusion)
			r.Lower, _ = c.layer(key+".plates[1]", "the lower plate is ", k.Plates[1], Metal, Gate, Diffusion, Well)
		}
		c.out.Capacitors = append(c.out.Capacitors, r)
	}
	for i, k := range c.in.Resistor {
		key := fmt.Sprintf("resistor[%d]", i)
		c.name(key+".model", k.Model)
		c.amount(key+".sheet_ohm", k.SheetOhm)
		r := ResistorRule{Model: k.Model, Where: c.where(key, k.Where), SheetOhm: k.SheetOhm}
		r.Body = c.body(key+".body", k.Body, 0, Metal, Gate, Diffusion, Well)
		c.out.Resistors = append(c.out.Resistors, r)
	}
}

// body finds a rule's body. Where none is named and there is one layer of the default role, that is it.
func (c *checker) body(key, name string, byDefault Role, allowed ...Role) layout.Layer {
	if name == "" {
		if all := c.ofRole(byDefault); len(all) == 1 {
			return all[0]
		}
		c.bad(key, "name the layer that the device is made of", "body is missing, and no single layer offers itself")
		return 0
	}
	l, _ := c.layer(key, "the body is ", name, allowed...)
	return l
}

func (c *checker) rest() {
	s := &c.in.Substrate
	c.out.Substrate.Net, c.out.Substrate.Type = s.Net, cmp.Or(s.Type, "p")
	c.polarity("substrate.type", c.out.Substrate.Type)
	if s.Net != "" {
		c.name("substrate.net", strings.TrimSuffix(s.Net, "!"))
	}
	p := &c.in.Process
	c.amount("process.gate_oxide_nm", p.GateOxideNm)
	c.amount("process.supply_v", p.SupplyV)
	c.amount("process.min_feature_nm", p.MinFeatureNm)
	c.out.Process = Process{p.GateOxideNm, p.SupplyV, p.MinFeatureNm}
}

// didYouMean returns the name nearest to a misspelt one as the beginning of a remedy, or nothing.
func didYouMean(name string, names []string) string {
	best, d := "", max(len(name)/3, 1)+1
	for _, n := range names {
		if k := editDistance(name, n); k < d {
			best, d = n, k
		}
	}
	if best == "" || name == "" {
		return ""
	}
	return fmt.Sprintf("did you mean %q? ", best)
}

// editDistance is the number of letters to insert, drop or replace.
func editDistance(a, b string) int {
	if len(a) > 64 || len(b) > 64 {
		return 64
	}
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diag := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			d := diag
			if a[i-1] != b[j-1] {
				d++
			}
			diag = row[j]
			row[j] = min(d, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}
