package spice

import (
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"

	"undermetal/netlist"
)

// ModelFile is a user's own models: .model cards and subcircuits, read, checked word by word and written anew.
type ModelFile struct {
	name   string
	models map[string]string // type by folded name
	subs   map[string]*modelSub
	lines  []string
}

// modelSub is a subcircuit that stands for a device.
type modelSub struct {
	name   string
	ports  int
	params map[string]bool // folded
	line   int
}

// mostModelText is how large a model file may be, in bytes: those of foundries have some MB.
const mostModelText = 64 << 20

var (
	// modelTypesRead are the types of models that are taken: built into a simulator, without files or code of their own.
	modelTypesRead = []string{"nmos", "pmos", "d", "npn", "pnp", "njf", "pjf", "nmf", "pmf", "vdmos", "r", "res", "c", "cap", "l", "ind", "sw", "csw"}

	modelName = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_.]*$`)
	paramName = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_]*$`)
	nodeWord  = regexp.MustCompile(`^[A-Za-z0-9_.#:!<>\[\]+-]+$`)
	valueWord = regexp.MustCompile(`^([+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?[A-Za-z]*|[0-9]+(\.[0-9]+)+)$`)
	modelExpr = regexp.MustCompile(`^[A-Za-z0-9_.+\-(][A-Za-z0-9_.+\-*/(), <>=!&|?:^]*$`)
)

