package spice

import (
	"fmt"
	"strconv"
	"strings"

	"undermetal/netlist"
)

// UnknownMOS is the model of a transistor of unknown polarity that has no model of its own.
const UnknownMOS = "mos_unknown"

// clean returns name with everything replaced by _ that could end a word, begin a comment or leave the line, and so that
// it is no keyword. What it leaves was tried in ngspice-39, character by character.
func clean(name string) string {
	s := strings.Map(func(r rune) rune {
		if r <= ' ' || r > '~' || strings.ContainsRune(",=();$\"'{}`\\", r) {
			return '_'
		}
		return r
	}, name)
	s = strings.ReplaceAll(s, "//", "/_")
	if s == "" || s == "/" || strings.ContainsRune("*+.", rune(s[0])) {
		s = "_" + s
	}
	for k := strings.Index(folded(s), "params:"); k >= 0; k = strings.Index(folded(s), "params:") {
		s = s[:k+6] + "_" + s[k+7:] // to ngspice-39 what follows params: are parameters
	}
	return guard(s, "temper")
}

// guard puts a _ behind each of the given words where it stands in s between other characters than letters, digits and _:
// ngspice-39 finds its keywords in the middle of names. temper is the temperature wherever it stands; off and save
// are flags in the line of a bipolar transistor.
func guard(s string, words ...string) string {
	for start := 0; start < len(s); {
		end := start
		for end < len(s) && (isLetter(s[end]) || isDigit(s[end]) || s[end] == '_') {
			end++
		}
		for _, w := range words {
			if strings.EqualFold(s[start:end], w) {
				s = s[:end] + "_" + s[end:]
				end++
				break
			}
		}
		start = end + 1
	}
	return s
}

// cleanCircuit is clean for a subcircuit. ngspice-39 looks for the subcircuit of an X line among runs of letters, digits,
// _ and brackets, from the end; with any other character in the name it may find a part of a net's name instead.
func cleanCircuit(name string) string {
	s := strings.Map(func(r rune) rune {
		if r < 0x80 && (isLetter(byte(r)) || isDigit(byte(r)) || strings.ContainsRune("_[]", r)) {
			return r
		}
		return '_'
	}, name)
	if s == "" {
		return "_"
	}
	return guard(s, "temper")
}

// cleanRemark returns a text that can stand behind a ; in one line.
func cleanRemark(s string) string {
	return strings.Map(func(r rune) rune {
		if !strconv.IsPrint(r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
}

// namer gives out names that stay distinct when case is ignored.
type namer struct {
	taken map[string]bool // by folded name
	next  map[string]int  // the number that a folded name gets next
}

func newNamer() *namer { return &namer{map[string]bool{}, map[string]int{}} }

// take returns name, with _2, _3 … behind it where it is taken.
func (n *namer) take(name string) string {
	key := folded(name)
	s := name
	for k := key; n.taken[k]; k = folded(s) {
		n.next[key] = max(n.next[key]+1, 2)
		s = name + "_" + strconv.Itoa(n.next[key])
	}
	n.taken[folded(s)] = true
	return s
}

func (n *namer) reserve(name string) { n.taken[folded(name)] = true }

func (n *namer) has(name string) bool { return n.taken[folded(name)] }

// special are the names that a net, a model or a subcircuit must not have by chance: to ngspice-39 gnd is node 0 and null
// is one net in all subcircuits.
var special = []string{"0", "gnd", "null"}

// NetNames returns a name for each net of c that a simulator accepts: the net's own, with characters that have a
// meaning replaced by _, and n1, n2 … for nets without. Names are distinct when case is ignored, and none is that of a
// model in c, which ngspice would take for the end of the nodes. ground names the net that becomes node 0; a net that is
// merely called 0, gnd or null, which would be ground or the same net everywhere to a simulator, gets a _. A global net
// called 0 is ground.
//
// It is an error if no net is called ground, or if it would be a second ground beside a global 0.
func NetNames(c *netlist.Circuit, ground string) ([]string, error) {
	d := &netlist.Design{Circuits: []*netlist.Circuit{c}}
	models := newModels(d)
	n, err := nameNets(c, ground, globalNames(d, ground, models), models)
	if err != nil {
		return nil, err
	}
	return n.of, nil
}

// netNames is the names of a circuit's nets, and what gives out further ones.
type netNames struct {
	of     []string
	namer  *namer
	ground netlist.Net // the net that became node 0 because the caller said so, or NoNet
}

// nameNets names the nets of c. globals are the names of the design's global nets.
func nameNets(c *netlist.Circuit, ground string, globals map[string]string, models *models) (*netNames, error) {
	names := &netNames{of: make([]string, len(c.Nets)), namer: newNamer(), ground: netlist.NoNet}
	for s := range models.namer.taken { // special among them
		names.namer.reserve(s)
	}
	for _, s := range globals {
		names.namer.reserve(s)
	}
	hasZero := false
	for i := range c.Nets {
		if c.Nets[i].Global {
			names.of[i] = globals[c.Nets[i].Name]
			hasZero = hasZero || names.of[i] == "0"
		}
	}
	if ground != "" && globals[ground] != "0" {
		g := netNamed(c, ground)
		if g == netlist.NoNet {
			return nil, noGround(ground)
		}
		if hasZero {
			return nil, fmt.Errorf("circuit %s has a node 0 already, so net %s cannot be ground as well\n    leave ground out", c.Name, ground)
		}
		names.of[g], names.ground = "0", g
	}
	for _, changed := range []bool{false, true} { // names that can stay come first
		for i := range c.Nets {
			if names.of[i] != "" || c.Nets[i].Name == "" {
				continue
			}
			name := clean(c.Nets[i].Name)
			if models.bipolar {
				name = guard(name, "off", "save")
			}
			if name == c.Nets[i].Name && !names.namer.has(name) {
				names.of[i] = names.namer.take(name)
			} else if changed {
				names.of[i] = names.take(name)
			}
		}
	}
	for i, next := 0, 1; i < len(c.Nets); i++ {
		for names.of[i] == "" {
			if name := "n" + strconv.Itoa(next); !names.namer.has(name) {
				names.of[i] = names.namer.take(name)
			}
			next++
		}
	}
	return names, nil
}

// take returns a free name for a net; one that has a meaning of its own gets a _ first.
func (n *netNames) take(name string) string {
	for _, s := range special {
		if folded(name) == s {
			name += "_"
		}
	}
	return n.namer.take(name)
}

func noGround(name string) error {
	return fmt.Errorf("no net is called %q, so it cannot be ground\n    a label gives a net its name", name)
}

// netNamed returns the first net of that name, or NoNet.
func netNamed(c *netlist.Circuit, name string) netlist.Net {
	for i := range c.Nets {
		if c.Nets[i].Name == name {
			return netlist.Net(i)
		}
	}
	return netlist.NoNet
}

// globalNames returns how each global net of a design is written, by its name; 0 for ground.
func globalNames(d *netlist.Design, ground string, models *models) map[string]string {
	names := newNamer()
	for s := range models.namer.taken {
		names.reserve(s)
	}
	globals := map[string]string{}
	for _, c := range d.Circuits {
		for i := range c.Nets {
			if name := c.Nets[i].Name; c.Nets[i].Global && globals[name] == "" {
				if name == "0" || name == ground {
					globals[name] = "0"
				} else {
					globals[name] = names.take(clean(name))
				}
			}
		}
	}
	return globals
}
