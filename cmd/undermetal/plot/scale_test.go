package plot

import (
	"math"
	"strings"
	"testing"
)

// TestScale: prefixes of the SI, ticks at 1, 2 or 5 times a power of ten.
func TestScale(t *testing.T) {
	for _, tc := range []struct {
		axis     Axis
		min, max float64
		label    string
		ticks    string
	}{
		{Axis{Label: "time", Unit: "s"}, 0, 2e-5, "time (µs)", "0 5 10 15 20"},
		{Axis{Label: "time", Unit: "s"}, 0, 1e-6, "time (µs)", "0.0 0.2 0.4 0.6 0.8 1.0"},
		{Axis{Label: "time", Unit: "s"}, 0, 0.9e-6, "time (ns)", "0 200 400 600 800"},
		{Axis{Label: "current", Unit: "A"}, -1e-9, 1e-9, "current (nA)", "−1.0 −0.5 0.0 0.5 1.0"},
		{Axis{Label: "current", Unit: "A"}, 1e-13, 3e-13, "current (fA)", "100 150 200 250 300"},
		{Axis{Label: "voltage", Unit: "V"}, -0.05, 3.3, "voltage (V)", "0 1 2 3"},
		{Axis{Label: "voltage", Unit: "V"}, 0, 0.9999999999, "voltage (V)", "0.0 0.2 0.4 0.6 0.8 1.0"},
		{Axis{Label: "gain", Unit: "dB"}, -80000, 0, "gain (dB)", "−80000 −60000 −40000 −20000 0"},
		{Axis{Label: "noise", Unit: "V²/Hz"}, 0, 2e-16, "noise (V²/Hz)", "0 5e−17 1e−16 1.5e−16 2e−16"},
		{Axis{Label: "ratio"}, 0.998, 1.002, "ratio", "0.998 0.999 1.000 1.001 1.002"},
		{Axis{Label: "frequency", Unit: "Hz", Log: true}, 1, 1e4, "frequency (Hz)", "1 10 100 1k 10k"},
		{Axis{Label: "frequency", Unit: "Hz", Log: true}, 1, 1e12, "frequency (Hz)", "1 1k 1M 1G 1T"},
		{Axis{Label: "frequency", Unit: "Hz", Log: true}, 150, 1500, "frequency (Hz)", "200 500 1k"},
	} {
		sc := tc.axis.scaleOf(span{tc.min, tc.max}, 5)
		var labels []string
		for _, tick := range sc.ticks {
			if tick.label != "" {
				labels = append(labels, tick.label)
			}
			if tick.value < tc.min-1e-9*math.Abs(tc.max) || tick.value > tc.max+1e-9*math.Abs(tc.max) {
				t.Errorf("%s: tick at %g of %g to %g", tc.label, tick.value, tc.min, tc.max)
			}
		}
		if got := strings.Join(labels, " "); sc.label != tc.label || got != tc.ticks {
			t.Errorf("%g to %g %s: %q %q, want %q %q", tc.min, tc.max, tc.axis.Unit, sc.label, got, tc.label, tc.ticks)
		}
	}
}

func TestLattice(t *testing.T) {
	for _, tc := range []struct {
		low, high float64
		n         int
		from, to  float64
		rows      int
	}{
		{0, 3.296, 12, 0, 3.5, 7}, {0, 10, 10, 0, 10, 10}, {-1, -0.0013, 12, -1, 0, 10}, {0.1, 0.4, 3, 0.1, 0.4, 3}, {-1, 1, 3, -1, 1, 2}, {4.75, 5.25, 3, 4.75, 5.25, 2},
	} {
		from, to, rows, _ := lattice(tc.low, tc.high, tc.n)
		if math.Abs(from-tc.from) > 1e-9 || math.Abs(to-tc.to) > 1e-9 || rows < 1 || rows > tc.n || to < tc.high || from > tc.low+1e-9 {
			t.Errorf("%g to %g in %d: %g to %g in %d, want %g to %g in %d", tc.low, tc.high, tc.n, from, to, rows, tc.from, tc.to, tc.rows)
		}
	}
}
