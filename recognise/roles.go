package recognise

import (
	"slices"
	"strings"

	"undermetal/netlist"
	"undermetal/recognise/library"
)

// NetRole is what a net is for.
type NetRole struct {
	Net  netlist.Net
	Role string // one of library's: supply, ground, bias, clock, input, output, row, column, reset, sense, transfer, reference
	Fits int    // how many fits say so; 0: its name does
}

// special are the roles that a net has from one side, whatever it is to others: a row line is a row, though it is also some driver's
// output. The first wins where as many fits say the one as the other.
var special = []string{library.Clock, library.Row, library.Column, library.Reset, library.Transfer, library.Sense, library.Bias, library.Reference}

// usualRoles are what nets of a role are often called (common practice); digits, paths and signs behind do not count.
var usualRoles = []struct {
	role  string
	names []string
}{
	{library.Clock, []string{"CLK", "CK", "CLOCK", "PHI", "CLKB", "CLKN"}},
	{library.Reset, []string{"RST", "RESET", "RES", "RSTN", "RSTB"}},
	{library.Row, []string{"SEL", "ROW", "WL", "RSEL"}},
	{library.Column, []string{"COL", "COLUMN", "BL", "BLN", "BLB"}},
	{library.Transfer, []string{"TX", "TG"}},
	{library.Bias, []string{"VB", "BIAS", "VBIAS", "VBN", "VBP", "IBIAS"}},
	{library.Reference, []string{"VREF", "VRST", "VCM"}},
	{library.Input, []string{"IN", "VIN", "DIN"}},
	{library.Output, []string{"OUT", "VOUT", "DOUT"}},
}

// Roles says what nets are for, in the order of the circuit's nets, where anything says so: supplies as recognition found them; then
// what ports of the full fits of the cover lie on them; names, which are weaker, only where no fit says anything. A net that one
// fit drives is an output, also where it is another's input.
func Roles(c *netlist.Circuit, r *Result) []NetRole {
	votes := make([]map[string]int, len(c.Nets))
	for i := range r.Fits {
		f := &r.Fits[i]
		for k, p := range f.Pattern.Ports {
			n := f.Ports[k]
			if n == netlist.NoNet || p.Role == library.Any || p.Role == "" || p.Role == library.Supply || p.Role == library.Ground {
				continue
			}
			if votes[n] == nil {
				votes[n] = map[string]int{}
			}
			votes[n][p.Role]++
		}
	}
	rail := map[netlist.Net]string{}
	for _, n := range r.Supply {
		rail[n] = library.Supply
	}
	for _, n := range r.Ground {
		rail[n] = library.Ground
	}
	var all []NetRole
	for i := range c.Nets {
		n := netlist.Net(i)
		nr := NetRole{Net: n, Role: rail[n]}
		if nr.Role == "" {
			nr.Role, nr.Fits = mostVotes(votes[n])
		}
		if nr.Role == "" {
			nr.Role = roleByName(c.Nets[i].Name)
		}
		if nr.Role != "" {
			all = append(all, nr)
		}
	}
	return all
}

// mostVotes returns the role that most fits say, special ones before outputs and these before inputs.
func mostVotes(votes map[string]int) (role string, fits int) {
	for _, s := range special {
		if votes[s] > fits {
			role, fits = s, votes[s]
		}
	}
	for _, s := range []string{library.Output, library.Input} {
		if role == "" && votes[s] > 0 {
			role, fits = s, votes[s]
		}
	}
	return role, fits
}

func roleByName(name string) string {
	name = strings.ToUpper(name[strings.LastIndex(name, "/")+1:])
	name, _, _ = strings.Cut(name, "#")
	name = strings.TrimRight(name, "0123456789<>[]()_!+-.:")
	for _, u := range usualRoles {
		if slices.Contains(u.names, name) {
			return u.role
		}
	}
	return ""
}
