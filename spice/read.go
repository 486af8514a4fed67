package spice

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"undermetal/netlist"
)

// ReadOptions are what a caller may choose.
type ReadOptions struct {
	// Shorts are the models of two-terminal resistors that are no more than a second name for a net; nil: lvsres. Case
	// is ignored.
	Shorts []string
	// Polarity tells what a transistor of a model is for which the file has no .model card; nil: PolarityByName.
	Polarity func(model string) netlist.Kind
}

// PolarityByName tells an n from a p transistor by what its model is usually called (common practice): nmos, nfet or nch
// somewhere in the name, pmos, pfet or pch, and failing these by the first letter, n or p. Else it is netlist.MOS.
func PolarityByName(model string) netlist.Kind {
	m := folded(model)
	has := func(words ...string) bool {
		for _, w := range words {
			if strings.Contains(m, w) {
				return true
			}
		}
		return false
	}
	switch n, p := has("nmos", "nfet", "nch"), has("pmos", "pfet", "pch"); {
	case n && p:
		return netlist.MOS
	case n || !p && strings.HasPrefix(m, "n"):
		return netlist.NMOS
	case p || strings.HasPrefix(m, "p"):
		return netlist.PMOS
	}
	return netlist.MOS
}

// Read reads a netlist in the dialect that the package describes. name stands in messages, and elements outside any
// subcircuit become a circuit of its name, without folder and extension. The circuits of the design come in an order in
// which each follows those that it uses.
//
// An error of the text is an *Error with the line; memory goes with the size of the text and the result.
func Read(name string, r io.Reader, opt ReadOptions) (*netlist.Design, error) {
	if opt.Shorts == nil {
		opt.Shorts = []string{"lvsres"}
	}
	if opt.Polarity == nil {
		opt.Polarity = PolarityByName
	}
	text, err := io.ReadAll(r)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	rd := &reader{file: name, opt: opt, scale: 1, globals: map[string]string{"0": "0", "gnd": "0"},
		varied: map[string]bool{}, blockOf: map[*netlist.Circuit]*block{}, names: map[string]bool{}}
	rd.top = &block{name: topName(name), subs: map[string]*block{}, models: map[string]model{}}
	rd.current = rd.top
	if err := cards(name, strings.TrimPrefix(string(text), "\ufeff"), rd.card); err != nil {
		return nil, err
	}
	if rd.current != rd.top {
		return nil, rd.fail(rd.current.line, "the file may be cut short", "subcircuit %s has no .ends", rd.current.name)
	}
	if rd.firstOf != "" && rd.top.subs[rd.firstOf] != nil {
		return nil, rd.noTitle(rd.first)
	}
	return rd.elaborate()
}

// topName is what the elements outside any subcircuit are called.
func topName(file string) string {
	s := strings.TrimSuffix(filepath.Base(file), filepath.Ext(file))
	if s == "" || s == "." {
		return "top"
	}
	return s
}

// block is a subcircuit, or the file around them: its element lines and what is defined in it.
type block struct {
	name        string
	line        int
	up          *block
	ports       []string
	globalPorts []int   // which of them have the name of a global net; known when the block is elaborated
	header      []param // the parameters that an instance may override, with their defaults
	params      []param // of .param cards
	models      map[string]model
	subs        map[string]*block
	cards       []card
	plain       bool                        // nobody else has the name, so that the first circuit may take it
	open        bool                        // being elaborated
	used        bool                        // by an instance
	copies      int                         // the number behind # that was given last
	circuit     map[string]*netlist.Circuit // by the values of the header's parameters
}

// model is what is known from a .model card.
type model struct {
	typ  string
	line int
}

type reader struct {
	file    string
	opt     ReadOptions
	top     *block
	current *block
	blocks  []*block
	globals map[string]string // folded name to what the net is called
	varied  map[string]bool   // folded names of subcircuits that are used with parameters somewhere
	names   map[string]bool   // folded names of circuits that are taken
	scale   float64
	ended   bool
	seen    bool // a card was met
	first   card // a title that would be an instance of firstOf
	firstOf string
	words   []word

	params  *scope // of the file
	path    []*block
	blockOf map[*netlist.Circuit]*block
	copied  int // elements elaborated for other than a block's first values
	cards   int // element lines
	design  *netlist.Design
}

func (rd *reader) fail(line int, remedy, format string, args ...any) error {
	return &Error{rd.file, line, fmt.Sprintf(format, args...), remedy}
}

// card sorts a logical line: dot cards are read, elements kept.
func (rd *reader) card(c card) error {
	title := !rd.seen && c.line == 1 && c.text[0] != '.'
	rd.seen = true
	switch {
	case title:
		return rd.title(c)
	case rd.ended:
		return nil
	case c.text[0] == '.':
		return rd.dot(c)
	}
	if lower(c.text[0]) == 'x' && strings.IndexByte(c.text, '=') >= 0 {
		if err := rd.split(c); err != nil {
			return err
		}
		if k := callee(rd.words); k+1 < len(rd.words) {
			rd.varied[folded(rd.words[k].text)] = true
		}
	}
	rd.cards++
	rd.current.cards = append(rd.current.cards, c)
	return nil
}

// title passes over the first line. One that was surely meant as an element is refused, because a simulator would pass over
// that too.
func (rd *reader) title(c card) error {
	words, err := split(c.text, rd.words[:0])
	rd.words = words
	if err != nil || len(words) < 2 || len(words[0].text) < 2 {
		return nil
	}
	if lower(words[0].text[0]) == 'x' {
		rd.first, rd.firstOf = c, folded(words[callee(words)].text)
	}
	if len(words) < 4 {
		return nil
	}
	letter, size := lower(words[0].text[0]), func(w word) bool { return w.named && (folded(w.text) == "w" || folded(w.text) == "l") }
	if strings.IndexByte("mdqjrclvix", letter) >= 0 && isDigit(words[0].text[1]) || letter == 'm' && slices.ContainsFunc(words, size) {
		return rd.noTitle(c)
	}
	return nil
}

