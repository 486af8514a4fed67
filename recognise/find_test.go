package recognise

import (
	"context"
	"errors"
	"testing"

	"undermetal/netlist"
	"undermetal/recognise/library"
)

// A search that is called off ends with the context's error; progress rises to 1.
func TestCancelAndProgress(t *testing.T) {
	c := grow(3000, 1)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Find(ctx, c, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("called off: %v", err)
	}
	last, steps := 0.0, 0
	find(t, c, Options{Missing: 1, Progress: func(done float64) {
		if done <= last || done > 1 {
			t.Errorf("progress goes from %g to %g", last, done)
		}
		last = done
		steps++
	}})
	if last != 1 || steps < 10 {
		t.Errorf("%d steps of progress, up to %g", steps, last)
	}
}

func TestRefusesInstances(t *testing.T) {
	inner := &netlist.Circuit{Name: "inner"}
	_, err := Find(context.Background(), &netlist.Circuit{Name: "top", Instances: []netlist.Instance{{Name: "X1", Of: inner}}}, Options{})
	if err == nil || err.Error() != "recognition takes a flat circuit; this one holds instances of others" {
		t.Errorf("error %v", err)
	}
}

// Nothing in, nothing out.
func TestEmptyCircuit(t *testing.T) {
	r := find(t, &netlist.Circuit{Name: "empty"}, Options{Missing: 1})
	if len(r.Fits)+len(r.Others)+len(r.Partial) != 0 {
		t.Errorf("%+v", r)
	}
}

// Every pattern of the program can be searched for, in both flavours and all orders.
func TestPlans(t *testing.T) {
	for _, p := range library.Embedded() {
		plans, err := plansOf(p)
		if err != nil {
			t.Fatal(err)
		}
		for _, pl := range plans {
			if !pl.connected() {
				t.Errorf("%s falls into pieces", p.Name)
			}
		}
		if len(plans) >= maxOrders {
			t.Errorf("%s has %d orders; not all are tried", p.Name, len(plans))
		}
	}
}
