package question

import (
	"testing"

	"undermetal/netlist/extract"
)

// TestIDsOfOnePlace: of questions of one kind in one place, each is called the same whether the others are listed or not.
func TestIDsOfOnePlace(t *testing.T) {
	b := newBoard(t)
	b.mos("ndiff", 0, 0, 6000, 1000, "OUT", "IN", "GND")    // decided: not listed by itself
	b.box("poly2", 3000, 20000, 12000, 29000)               // a plate over nothing
	b.mos("ndiff", 0, 60000, 40000, 20000, "X", "CTL", "X") // source on drain: always listed
	res := b.extract()
	ids := func(all bool) map[string]string {
		v := newView(res, b.st, nil, Options{All: all, Kinds: []string{TransistorOrCapacitor}})
		for k := range v.plates { // as if all lay in one place
			v.plates[k].at = v.plates[0].at
			v.plates[k].path, v.plates[k].drawn = "", extract.Drawn{}
		}
		out := map[string]string{}
		qs, err := v.ask()
		if err != nil {
			t.Fatal(err)
		}
		for _, q := range qs {
			out[q.Note] = q.ID
		}
		return out
	}
	all, listed := ids(true), ids(false)
	if len(all) != 3 || len(listed) >= 3 || len(listed) == 0 {
		t.Fatalf("%d questions, %d listed", len(all), len(listed))
	}
	for note, id := range listed {
		if all[note] != id {
			t.Errorf("%s: %s where all are listed, else %s", note, all[note], id)
		}
	}
}