func (rd *reader) noTitle(c card) error {
	return rd.fail(c.line, "put a title or a comment above it", "the first line is the title and no element, but it looks like one: %s", quote(c.text))
}

func (rd *reader) split(c card) error {
	words, err := split(c.text, rd.words[:0])
	rd.words = words
	if err != nil {
		return rd.fail(c.line, "", "%v", err)
	}
	if len(words) == 0 || words[0].named || words[0].expr {
		return rd.fail(c.line, "a line begins with the name of an element, a dot or *", "%s is no element", quote(c.text))
	}
	return nil
}

// skipped are the cards that steer a simulation and say nothing about the circuit.
var skipped = map[string]bool{".title": true, ".temp": true, ".op": true, ".tran": true, ".ac": true, ".dc": true, ".noise": true, ".tf": true,
	".pz": true, ".sens": true, ".disto": true, ".four": true, ".print": true, ".plot": true, ".save": true, ".probe": true,
	".ic": true, ".nodeset": true, ".width": true, ".meas": true, ".measure": true}

func (rd *reader) dot(c card) error {
	if err := rd.split(c); err != nil {
		if first, _, _ := strings.Cut(folded(c.text), " "); skipped[first] {
			return nil
		}
		return err
	}
	switch name := folded(rd.words[0].text); name {
	case ".subckt":
		return rd.subckt(c)
	case ".ends":
		return rd.ends(c)
	case ".model":
		return rd.model(c)
	case ".param", ".params":
		return rd.param(c)
	case ".global":
		for _, w := range rd.words[1:] {
			if key := folded(w.text); rd.globals[key] == "" {
				rd.globals[key] = w.text
			}
		}
	case ".option", ".options":
		return rd.options(c)
	case ".end":
		rd.ended = true
	case ".include", ".inc", ".lib":
		return rd.fail(c.line, "put its text into this file", "%s is refused: a netlist opens no other file", name)
	case ".control":
		return rd.fail(c.line, "take it out: only the circuit is read", "a .control section is refused: a netlist runs no commands")
	default:
		if !skipped[name] {
			return rd.fail(c.line, "cards that are read: .subckt .ends .model .param .global .options .end", "%s is not read here", quote(rd.words[0].text))
		}
	}
	return nil
}

func (rd *reader) subckt(c card) error {
	words := rd.words[1:]
	if len(words) == 0 || words[0].named || words[0].expr {
		return rd.fail(c.line, ".subckt NAME net …", ".subckt without a name")
	}
	b := &block{name: words[0].text, line: c.line, up: rd.current}
	key := folded(b.name)
	if old := rd.current.subs[key]; old != nil {
		return rd.fail(c.line, "rename one of them", "subcircuit %s is there already, on line %d", b.name, old.line)
	}
	b.ports = make([]string, 0, len(words)-1)
	for _, w := range words[1:] {
		switch {
		case w.named:
			b.header = append(b.header, param{name: w.text, text: w.value, line: c.line})
		case strings.EqualFold(w.text, "params:"):
		case w.expr || len(b.header) > 0:
			return rd.fail(c.line, ".subckt NAME net … name=value …", "subcircuit %s: %s is no port", b.name, quote(w.text))
		default:
			b.ports = append(b.ports, w.text)
		}
	}
	if rd.current.subs == nil {
		rd.current.subs = map[string]*block{}
	}
	rd.current.subs[key] = b
	b.plain = !rd.names[key]
	rd.names[key] = true
	rd.blocks = append(rd.blocks, b)
	rd.current = b
	return nil
}

func (rd *reader) ends(c card) error {
	b := rd.current
	if b == rd.top {
		return rd.fail(c.line, "take it out, or begin with .subckt", ".ends without .subckt")
	}
	if len(rd.words) > 1 && folded(rd.words[1].text) != folded(b.name) {
		return rd.fail(c.line, "end the inner one first", ".ends %s does not end subcircuit %s, which begins on line %d", rd.words[1].text, b.name, b.line)
	}
	rd.current = b.up
	return nil
}

func (rd *reader) model(c card) error {
	if len(rd.words) < 3 || rd.words[1].named || rd.words[2].named {
		return rd.fail(c.line, ".model NAME nmos (…)", ".model wants a name and a type")
	}
	key := folded(rd.words[1].text)
	m := model{folded(rd.words[2].text), c.line}
	if old, ok := rd.current.models[key]; ok && old.typ != m.typ {
		return rd.fail(c.line, "rename one of them", "model %s is there already, as %s on line %d", rd.words[1].text, old.typ, old.line)
	}
	if rd.current.models == nil {
		rd.current.models = map[string]model{}
	}
	rd.current.models[key] = m
	return nil
}

func (rd *reader) param(c card) error {
	for _, w := range rd.words[1:] {
		if !w.named {
			return rd.fail(c.line, ".param name=value …", ".param: %s is not name=value", quote(w.text))
		}
		rd.current.params = append(rd.current.params, param{name: w.text, text: w.value, line: c.line})
	}
	return nil
}

// options looks for scale, by which all sizes are multiplied.
func (rd *reader) options(c card) error {
	for _, w := range rd.words[1:] {
		if folded(w.text) != "scale" || !w.named {
			continue
		}
		v, err := parseNumber(w.value)
		if err != nil || !(v > 0 && v <= 1) {
			return rd.fail(c.line, "write .options scale=1u", "scale = %s is no number from 0 to 1", w.value)
		}
		rd.scale = v
	}
	return nil
}