// ReadModels reads a user's model file: .model cards of devices that a simulator has built in, .subckt … .ends with
// elements and .model cards in them, .param with values. Everything else is refused with its line: what opens files
// (.include, .lib), runs commands (.control), analyses, sources of waveforms from files. What a deck gets is written anew from
// the words that were read, so that nothing else of the file can reach it.
//
// An error of the text is an *Error.
func ReadModels(name string, r io.Reader) (*ModelFile, error) {
	text, err := io.ReadAll(io.LimitReader(r, mostModelText+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if len(text) > mostModelText {
		return nil, fmt.Errorf("%s: is larger than %d MB, which no model file is", name, mostModelText>>20)
	}
	rd := &modelReader{file: &ModelFile{name: name, models: map[string]string{}, subs: map[string]*modelSub{}}}
	if err := cards(name, strings.TrimPrefix(string(text), "\ufeff"), rd.card); err != nil {
		return nil, err
	}
	if rd.open != nil {
		return nil, rd.fail(rd.open.line, "the file may be cut short", "subcircuit %s has no .ends", rd.open.name)
	}
	if len(rd.file.models)+len(rd.file.subs) == 0 {
		return nil, fmt.Errorf("%s: holds no .model and no .subckt", name)
	}
	return rd.file, nil
}

type modelReader struct {
	file *ModelFile
	open *modelSub
}

func (rd *modelReader) fail(line int, remedy, format string, args ...any) error {
	return &Error{rd.file.name, line, fmt.Sprintf(format, args...), remedy}
}

const modelRemedy = "a model file may hold .model, .subckt with elements, .ends and .param; take the rest out"

func (rd *modelReader) card(c card) error {
	words, err := split(c.text, nil)
	if err != nil {
		return rd.fail(c.line, "", "%v", err)
	}
	if len(words) == 0 || words[0].named || words[0].expr {
		return rd.fail(c.line, modelRemedy, "%s is no card", quote(c.text))
	}
	first := folded(words[0].text)
	switch {
	case first == ".model":
		return rd.model(c, words)
	case first == ".subckt":
		return rd.subckt(c, words)
	case first == ".ends":
		if rd.open == nil {
			return rd.fail(c.line, "take it out, or begin with .subckt", ".ends without .subckt")
		}
		rd.put(".ends " + rd.open.name)
		rd.open = nil
		return nil
	case first == ".param" || first == ".params":
		params, err := rd.params(c, words[1:])
		rd.put(strings.Join(append([]string{".param"}, params...), " "))
		return err
	case first == ".end":
		return nil
	case first == ".include" || first == ".inc" || first == ".lib" || first == ".endl":
		return rd.fail(c.line, "put the models that are meant into one file", "%s is refused: a model file opens no other file", first)
	case first == ".control" || first == ".endc":
		return rd.fail(c.line, "take it out", "a .control section is refused: a model file runs no commands")
	case first[0] == '.':
		return rd.fail(c.line, modelRemedy, "%s is refused", quote(words[0].text))
	case rd.open == nil:
		return rd.fail(c.line, modelRemedy, "%s stands outside any subcircuit", quote(c.text))
	}
	return rd.element(c, words)
}

func (rd *modelReader) put(line string) { rd.file.lines = append(rd.file.lines, line) }

func (rd *modelReader) model(c card, words []word) error {
	if len(words) < 3 || words[1].named || words[2].named || words[1].expr || words[2].expr {
		return rd.fail(c.line, ".model NAME nmos (…)", ".model wants a name and a type")
	}
	name, typ := words[1].text, folded(words[2].text)
	if !modelName.MatchString(name) {
		return rd.fail(c.line, "rename it", "a model's name is letters, digits, _ and dots, not %s", quote(name))
	}
	if !slices.Contains(modelTypesRead, typ) {
		return rd.fail(c.line, "types that are taken: "+strings.Join(modelTypesRead, " "), "model %s is of type %s, which is not taken", name, quote(words[2].text))
	}
	params, err := rd.params(c, words[3:])
	if err != nil {
		return err
	}
	if rd.open == nil {
		if rd.file.models[folded(name)] != "" {
			return rd.fail(c.line, "rename one of them", "model %s is there already", name)
		}
		rd.file.models[folded(name)] = typ
	}
	rd.put(strings.Join(append([]string{".model", name, typ}, params...), " "))
	return nil
}

// params writes name=value words anew.
func (rd *modelReader) params(c card, words []word) ([]string, error) {
	out := make([]string, 0, len(words))
	for _, w := range words {
		switch {
		case !w.named || !paramName.MatchString(w.text):
			return nil, rd.fail(c.line, "write name=value", "%s is not name=value", quote(w.text))
		case valueWord.MatchString(w.value):
			out = append(out, w.text+"="+w.value)
		case modelExpr.MatchString(w.value):
			out = append(out, w.text+"={"+w.value+"}")
		default:
			return nil, rd.fail(c.line, "a value is a number, or an expression of numbers and parameters", "%s = %s is no value", w.text, quote(w.value))
		}
	}
	return out, nil
}

func (rd *modelReader) subckt(c card, words []word) error {
	if rd.open != nil {
		return rd.fail(c.line, "put one after the other", "subcircuit %s holds a subcircuit", rd.open.name)
	}
	if len(words) < 2 || words[1].named || !modelName.MatchString(words[1].text) {
		return rd.fail(c.line, ".subckt NAME d g s b", "a subcircuit's name is letters, digits, _ and dots")
	}
	s := &modelSub{name: words[1].text, params: map[string]bool{}, line: c.line}
	if rd.file.subs[folded(s.name)] != nil {
		return rd.fail(c.line, "rename one of them", "subcircuit %s is there already", s.name)
	}
	line := []string{".subckt", s.name}
	rest := words[2:]
	for len(rest) > 0 && !rest[0].named {
		if rest[0].expr || !nodeWord.MatchString(rest[0].text) {
			return rd.fail(c.line, ".subckt NAME d g s b", "%s is no port", quote(rest[0].text))
		}
		if folded(rest[0].text) != "params:" {
			line = append(line, rest[0].text)
			s.ports++
		}
		rest = rest[1:]
	}
	params, err := rd.params(c, rest)
	if err != nil {
		return err
	}
	for _, w := range rest {
		s.params[folded(w.text)] = true
	}
	rd.put(strings.Join(append(line, params...), " "))
	rd.file.subs[folded(s.name)] = s
	rd.open = s
	return nil
}

func (rd *modelReader) element(c card, words []word) error {
	if !strings.ContainsRune("mdqjrclvix", rune(lower(words[0].text[0]))) {
		return rd.fail(c.line, "elements that are taken: M, D, Q, J, R, C, L, V, I, X", "no element begins with %s here", firstLetter(words[0].text))
	}
	var line []string
	k := 0
	for ; k < len(words) && !words[k].named; k++ {
		w := words[k]
		switch {
		case !w.expr && nodeWord.MatchString(w.text):
			line = append(line, w.text)
		case w.expr && modelExpr.MatchString(w.text):
			line = append(line, "{"+w.text+"}")
		default:
			return rd.fail(c.line, "", "%s is no node, model or value", quote(w.text))
		}
	}
	params, err := rd.params(c, words[k:])
	if err != nil {
		return err
	}
	rd.put(strings.Join(append(line, params...), " "))
	return nil
}

// Text returns the checked file as lines of a deck.
func (f *ModelFile) Text() string { return strings.Join(f.lines, "\n") + "\n" }

// kind returns the type of a model, "subckt" of a subcircuit, or nothing. f may be nil.
func (f *ModelFile) kind(name string) string {
	if f == nil || name == "" {
		return ""
	}
	key := folded(name)
	if t := f.models[key]; t != "" {
		return t
	}
	if f.subs[key] != nil {
		return "subckt"
	}
	for other, t := range f.models { // model.1, model.2 … for ranges of W and L
		if rest, ok := strings.CutPrefix(other, key+"."); ok && rest != "" && strings.Trim(rest, "0123456789") == "" {
			return t
		}
	}
	return ""
}

func (f *ModelFile) sub(name string) *modelSub {
	if f == nil || name == "" {
		return nil
	}
	return f.subs[folded(name)]
}

// fit returns what the model of a device is called in the file.
func (f *ModelFile) fit(d *netlist.Device, i int) (string, error) {
	wants := map[netlist.Kind][]string{netlist.NMOS: {"nmos"}, netlist.PMOS: {"pmos"}, netlist.MOS: {"nmos", "pmos"}, netlist.Diode: {"d"},
		netlist.Resistor: {"r", "res"}, netlist.Capacitor: {"c", "cap"}, netlist.Inductor: {"l", "ind"}, netlist.Bipolar: {"npn", "pnp"}, netlist.JFET: {"njf", "pjf"}}[d.Kind]
	typ := f.kind(d.Model)
	switch {
	case typ == "":
		return "", fmt.Errorf("%s has the model %s, which %s does not hold\n    it holds %s", DeviceWords(d, i), quote(d.Model), f.name, f.names())
	case typ == "subckt":
		if s := f.sub(d.Model); s.ports != len(d.Kind.TerminalNames()) {
			return "", fmt.Errorf("%s has the model %s, which is a subcircuit with %d ports in %s (line %d)\n    a %v has %d", DeviceWords(d, i), d.Model, s.ports, f.name, s.line, d.Kind, len(d.Kind.TerminalNames()))
		}
	case !slices.Contains(wants, typ):
		return "", fmt.Errorf("%s has the model %s, which is of type %s in %s\n    it should be %s", DeviceWords(d, i), d.Model, typ, f.name, strings.Join(wants, " or "))
	}
	return d.Model, nil
}

func (f *ModelFile) names() string {
	var names []string
	for n := range f.models {
		names = append(names, n)
	}
	for n := range f.subs {
		names = append(names, n)
	}
	slices.SortFunc(names, func(a, b string) int {
		if netlist.NaturalLess(a, b) {
			return -1
		}
		return 1
	})
	if len(names) > 12 {
		names = append(names[:12], fmt.Sprintf("%d more", len(names)-12))
	}
	return strings.Join(names, ", ")
}

// call turns the words of a device's line into an instance of the subcircuit, with those sizes that its header names.
func (s *modelSub) call(d *netlist.Device, words []string, terminals int, names *namer) []string {
	out := append([]string{names.take("X" + words[0])}, words[1:1+terminals]...)
	out = append(out, s.name)
	for _, w := range words[2+terminals:] {
		if key, _, ok := strings.Cut(w, "="); ok && s.params[folded(key)] {
			out = append(out, w)
		}
	}
	return out
}
