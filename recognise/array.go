package recognise

import (
	"cmp"
	"slices"

	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/recognise/library"
)

// Array is equal fits on a lattice: rows times columns of one pattern. A turned or mirrored placement is as good as any.
//
// Rows and columns count from 0. Where the circuit has places, row 0 is the lowest and column 0 the leftmost; where rows run
// upwards, row 0 is the leftmost and column 0 the lowest. Without places the names of nets give the order.
type Array struct {
	Pattern       *library.Pattern
	Mirror        bool
	Rows, Columns int
	Members       []*Fit // row by row; nil where the pattern was not found, not even with a piece missing

	// Nets by port: those that a whole row has in common, a whole column, and all members. Ports whose net is each member's own
	// are in none. Where a pattern has several ports of a role, like two bit lines, they may lie exchanged in some members.
	RowNets, ColumnNets []map[string]netlist.Net
	Common              map[string]netlist.Net

	Odd []Odd // places that are not like the others, by row and column
	Box geom.Rect

	rowAt, columnAt []float64 // where rows and columns lie, in nm; nil: without places
	upright         bool      // rows run along y
}

// Odd is a place of an array that is not like the others.
type Odd struct {
	Row, Column int
	Fit         *Fit       // what is there; nil: nothing was recognised
	At          geom.Point // in nm; of a circuit without places (0, 0)
	Text        string     // the difference, a phrase for people
}

// Member returns what lies at a place; nil: nothing was recognised.
func (a *Array) Member(row, column int) *Fit { return a.Members[row*a.Columns+column] }

// Place returns where a member lies or should lie, in nm: the middle of its devices.
func (a *Array) Place(row, column int) geom.Point {
	if f := a.Member(row, column); f != nil {
		return middleOf(f.Box).Round()
	}
	if a.rowAt == nil {
		return geom.Point{}
	}
	return a.point(a.rowAt[row], a.columnAt[column]).Round()
}

func (a *Array) point(row, column float64) geom.Vec {
	if a.upright {
		return geom.Vec{X: row, Y: column}
	}
	return geom.Vec{X: column, Y: row}
}

// Count returns how many members are there, odd ones included.
func (a *Array) Count() int {
	n := 0
	for _, f := range a.Members {
		if f != nil {
			n++
		}
	}
	return n
}

const (
	leastGrid = 4   // members of an array of rows and columns
	leastLine = 4   // of a single row or column
	leastFill = 0.5 // what share of its places must be taken
	sameLine  = 0.8 // what share of the members of a line must be on its net. Judgement, all four
)

// Arrays puts together what of a result lies on lattices, the largest first: full fits of one pattern and flavour whose nets
// repeat along rows and along columns, or whose places do. Fits with a loose port, fits with missing pieces and what else
// lies on a free place of a lattice become its odd members. Each fit is in one array at most.
func Arrays(c *netlist.Circuit, r *Result) []Array {
	b := &arrayBuilder{c: c, r: r, in: map[*Fit]bool{}, placed: hasPlaces(c)}
	groups := map[likeKey][]*Fit{}
	var order []likeKey
	for i := range r.Fits {
		k := likeKey{r.Fits[i].Pattern, r.Fits[i].Mirror}
		if groups[k] == nil {
			order = append(order, k)
		}
		groups[k] = append(groups[k], &r.Fits[i])
	}
	for _, k := range order {
		b.grids(k, groups[k])
		if b.placed {
			b.lattices(k, b.free(groups[k]))
		}
		b.rowsOf(k, b.free(groups[k]))
	}
	b.fillPlaces()
	for i := range b.all {
		b.all[i].finish(b)
	}
	slices.SortStableFunc(b.all, func(x, y Array) int { return cmp.Compare(y.Count(), x.Count()) })
	return b.all
}

// arrayBuilder collects arrays.
type arrayBuilder struct {
	c      *netlist.Circuit
	r      *Result
	all    []Array
	in     map[*Fit]bool      // fits that are in an array
	placed bool               // the circuit has places
	vacant map[vacancy]string // what is told of free places
}

// hasPlaces reports whether a circuit's devices lie somewhere: not all at one place.
func hasPlaces(c *netlist.Circuit) bool {
	for i := range c.Devices {
		if c.Devices[i].At != c.Devices[0].At {
			return true
		}
	}
	return false
}

func (b *arrayBuilder) free(fits []*Fit) []*Fit {
	var rest []*Fit
	for _, f := range fits {
		if !b.in[f] {
			rest = append(rest, f)
		}
	}
	return rest
}

// portClass is ports of a pattern that are taken together: all of one role, since symmetric ones lie exchanged as it happens.
type portClassOf struct {
	role  string
	ports []int
}

// classesOf returns the classes of a pattern's ports, supplies and ports of its context left out.
func classesOf(p *library.Pattern) []portClassOf {
	var all []portClassOf
	for _, i := range ownPorts(p) {
		role := p.Ports[i].Role
		switch role {
		case library.Supply, library.Ground:
			continue
		case library.Any, library.Reference, "":
			all = append(all, portClassOf{role, []int{i}})
			continue
		}
		if k := slices.IndexFunc(all, func(x portClassOf) bool { return x.role == role }); k >= 0 {
			all[k].ports = append(all[k].ports, i)
		} else {
			all = append(all, portClassOf{role, []int{i}})
		}
	}
	return all
}

// ownPorts are the ports that devices of the pattern are on, and not of its context only.
func ownPorts(p *library.Pattern) []int {
	own := map[netlist.Net]bool{}
	for i := range p.Circuit.Devices {
		d := &p.Circuit.Devices[i]
		if slices.Contains(p.Context, d.Name) {
			continue
		}
		for t, n := range d.Terminals {
			if n != netlist.NoNet && !(d.Kind.IsMOS() && t == netlist.Bulk) {
				own[n] = true
			}
		}
	}
	var ports []int
	for i, n := range p.Circuit.Ports {
		if own[n] {
			ports = append(ports, i)
		}
	}
	return ports
}

// key returns the nets of a fit's ports of one class, in order.
func (k *portClassOf) key(f *Fit) [4]netlist.Net {
	nets := [4]netlist.Net{netlist.NoNet, netlist.NoNet, netlist.NoNet, netlist.NoNet}
	for i, p := range k.ports {
		if i < len(nets) {
			nets[i] = f.Ports[p]
		}
	}
	slices.Sort(nets[:])
	return nets
}

// loose reports whether a port of the class leads nowhere.
func (k *portClassOf) loose(f *Fit) bool {
	return slices.ContainsFunc(f.Loose, func(p int) bool { return slices.Contains(k.ports, p) })
}

func middleOf(b geom.Rect) geom.Vec {
	return geom.Vec{X: float64(b.Min.X+b.Max.X) / 2, Y: float64(b.Min.Y+b.Max.Y) / 2}
}
