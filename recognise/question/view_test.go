package question

import "testing"

// TestRolesOfInputs: an input is no supply, however it is spelt.
func TestRolesOfInputs(t *testing.T) {
	for name, want := range map[string]role{"VIN": signal, "VIN+": signal, "VIN1": signal, "VDD": supply, "vss!": ground, "core/VDD#2": supply} {
		if got := nameRole(name); got != want {
			t.Errorf("%s is taken for %d, want %d", name, got, want)
		}
	}
}
