package recognise

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"undermetal/netlist"
)

// lined says of each class of an array's ports how its nets repeat.
type lined uint8

const (
	single   lined = iota // each member has its own
	byRow                 // all of a row have one
	byColumn              // all of a column
	byAll                 // all members
)

// usualNets is what most members of a line have.
type usualNets struct {
	class   portClassOf
	lined   lined
	rows    []netKey // the net of most, by row, column or of all; a line whose members are all different: noKey
	columns []netKey
	all     netKey
}

var noKey = netKey{netlist.NoNet, netlist.NoNet, netlist.NoNet, netlist.NoNet}

// usual finds out which nets repeat along rows and along columns.
func (a *Array) usual(class portClassOf) usualNets {
	u := usualNets{class: class}
	rows, columns := make([]map[netKey]int, a.Rows), make([]map[netKey]int, a.Columns)
	all := map[netKey]int{}
	n := 0
	for i, f := range a.Members {
		if f == nil {
			continue
		}
		r, c := i/a.Columns, i%a.Columns
		if rows[r] == nil {
			rows[r] = map[netKey]int{}
		}
		if columns[c] == nil {
			columns[c] = map[netKey]int{}
		}
		k := class.key(f)
		rows[r][k]++
		columns[c][k]++
		all[k]++
		n++
	}
	share := func(lines []map[netKey]int) (keys []netKey, share float64) {
		sum := 0
		for _, l := range lines {
			k, count := mostKey(l)
			keys = append(keys, k)
			sum += count
		}
		return keys, float64(sum) / float64(n)
	}
	var most int
	u.all, most = mostKey(all)
	var ofRows, ofColumns float64
	u.rows, ofRows = share(rows)
	u.columns, ofColumns = share(columns)
	switch {
	case float64(most) >= sameLine*float64(n):
		u.lined = byAll
	case a.Rows > 1 && ofRows >= sameLine && (ofRows >= ofColumns || a.Columns == 1):
		u.lined = byRow
	case a.Columns > 1 && ofColumns >= sameLine:
		u.lined = byColumn
	}
	return u
}

// mostKey returns the key with the largest count, of equals the least.
func mostKey(count map[netKey]int) (best netKey, most int) {
	best = noKey
	for k, n := range count {
		if n > most || n == most && slices.Compare(k[:], best[:]) < 0 {
			best, most = k, n
		}
	}
	return best, most
}

// at returns the usual nets at a place; ok: there are such.
func (u *usualNets) at(row, column int) (netKey, bool) {
	switch u.lined {
	case byRow:
		return u.rows[row], u.rows[row] != noKey
	case byColumn:
		return u.columns[column], u.columns[column] != noKey
	case byAll:
		return u.all, true
	}
	return noKey, false
}

// name fills in the nets of rows, of columns and of all.
func (a *Array) name(us []usualNets) {
	a.RowNets, a.ColumnNets = make([]map[string]netlist.Net, a.Rows), make([]map[string]netlist.Net, a.Columns)
	a.Common = map[string]netlist.Net{}
	for i := range a.RowNets {
		a.RowNets[i] = map[string]netlist.Net{}
	}
	for i := range a.ColumnNets {
		a.ColumnNets[i] = map[string]netlist.Net{}
	}
	for k := range us {
		u := &us[k]
		for i, f := range a.Members {
			if f == nil {
				continue
			}
			row, column := i/a.Columns, i%a.Columns
			want, ok := u.at(row, column)
			if !ok || u.class.key(f) != want {
				continue
			}
			to := a.Common
			switch u.lined {
			case byRow:
				to = a.RowNets[row]
			case byColumn:
				to = a.ColumnNets[column]
			}
			for _, p := range u.class.ports {
				if _, ok := to[a.Pattern.Ports[p].Name]; !ok {
					to[a.Pattern.Ports[p].Name] = f.Ports[p]
				}
			}
		}
	}
}

// finish names nets, and lists what is odd.
func (a *Array) finish(b *arrayBuilder) {
	us := a.usuals()
	a.name(us)
	t := a.traits(b.c)
	first := true
	for i, f := range a.Members {
		row, column := i/a.Columns, i%a.Columns
		var words []string
		if f == nil {
			words = []string{b.vacant[vacancy{a.Pattern, a.Mirror, a.Place(row, column)}]}
			if words[0] == "" {
				words[0] = "nothing that is recognised is here"
			}
		} else {
			if first {
				a.Box, first = f.Box, false
			}
			a.Box = a.Box.Union(f.Box)
			words = a.differences(b, f, row, column, us, t)
		}
		if len(words) > 0 {
			o := Odd{Row: row, Column: column, Fit: f, Text: strings.Join(words, "; ")}
			if b.placed {
				o.At = a.Place(row, column)
			}
			a.Odd = append(a.Odd, o)
		}
	}
}

