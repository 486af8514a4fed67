package compare

import "testing"

// TestParallelInSeveralBulks: transistors in parallel with their bulks on two named nets are held against each other net
// by net, though another well of their model has no name. The W on each, and which is on which, follow from the lines.
func TestParallelInSeveralBulks(t *testing.T) {
	rest := "R1 r p q 1\nR2 r q s 2\nM9 n p q q _w 3 1\n"
	a := circuit(t, rest+"M1 n x y z p 2 1\nM2 n x y z p 3 1\nM3 n x y z q 1 1")
	same(t, a, circuit(t, rest+"M1 n x y z p 5 1\nM2 n x y z q 1 1"), DefaultOptions())
	opt := Options{ToleranceNm: 0.1}
	for _, wrong := range []string{"M1 n x y z p 3 1\nM2 n x y z q 3 1", "M1 n x y z p 1 1\nM2 n x y z q 5 1"} {
		differ(t, circuit(t, rest+wrong), a, opt)
		r := differ(t, a, circuit(t, rest+wrong), opt)
		if r.Differences[0].Kind != "bulk" || len(r.Differences) != 1 {
			t.Errorf("got %s", account2text(r))
		}
	}
	r := differ(t, a, circuit(t, rest+"M1 n x y z p 1 1\nM2 n x y z q 5 1"), opt)
	if got, want := account2text(r), "bulk: M1+M2+M3 (nfet) has its bulks on p (W 0.005 µm) and q (W 0.001 µm), its counterpart M1+M2 (nfet) on p (W 0.001 µm) and q (W 0.005 µm)\n"; got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}

// TestSeriesDrift: W drifts along a stack, each within 1 nm of the next but not the first of the last, so that its ends
// may not change places.
func TestSeriesDrift(t *testing.T) {
	rest := "R1 r a i 1\nR2 r b i 2\nR3 r c i 3\nR4 r y i 4\nR5 r vss i 5\n"
	a := circuit(t, rest+"N1 n y a m vss 100 1\nN2 n m b k vss 101 1\nN3 n k c vss vss 102 1")
	same(t, a, a, Options{Series: true})
	differ(t, a, circuit(t, rest+"N1 n y c m vss 100 1\nN2 n m b k vss 101 1\nN3 n k a vss vss 102 1"), Options{Series: true})
}
