package compare

import (
	"math/rand/v2"
	"testing"
)

// TestShuffled: order, numbers, names, source and drain, and the splitting of fingers make no difference.
func TestShuffled(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	for round := range 150 {
		a := logic(rng, 10+rng.IntN(300))
		if round%3 == 0 {
			a = soup(rng, 10+rng.IntN(200))
		}
		b := shuffled(a, rng, round%2 == 0)
		switch round % 4 {
		case 1:
			b = anonymous(b)
		case 2, 3:
			b = renamed(b, rng)
		}
		opt := Options{BulkByName: round%5 == 0, Series: round%7 == 0}
		r := same(t, a, b, opt)
		if round%2 == 1 && !opt.Series {
			checkMapping(t, a, b, r)
		}
		same(t, b, a, opt)
	}
}

// TestSameResult: the same input gives the same account, twice.
func TestSameResult(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 14))
	for range 20 {
		a := logic(rng, 100)
		b, _, _ := change(a, rng)
		b = shuffled(b, rng, true)
		one, two := compare(t, a, b, Options{}), compare(t, a, b, Options{})
		if account2text(one) != account2text(two) || !equal(one.Devices, two.Devices) {
			t.Fatalf("first\n%sthen\n%s", account2text(one), account2text(two))
		}
	}
}

// TestChangesAreFound: single changes to random circuits are found. Where the package says that a change made none, the
// mapping that it gives is checked on its own.
func TestChangesAreFound(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 16))
	unchanged := 0
	for round := range 600 {
		a := logic(rng, 20+rng.IntN(100))
		if round%2 == 0 {
			a = soup(rng, 8+rng.IntN(60))
		}
		b, what, _ := change(a, rng)
		b = shuffled(b, rng, false)
		r := compare(t, a, b, Options{BulkByName: true})
		if !r.Same {
			continue
		}
		unchanged++
		checkMapping(t, a, b, r)
		if what == "device removed" || what == "device added" || what == "W changed" || what == "polarity changed" {
			t.Fatalf("%s, and yet the same:\n%s", what, show(b))
		}
	}
	if unchanged > 120 {
		t.Errorf("%d of 600 changes made no difference: that tests little", unchanged)
	}
}
