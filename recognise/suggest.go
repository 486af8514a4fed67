package recognise

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"undermetal/netlist"
	"undermetal/recognise/library"
)

// Suggestion is what is told to people: an array, or a fit that is in none.
type Suggestion struct {
	// ID says what it is and where: the pattern and a place in µm, of a circuit without places the name of a device. So it stays
	// the same when something else changes.
	ID    string
	Fit   *Fit   // of an array one of its members
	Array *Array // nil: a single fit
}

// Suggestions lists what was recognised: arrays, the largest first, then full fits that are in none, by their first devices, then
// fits with pieces missing, the likeliest first, members of arrays among them.
func Suggestions(c *netlist.Circuit, r *Result) []Suggestion {
	arrays := Arrays(c, r)
	in := map[*Fit]bool{}
	var all []Suggestion
	placed := hasPlaces(c)
	add := func(what string, of *Fit, s Suggestion) {
		s.ID = what + "@" + placeOf(c, of, placed)
		all = append(all, s)
	}
	for i := range arrays {
		a := &arrays[i]
		var first, usual *Fit // the first member, and the first that is like the others
		for _, f := range a.Members {
			if f == nil {
				continue
			}
			in[f] = true
			first = cmp.Or(first, f)
			if usual == nil && !slices.ContainsFunc(a.Odd, func(o Odd) bool { return o.Fit == f }) {
				usual = f
			}
		}
		add("array:"+a.Pattern.Name, first, Suggestion{Array: a, Fit: cmp.Or(usual, first)})
	}
	for i := range r.Fits {
		if f := &r.Fits[i]; !in[f] {
			add(f.Pattern.Name, f, Suggestion{Fit: f})
		}
	}
	for i := range r.Partial {
		add("partial:"+r.Partial[i].Pattern.Name, &r.Partial[i], Suggestion{Fit: &r.Partial[i]})
	}
	times := map[string]int{}
	for i := range all {
		if times[all[i].ID]++; times[all[i].ID] > 1 {
			all[i].ID += fmt.Sprintf("#%d", times[all[i].ID])
		}
	}
	return all
}

// placeOf is where a fit lies, or the name of the first of its devices by the pattern.
func placeOf(c *netlist.Circuit, f *Fit, placed bool) string {
	if !placed {
		d := f.Members[0].Device
		if name := c.Devices[d].Name; name != "" {
			return name
		}
		return fmt.Sprint(d + 1)
	}
	m := middleOf(f.Box)
	return fmt.Sprintf("%.3f,%.3f", m.X/1000, m.Y/1000)
}

// Full reports whether the suggestion is that the pattern is there whole; of an array it is true.
func (s *Suggestion) Full() bool { return s.Array != nil || s.Fit.Full() }

// Title is what the suggestion is called: the title of its pattern, for people.
func (s *Suggestion) Title() string {
	t := s.Fit.Pattern.Title
	if s.Fit.Mirror {
		t += ", p flavour"
	}
	if a := s.Array; a != nil {
		return fmt.Sprintf("array of %s × %s: %s", plural(a.Rows, "row"), plural(a.Columns, "column"), t)
	}
	return t
}

func plural(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}

// Devices returns the devices of the suggestion, in order, each once.
func (s *Suggestion) Devices() []int32 {
	if s.Array == nil {
		return s.Fit.Devices()
	}
	var all []int32
	for _, f := range s.Array.Members {
		if f != nil {
			all = append(all, f.Devices()...)
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// Devices returns the devices of a fit, fingers included, in order.
func (f *Fit) Devices() []int32 {
	var all []int32
	for _, m := range f.Members {
		all = append(append(all, m.Device), m.Fingers...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// Role returns what the k-th port of the pattern is in this fit: where n and p are swapped, so are supply and ground.
func (f *Fit) Role(k int) string {
	r := f.Pattern.Ports[k].Role
	switch {
	case f.Mirror && r == library.Supply:
		return library.Ground
	case f.Mirror && r == library.Ground:
		return library.Supply
	}
	return r
}

// Net returns the net that the pattern calls name, a port or an inner net, case ignored; NoNet where there is none.
func (f *Fit) Net(name string) netlist.Net {
	inner := 0
	for n := range f.Pattern.Circuit.Nets {
		port := slices.Index(f.Pattern.Circuit.Ports, netlist.Net(n))
		same := strings.EqualFold(f.Pattern.Circuit.Nets[n].Name, name)
		switch {
		case same && port >= 0:
			return f.Ports[port]
		case same:
			return f.Inner[inner]
		case port < 0:
			inner++
		}
	}
	return netlist.NoNet
}
