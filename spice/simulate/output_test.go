package simulate

import (
	"fmt"
	"strings"
	"testing"
)

// TestMouth: any amount of output takes bounded memory; head and tail are kept, lines are heard whole, or their beginnings.
func TestMouth(t *testing.T) {
	longest, lines := 0, 0
	m := &mouth{hear: func(s string) { longest = max(longest, len(s)); lines++ }}
	write := func(s string) {
		if n, err := m.Write([]byte(s)); n != len(s) || err != nil {
			t.Fatal(n, err)
		}
	}
	write("first line\nsec")
	write("ond\rthird")
	for range 100 {
		write(strings.Repeat("x", 100000))
	}
	if c := cap(m.current) + cap(m.head) + cap(m.tail); c > 12*keepEnd {
		t.Errorf("%d bytes held", c)
	}
	write("\nlast")
	m.end()
	m.end()
	if lines != 4 || longest != keepEnd {
		t.Errorf("%d lines, the longest of %d", lines, longest)
	}
	s := m.String()
	left := m.bytes() - 2*keepEnd
	if !strings.HasPrefix(s, "first line\nsecond\rthirdxxx") || !strings.HasSuffix(s, "xxx\nlast") || !strings.Contains(s, fmt.Sprintf("\n[%d bytes left out]\n", left)) {
		t.Errorf("kept %d bytes: %.40q … %q", len(s), s, s[len(s)-40:])
	}
	// Not a byte is lost where it is not too much, however it comes.
	for _, size := range []int{0, 1, keepEnd - 1, keepEnd, keepEnd + 1, 2*keepEnd - 1, 2 * keepEnd} {
		for _, part := range []int{1 << 20, 1000, 4096, keepEnd} {
			want := strings.Repeat("0123456789", size/10+1)[:size]
			m := &mouth{hear: func(string) {}}
			for rest := want; rest != ""; {
				n := min(part, len(rest))
				_, _ = m.Write([]byte(rest[:n]))
				rest = rest[n:]
			}
			if m.String() != want {
				t.Errorf("%d bytes in parts of %d come back otherwise", size, part)
			}
		}
	}
}

func TestSpiceNumber(t *testing.T) {
	for s, want := range map[string]float64{ // REFERENCES of SPICE decks: seen in ngspice-39
		"1t": 1e12, "1G": 1e9, "1k": 1e3, "1kohm": 1e3, "1meg": 1e6, "1MEG": 1e6, "1m": 1e-3, "1M": 1e-3, "1mil": 25.4e-6, "1u": 1e-6,
		"1n": 1e-9, "1p": 1e-12, "1f": 1e-15, "10V": 10, "1a": 1e-18, "1e3k": 1e6, "1e-3meg": 1e3, ".5": 0.5, "5.": 5, "+5": 5, "-2.5e-3": -2.5e-3, "1e": 1, "1d3": 1e3, "1.5D-3": 1.5e-3,
	} {
		if got := spiceNumber(s); got < want-1e-9*max(want, -want) || got > want+1e-9*max(want, -want) {
			t.Errorf("%s is %g, want %g", s, got, want)
		}
	}
	for _, s := range []string{"", "x", "inf", "nan", "v1", "-"} {
		if got := spiceNumber(s); got == got {
			t.Errorf("%q is %g", s, got)
		}
	}
}

// TestShare: how far a sweep is.
func TestShare(t *testing.T) {
	for _, tc := range []struct {
		command  string
		at, want float64
	}{
		{"tran 1n 1u uic", 0.25e-6, 0.25}, {"tran 1n 1u", 2e-6, 1}, {"dc v1 -1 3 0.1", 0, 0.25}, {"dc v1 3 -1 -0.1", 0, 0.75},
		{"ac dec 10 1 1meg", 1e3, 0.5}, {"ac lin 10 0 1meg", 0.5e6, 0.5}, {"noise v(a) v1 dec 10 1 1meg", 1e3, 0.5}, {"op", 3, 0}, {"ac dec", 3, 0}, {"noise", 1, 0},
	} {
		a := Analysis{Command: tc.command}
		if got := a.share(tc.at); got < tc.want-1e-9 || got > tc.want+1e-9 {
			t.Errorf("%s at %g: %g, want %g", tc.command, tc.at, got, tc.want)
		}
	}
}
