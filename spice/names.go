package spice

import (
	"fmt"
	"strconv"
	"strings"

	"undermetal/netlist"
)

// clean returns name with everything replaced by _ that could end a word, begin a comment or leave the line.
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
	return s
}

// namer gives out names that stay distinct when case is ignored.
type namer map[string]bool

func (n namer) take(name string) string {
	s := name
	for i := 2; n[strings.ToLower(s)]; i++ {
		s = name + "_" + strconv.Itoa(i)
	}
	n[strings.ToLower(s)] = true
	return s
}

// NetNames returns a name for each net of c that a simulator accepts: the net's own, with characters that have a
// meaning replaced by _, and n1, n2 … for nets without. Names are distinct when case is ignored. ground names the net
// that becomes node 0; a net that is merely called 0 or gnd, which would be ground to a simulator, gets a _. It is an
// error if ground is given and no net is called that.
func NetNames(c *netlist.Circuit, ground string) ([]string, error) {
	names := make([]string, len(c.Nets))
	taken := namer{"0": true, "gnd": true}
	found := ground == ""
	for i := range c.Nets {
		if !found && c.Nets[i].Name == ground {
			names[i] = "0"
			found = true
		}
	}
	if !found {
		return nil, fmt.Errorf("no net is called %q, so it cannot be ground\n    a label gives a net its name", ground)
	}
	for i := range c.Nets {
		if names[i] != "" || c.Nets[i].Name == "" {
			continue
		}
		name := clean(c.Nets[i].Name)
		if low := strings.ToLower(name); low == "0" || low == "gnd" {
			name += "_"
		}
		names[i] = taken.take(name)
	}
	next := 1
	for i := range c.Nets {
		for names[i] == "" {
			name := "n" + strconv.Itoa(next)
			next++
			if !taken[name] {
				taken[name] = true
				names[i] = name
			}
		}
	}
	return names, nil
}
