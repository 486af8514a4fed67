package main

import (
	"maps"
	"regexp"
	"slices"
	"strconv"

	"undermetal/netlist"
	"undermetal/netlist/schematic"
)

var memberPath = regexp.MustCompile(`^([^/]*)\[(\d+),(\d+)\](/|$)`)

const fewestMembers = 4 // of an array that becomes a box

// arraysOf finds the arrays of a drawing by the paths of devices: NAME[row,column]. One whose members do not have the same kinds of
// device is none: something is drawn over it.
func arraysOf(c *netlist.Circuit, paths []string) (all []schematic.Array) {
	members := map[string]map[[2]int][]int32{}
	for i, path := range paths {
		m := memberPath.FindStringSubmatch(path)
		if m == nil {
			continue
		}
		row, err := strconv.Atoi(m[2])
		column, err2 := strconv.Atoi(m[3])
		if err != nil || err2 != nil {
			continue
		}
		if members[m[1]] == nil {
			members[m[1]] = map[[2]int][]int32{}
		}
		at := [2]int{row, column}
		members[m[1]][at] = append(members[m[1]][at], int32(i))
	}
	for _, name := range slices.Sorted(maps.Keys(members)) {
		of := members[name]
		unit := of[[2]int{}]
		a := schematic.Array{Name: name, Unit: unit}
		same := len(of) >= fewestMembers && len(unit) > 0
		for at, devices := range of {
			a.Rows, a.Columns = max(a.Rows, at[0]+1), max(a.Columns, at[1]+1)
			a.Devices = append(a.Devices, devices...)
			same = same && slices.Equal(kindsOf(c, devices), kindsOf(c, unit))
		}
		if !same || len(of) != a.Rows*a.Columns {
			continue
		}
		slices.Sort(a.Devices)
		a.Nets = leadingIn(c, of)
		all = append(all, a)
	}
	return all
}

// kindsOf returns the kinds of some devices, sorted.
func kindsOf(c *netlist.Circuit, devices []int32) []netlist.Kind {
	out := make([]netlist.Kind, len(devices))
	for k, i := range devices {
		out[k] = c.Devices[i].Kind
	}
	slices.Sort(out)
	return out
}

// leadingIn returns the nets that several members of an array have, or that one has with something outside.
func leadingIn(c *netlist.Circuit, members map[[2]int][]int32) (nets []netlist.Net) {
	const none, several = 0, -1
	owner := make([]int, len(c.Nets)) // a member's number from 1
	of := make([]int, len(c.Devices))
	for k, at := range slices.SortedFunc(maps.Keys(members), func(a, b [2]int) int { return slices.Compare(a[:], b[:]) }) {
		for _, i := range members[at] {
			of[i] = k + 1
		}
	}
	inside := make([]bool, len(c.Nets))
	for i := range c.Devices {
		for _, n := range c.Devices[i].Terminals {
			if n == netlist.NoNet {
				continue
			}
			inside[n] = inside[n] || of[i] != none
			if owner[n] == none {
				owner[n] = of[i]
			}
			if owner[n] != of[i] || of[i] == none {
				owner[n] = several
			}
		}
	}
	for _, n := range c.Ports {
		owner[n] = several
	}
	for n := range owner {
		if inside[n] && owner[n] == several {
			nets = append(nets, netlist.Net(n))
		}
	}
	return nets
}
