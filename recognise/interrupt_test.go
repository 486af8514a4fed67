package recognise

import (
	"context"
	"errors"
	"testing"
)

// TestCancel: a search that is given up when it tells how far it is returns nothing but that it was: as it begins, while patterns are
// searched for, and before fits that lack a piece are.
func TestCancel(t *testing.T) {
	c := grow(600, 1)
	for _, from := range []float64{0.1, 0.3, 0.8} {
		ctx, cancel := context.WithCancel(context.Background())
		r, err := Find(ctx, c, Options{Missing: 1, Workers: 1, Progress: func(done float64) {
			if done >= from {
				cancel()
			}
		}})
		cancel()
		if !errors.Is(err, context.Canceled) || r != nil {
			t.Errorf("cancelled at %g: %v, with a result: %t", from, err, r != nil)
		}
	}
}
