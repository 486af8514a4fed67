package stack

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"
)

// key is a key of the dialect with an example of its use.
type key struct{ name, example string }

// dialect lists the keys of each table, with what a remedy shows; "" is the file itself.
var dialect = map[string][]key{
	"": {{"name", `name = "n-well CMOS, one poly, two metals"`}, {"layer", "[[layer]]"}, {"mos", "[[mos]]"}, {"tap", "[[tap]]"},
		{"diode", "[[diode]]"}, {"capacitor", "[[capacitor]]"}, {"resistor", "[[resistor]]"}, {"substrate", "[substrate]"}, {"process", "[process]"}},
	"layer": {{"name", `name = "metal1"`}, {"role", `role = "metal"`}, {"joins", `joins = ["metal1", "poly", "diffusion"]`},
		{"gds", `gds = ["34/0"]`}, {"labels", `labels = ["34/10"]`}, {"color", `color = "#0072b2"`}, {"sheet_ohm", "sheet_ohm = 7.5"},
		{"area_af_um2", "area_af_um2 = 25.0"}, {"edge_af_um", "edge_af_um = 40.0"}, {"thickness_nm", "thickness_nm = 500"}},
	"mos": {{"model", `model = "nfet"`}, {"type", `type = "n" or type = "p"`}, {"where", `where = ["nplus", "!nwell"]`},
		{"bulk", `bulk = "substrate", bulk = "unknown", or the name of a well layer`}, {"gate", `gate = "poly"`}, {"diffusion", `diffusion = "ndiffusion"`}},
	"tap": {{"where", `where = ["nplus", "nwell"]`}, {"ties", `ties = "substrate", or the name of a well layer`}, {"diffusion", `diffusion = "ndiffusion"`}},
	"diode": {{"model", `model = "photodiode"`}, {"type", `type = "n" or type = "p"`}, {"body", `body = "diffusion"`},
		{"where", `where = ["diode", "!nwell"]`}, {"to", `to = "substrate", or the name of a well layer`}},
	"capacitor": {{"model", `model = "cpoly"`}, {"plates", `plates = ["poly2", "poly"]`}, {"where", `where = ["capmark"]`},
		{"area_af_um2", "area_af_um2 = 860.0"}, {"edge_af_um", "edge_af_um = 80.0"}},
	"resistor":  {{"model", `model = "rpoly"`}, {"body", `body = "poly"`}, {"where", `where = ["resmark"]`}, {"sheet_ohm", "sheet_ohm = 200.0"}},
	"substrate": {{"net", `net = "VSS"`}, {"type", `type = "n" or type = "p"`}, {"labels", `labels = ["64/59"]`}},
	"process":   {{"gate_oxide_nm", "gate_oxide_nm = 12.5"}, {"supply_v", "supply_v = 5.0"}, {"min_feature_nm", "min_feature_nm = 350"}},
}

// table takes values out of one TOML table; the mistakes it meets go to the checker.
type table struct {
	c       *checker
	kind    string          // its name in the dialect
	path    string          // such as layer[2]; empty for the file itself
	subject string          // begins messages: layer "contact"
	values  map[string]any  // of the types that go-toml decodes to
	meant   map[string]bool // keys for which misspelt ones stand, as far as one can tell
}

// newTable wraps a decoded table and reports its unknown keys. number counts the tables of a kind from 1; 0: the only one.
func (c *checker) newTable(kind, path string, number int, values map[string]any) *table {
	t := &table{c: c, kind: kind, path: path, subject: kind, values: values, meant: map[string]bool{}}
	if number > 0 {
		t.subject = fmt.Sprintf("%s %d", kind, number)
	}
	for _, k := range []string{"name", "model"} {
		if s, ok := values[k].(string); ok && s != "" && number > 0 {
			t.subject = kind + " " + quoted(s)
		}
	}
	t.unknownKeys()
	return t
}

func (t *table) unknownKeys() {
	var names []string
	for _, k := range dialect[t.kind] {
		names = append(names, k.name)
	}
	var unknown []string
	for k := range t.values {
		if !slices.Contains(names, k) {
			unknown = append(unknown, k)
		}
	}
	slices.Sort(unknown)
	for _, k := range unknown {
		t.badKey(k, instead(k, names, "the keys are "+strings.Join(names, ", ")), "there is no key %s here", quoted(k))
		t.meant[didYouMean(k, names)] = true
	}
}

// bad reports a mistake in the value of a key, or of a member of it (joins[1]); without such a value it stands at the
// head of the table.
func (t *table) bad(key, remedy, format string, args ...any) {
	t.report(key, false, remedy, fmt.Sprintf(format, args...))
}

