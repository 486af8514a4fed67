package recognise

import (
	"slices"
	"strings"
	"testing"

	"undermetal/netlist"
	"undermetal/netlist/schematic"
)

// A five-transistor amplifier without its tail: the group has the four that are there, and the missing one as a symbol on the nets that
// the pattern says; roles are those of its ports. The schematic draws both.
func TestGroupsForTheSchematic(t *testing.T) {
	c := read(t, `M1 m a t VSS nmos W=1u L=1u
M2 o b t VSS nmos W=1u L=1u
M4 m m VDD VDD pmos W=1u L=1u
M5 o m VDD VDD pmos W=1u L=1u
M6 o2 o VSS VSS nmos W=1u L=1u
M7 o2 o VDD VDD pmos W=1u L=1u`)
	r := find(t, c, Options{Missing: 1})
	all := Suggestions(c, r)
	k := slices.IndexFunc(all, func(s Suggestion) bool { return s.Fit.Pattern.Name == "ota_5t" && !s.Full() })
	if k < 0 {
		t.Fatal("no partial amplifier")
	}
	groups := Groups(all[k : k+1])
	if len(groups) != 1 || len(groups[0].Devices) != 4 || len(groups[0].Missing) != 1 || !strings.HasPrefix(groups[0].Name, "five-transistor amplifier") {
		t.Fatalf("groups %+v", groups)
	}
	m := groups[0].Missing[0]
	tail := netlist.Net(slices.IndexFunc(c.Nets, func(n netlist.NetInfo) bool { return n.Name == "t" }))
	if m.Kind != netlist.NMOS || len(m.Nets) != 4 || !slices.Contains(m.Nets, tail) {
		t.Errorf("missing %+v, want an n transistor on %d", m, tail)
	}
	roles := SheetRoles(Roles(c, r))
	for name, want := range map[string]schematic.Role{"VDD": schematic.Supply, "VSS": schematic.Ground, "o2": schematic.Output} {
		n := netlist.Net(slices.IndexFunc(c.Nets, func(n netlist.NetInfo) bool { return n.Name == name }))
		if roles[n] != want {
			t.Errorf("%s is %d, want %d", name, roles[n], want)
		}
	}
	if _, err := schematic.Draw(t.Context(), c, schematic.Options{Groups: groups, Roles: roles}); err != nil {
		t.Error(err)
	}
}
