package main

import (
	"fmt"
	"testing"

	"undermetal/netlist"
)

// TestArraysOf: members that hold the same make an array; its nets are those that several members, a port or something outside has.
func TestArraysOf(t *testing.T) {
	c := &netlist.Circuit{}
	net := func(name string) netlist.Net {
		for i := range c.Nets {
			if c.Nets[i].Name == name {
				return netlist.Net(i)
			}
		}
		c.Nets = append(c.Nets, netlist.NetInfo{Name: name})
		return netlist.Net(len(c.Nets) - 1)
	}
	var paths []string
	add := func(path string, kind netlist.Kind, nets ...string) {
		d := netlist.Device{Kind: kind, Terminals: [4]netlist.Net{-1, -1, -1, -1}}
		for i, n := range nets {
			d.Terminals[i] = net(n)
		}
		c.Devices = append(c.Devices, d)
		paths = append(paths, path)
	}
	for r := range 2 {
		for k := range 3 {
			at := fmt.Sprintf("[%d,%d]", r, k)
			add("A.1"+at, netlist.NMOS, "col"+fmt.Sprint(k), "row"+fmt.Sprint(r), "in"+at, "sub")
			add("A.1"+at+"/D.1", netlist.Diode, "sub", "in"+at)
		}
	}
	add("driver", netlist.Resistor, "in[1,1]", "elsewhere")
	all := arraysOf(c, paths)
	if len(all) != 1 || all[0].Name != "A.1" || all[0].Rows != 2 || all[0].Columns != 3 || len(all[0].Devices) != 12 || len(all[0].Unit) != 2 {
		t.Fatalf("arrays %+v", all)
	}
	got := map[string]bool{}
	for _, n := range all[0].Nets {
		got[c.Nets[n].Name] = true
	}
	for _, name := range []string{"col0", "col1", "col2", "row0", "row1", "sub", "in[1,1]"} {
		if !got[name] {
			t.Errorf("no net %s", name)
		}
	}
	if len(got) != 7 {
		t.Errorf("nets %v", got)
	}
	paths[1] = "A.1[0,0]x" // a member that lacks a diode
	if all := arraysOf(c, paths); len(all) != 0 {
		t.Errorf("arrays %+v of members that differ", all)
	}
}