// badKey reports a mistake in a key itself.
func (t *table) badKey(key, remedy, format string, args ...any) {
	t.report(key, true, remedy, fmt.Sprintf(format, args...))
}

func (t *table) report(key string, atKey bool, remedy, text string) {
	if t.subject != "" {
		text = t.subject + ": " + text
	}
	t.c.add(joinPath(t.path, key), atKey, text, remedy)
}

// missing reports that a key is not there, unless a misspelt one that was reported stands for it.
func (t *table) missing(key string) {
	if !t.meant[key] {
		t.bad(key, "add "+t.example(key), "%s is missing", key)
	}
}

// example shows how a key of the dialect is used.
func (t *table) example(name string) string {
	i := slices.IndexFunc(dialect[t.kind], func(k key) bool { return k.name == name })
	return dialect[t.kind][i].example
}

// wrongKind reports a value that is no text, list … as wanted.
func (t *table) wrongKind(key string, v any, want string) {
	name, _, _ := strings.Cut(key, "[")
	t.bad(key, "write it as "+t.example(name), "%s is %s, it must be %s", key, kindOf(v), want)
}

func kindOf(v any) string {
	switch v.(type) {
	case string:
		return "a text"
	case int64, float64:
		return "a number"
	case bool:
		return "true or false"
	case []any:
		return "a list"
	case map[string]any:
		return "a table"
	}
	return "a date or time"
}

// text returns the text of a key; ok is false if there is none, or if it is wrong, which has then been reported.
func (t *table) text(key string, required bool) (s string, ok bool) {
	v, there := t.values[key]
	if !there {
		if required {
			t.missing(key)
		}
		return "", false
	}
	s, ok = v.(string)
	if !ok {
		t.wrongKind(key, v, "a text")
	}
	return s, ok
}

// item is a member of a list of texts, with its own key such as joins[1].
type item struct{ key, text string }

// texts returns the texts of a list. Members that are no text are reported and left out.
func (t *table) texts(key string) []item {
	v, there := t.values[key]
	if !there {
		return nil
	}
	list, ok := v.([]any)
	if !ok {
		t.wrongKind(key, v, "a list of texts")
		return nil
	}
	var items []item
	for i, v := range list {
		at := fmt.Sprintf("%s[%d]", key, i)
		if s, ok := v.(string); ok {
			items = append(items, item{at, s})
		} else {
			t.wrongKind(at, v, "a text")
		}
	}
	return items
}

// length returns the number of members of a list, -1 where a key holds no list.
func (t *table) length(key string) int {
	if list, ok := t.values[key].([]any); ok {
		return len(list)
	}
	return -1
}

// maxAmount bounds every number of a stack file; each is far below it in its unit.
const maxAmount = 1e12

// number returns the number of a key, 0 if there is none. Negative and absurd ones are reported.
func (t *table) number(key string) float64 {
	var x float64
	switch v := t.values[key].(type) {
	case nil:
		return 0
	case int64:
		x = float64(v)
	case float64:
		x = v
	default:
		t.wrongKind(key, v, "a number")
		return 0
	}
	if !(x >= 0 && x <= maxAmount) { // not a number: neither
		t.bad(key, "write it as "+t.example(key)+", or leave it out if it is not known",
			"%s is %v, it must be from 0 to %g", key, t.values[key], maxAmount)
		return 0
	}
	return x
}

var goodName = regexp.MustCompile(`^[A-Za-z0-9_.-]{1,64}$`)

// word returns the text of a key that is later written into other files: what names a layer or a model.
func (t *table) word(key, what string) string {
	s, ok := t.text(key, true)
	if ok && !goodName.MatchString(s) {
		t.bad(key, "letters, digits, _ . and - will do, 1 to 64 of them", "%s cannot be a %s name, because it is written into SPICE", quoted(s), what)
	}
	return s
}

// line returns a text that is shown to people: it may have any characters that can be seen, and is one line.
func (t *table) line(key string) string {
	const most = 200
	s, _ := t.text(key, false)
	if strings.ContainsFunc(s, func(r rune) bool { return !unicode.IsGraphic(r) }) || len([]rune(s)) > most {
		t.bad(key, fmt.Sprintf("give one line without control characters, %d letters at most", most), "%s cannot be the %s", quoted(s), key)
	}
	return s
}

// polarity returns "n" or "p".
func (t *table) polarity(required bool) string {
	s, ok := t.text("type", required)
	if ok && s != "n" && s != "p" {
		t.bad("type", "write "+t.example("type"), `type is %s, it must be "n" or "p"`, quoted(s))
	}
	return s
}
