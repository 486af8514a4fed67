package schematic

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"undermetal/netlist"
)

// nameNets gives each net a name of its own: flags join nets by their names.
func (p *plan) nameNets() {
	used := map[string]bool{}
	p.names = make([]string, len(p.c.Nets))
	for i, n := range p.c.Nets {
		if n.Name == "" {
			continue
		}
		short := shortened(n.Name)
		name := short
		for k := 2; used[name]; k++ {
			name = short + "#" + strconv.Itoa(k)
		}
		used[name] = true
		p.names[i] = name
	}
	next := 1
	for i := range p.names {
		for p.names[i] == "" {
			if name := "n" + strconv.Itoa(next); !used[name] {
				p.names[i], used[name] = name, true
			}
			next++
		}
	}
}

// railByName tells a supply by what it is usually called (common practice).
func railByName(name string) Role {
	s := strings.ToLower(strings.Trim(name, "!"))
	if k := strings.LastIndexByte(s, '/'); k >= 0 {
		s = s[k+1:]
	}
	switch {
	case s == "0", strings.HasPrefix(s, "gnd"), strings.HasPrefix(s, "vss"), strings.HasPrefix(s, "agnd"), strings.HasPrefix(s, "dgnd"),
		strings.HasPrefix(s, "avss"), strings.HasPrefix(s, "dvss"), strings.HasPrefix(s, "vgnd"):
		return Ground
	case strings.HasPrefix(s, "vdd"), strings.HasPrefix(s, "vcc"), strings.HasPrefix(s, "avdd"), strings.HasPrefix(s, "dvdd"),
		strings.HasPrefix(s, "vpwr"):
		return Supply
	}
	return NoRole
}

// portByName tells by what a port is usually called on which side its place is (common practice).
func portByName(name string) Role {
	s := strings.ToLower(name)
	switch {
	case strings.HasPrefix(s, "in"):
		return Input
	case strings.HasPrefix(s, "out"):
		return Output
	}
	return NoRole
}

// elementLetters are those that elements of SPICE begin with.
var elementLetters = map[netlist.Kind]string{netlist.NMOS: "M", netlist.PMOS: "M", netlist.MOS: "M", netlist.Diode: "D", netlist.Capacitor: "C",
	netlist.Resistor: "R", netlist.Inductor: "L", netlist.Bipolar: "Q", netlist.JFET: "J", netlist.VoltageSource: "V", netlist.CurrentSource: "I"}

func (p *plan) label(i int) []string {
	if p.opt.Label != nil {
		lines := slices.Clone(p.opt.Label(i))
		for k := range lines {
			lines[k] = shortened(lines[k])
		}
		return lines
	}
	d := &p.c.Devices[i]
	name := shortened(d.Name)
	if name == "" { // as it is called in a netlist
		name = elementLetters[d.Kind] + strconv.Itoa(i+1)
	}
	if d.W > 0 && d.L > 0 {
		return []string{name, fmt.Sprintf("%.4g/%.4g", d.W/1000, d.L/1000)}
	}
	return []string{name}
}

// printable returns a text of one line without what moves a cursor or turns the direction of letters: blanks for line ends and tabs, the
// sign for what cannot be shown for all else that has no room of its own.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t' || r == '\r' || r == '\u2028' || r == '\u2029':
			return ' '
		case unicode.IsControl(r) || unicode.Is(unicode.Cf, r):
			return unicode.ReplacementChar
		}
		return r
	}, s)
}

const (
	mostLetters = 48 // of a name on a drawing
	headLetters = 16 // of a longer one's beginning; the end of a path tells more
	mostCaption = 80 // of what stands above a group
)

// shortened returns a name that a drawing has room for.
func shortened(s string) string {
	r := []rune(printable(s))
	if len(r) <= mostLetters {
		return string(r)
	}
	return string(r[:headLetters]) + "…" + string(r[len(r)-(mostLetters-headLetters-1):])
}

// headed returns a group's name that a drawing has room for: what it is, with which it begins.
func headed(s string) string {
	r := []rune(printable(s))
	if len(r) <= mostCaption {
		return string(r)
	}
	return string(r[:mostCaption-1]) + "…"
}