func (a *Array) usuals() []usualNets {
	var us []usualNets
	for _, class := range classesOf(a.Pattern) {
		us = append(us, a.usual(class))
	}
	return us
}

// differences says in what a member is not like the others.
func (a *Array) differences(b *arrayBuilder, f *Fit, row, column int, us []usualNets, t *traits) []string {
	var words []string
	for _, p := range f.Missing {
		words = append(words, "lacks "+p.Text)
	}
	for _, p := range f.Extra {
		words = append(words, "has "+p.Text)
	}
	for i := range us {
		u := &us[i]
		want, ok := u.at(row, column)
		have := u.class.key(f)
		names := a.portNames(&u.class)
		switch {
		case u.class.loose(f):
			words = append(words, fmt.Sprintf("its %s leads nowhere", names))
		case ok && have != want && !(len(f.Missing) > 0 && have[0] == netlist.NoNet):
			others := "the others"
			switch u.lined {
			case byRow:
				others = "the others in the row"
			case byColumn:
				others = "the others in the column"
			}
			words = append(words, fmt.Sprintf("its %s is on %s, that of %s on %s", names, b.names(have), others, b.names(want)))
		}
	}
	return append(words, t.odd(b.c, f)...)
}

// portNames calls the ports of a class.
func (a *Array) portNames(k *portClassOf) string {
	var names []string
	for _, p := range k.ports {
		names = append(names, a.Pattern.Ports[p].Name)
	}
	return strings.Join(names, ", ")
}

// names calls nets.
func (b *arrayBuilder) names(k netKey) string {
	var names []string
	for _, n := range k {
		if n == netlist.NoNet {
			continue
		}
		if s := b.c.Nets[n].Name; s != "" {
			names = append(names, s)
		} else {
			names = append(names, "a net without a name")
		}
	}
	if len(names) == 0 {
		return "no net"
	}
	return strings.Join(names, " and ")
}

// traits are what most members of an array have: which devices, and of what size.
type traits struct {
	there map[string]bool       // by the pattern's device: most have it
	size  map[string][3]float64 // W, L, area; the middle of all
}

// unlikeSize is by what part sizes differ that are told. Judgement: hands differ less, other devices more.
const unlikeSize = 0.25

func (a *Array) traits(c *netlist.Circuit) *traits {
	t := &traits{there: map[string]bool{}, size: map[string][3]float64{}}
	count := map[string]int{}
	sizes := map[string]*[3][]float64{}
	n := 0
	for _, f := range a.Members {
		if f == nil {
			continue
		}
		n++
		for i := range f.Members {
			m := &f.Members[i]
			count[m.Role]++
			if sizes[m.Role] == nil {
				sizes[m.Role] = &[3][]float64{}
			}
			for k, v := range sizeOf(c, m) {
				sizes[m.Role][k] = append(sizes[m.Role][k], v)
			}
		}
	}
	for role, k := range count {
		t.there[role] = 2*k > n
		var s [3]float64
		for i := range s {
			s[i] = median(sizes[role][i])
		}
		t.size[role] = s
	}
	return t
}

// sizeOf is W, fingers together, L and the area of a member.
func sizeOf(c *netlist.Circuit, m *Member) [3]float64 {
	d := &c.Devices[m.Device]
	s := [3]float64{d.W, d.L, d.Area}
	for _, k := range m.Fingers {
		s[0] += c.Devices[k].W
		s[2] += c.Devices[k].Area
	}
	return s
}

// odd says in what the devices of a fit are not like those of most.
func (t *traits) odd(c *netlist.Circuit, f *Fit) []string {
	var words []string
	has := map[string]bool{}
	for i := range f.Members {
		m := &f.Members[i]
		has[m.Role] = true
		if !t.there[m.Role] {
			words = append(words, fmt.Sprintf("has %s, which the others have not", m.Role))
			continue
		}
		for k, v := range sizeOf(c, m) {
			if usual := t.size[m.Role][k]; math.Abs(v-usual) > unlikeSize*max(v, usual) {
				words = append(words, fmt.Sprintf("the %s of %s is %s, in most others %s", [...]string{"W", "L", "area"}[k], m.Role, sizeText(k, v), sizeText(k, usual)))
			}
		}
	}
	for _, role := range f.Pattern.Optional {
		if f.Full() && t.there[role] && !has[role] {
			words = append(words, fmt.Sprintf("has no %s", role))
		}
	}
	return words
}

func sizeText(k int, v float64) string {
	if k == 2 {
		return fmt.Sprintf("%.4g µm²", v/1e6)
	}
	return fmt.Sprintf("%.4g µm", v/1e3)
}
