package netlist

// NaturalLess reports whether name a comes before b when runs of digits are read as numbers: A<2> before A<10>.
func NaturalLess(a, b string) bool {
	for len(a) > 0 && len(b) > 0 {
		if isDigit(a[0]) && isDigit(b[0]) {
			m, n := number(a), number(b)
			x, y := trimZeros(a[:m]), trimZeros(b[:n])
			if len(x) != len(y) {
				return len(x) < len(y)
			}
			if x != y {
				return x < y
			}
			if m != n { // the same number with other zeros
				return m < n
			}
			a, b = a[m:], b[n:]
			continue
		}
		if a[0] != b[0] {
			return a[0] < b[0]
		}
		a, b = a[1:], b[1:]
	}
	return len(a) < len(b)
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// number returns the length of the run of digits that s begins with.
func number(s string) int {
	n := 0
	for n < len(s) && isDigit(s[n]) {
		n++
	}
	return n
}

func trimZeros(s string) string {
	for len(s) > 1 && s[0] == '0' {
		s = s[1:]
	}
	return s
}
