package logic

import "math/bits"

// maxInputs is how many inputs a function may have; tables have 2^inputs bits.
const maxInputs = 12

// table is a Boolean function: bit i is its value where input number k has the value of bit k of i.
type table struct {
	n    int
	bits []uint64
}

func newTable(n int) table { return table{n, make([]uint64, (1<<n+63)/64)} }

func (t table) at(i int) bool { return t.bits[i>>6]>>(i&63)&1 == 1 }

func (t table) set(i int) { t.bits[i>>6] |= 1 << (i & 63) }

// tableOf is the function f of n inputs.
func tableOf(n int, f func(i int) bool) table {
	t := newTable(n)
	for i := range 1 << n {
		if f(i) {
			t.set(i)
		}
	}
	return t
}

func (t table) count() int {
	c := 0
	for _, w := range t.bits {
		c += bits.OnesCount64(w)
	}
	return c
}

// constant reports whether the function is, and which.
func (t table) constant() (value, is bool) {
	switch t.count() {
	case 0:
		return false, true
	case 1 << t.n:
		return true, true
	}
	return false, false
}

// with is the function with input k held at v; it still has n inputs, and depends on k no more.
func (t table) with(k int, v bool) table {
	return tableOf(t.n, func(i int) bool {
		if v {
			return t.at(i | 1<<k)
		}
		return t.at(i &^ (1 << k))
	})
}

func (t table) depends(k int) bool {
	for i := range 1 << t.n {
		if i>>k&1 == 0 && t.at(i) != t.at(i|1<<k) {
			return true
		}
	}
	return false
}

// isInput reports whether the function is input k itself.
func (t table) isInput(k int) bool {
	for i := range 1 << t.n {
		if t.at(i) != (i>>k&1 == 1) {
			return false
		}
	}
	return true
}
