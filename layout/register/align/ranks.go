package align

import "math"

// ranked moves values so that those at some ranks, which are in order, stand where they would if all were sorted (after
// C. A. R. Hoare, Algorithm 65: Find, Comm. ACM 4 (1961), from memory). first is the rank that v begins with.
func ranked(v []float32, ranks []int, first int) {
	if len(ranks) == 0 || len(v) < 2 {
		return
	}
	a, b, c := v[0], v[len(v)/2], v[len(v)-1]
	pivot := max(min(a, b), min(max(a, b), c))
	i, j := 0, len(v)-1
	for i <= j {
		for v[i] < pivot {
			i++
		}
		for pivot < v[j] {
			j--
		}
		if i <= j {
			v[i], v[j] = v[j], v[i]
			i, j = i+1, j-1
		}
	}
	n := 0 // up to j none is above the pivot, from i on none below, and what lies between is the pivot
	for n < len(ranks) && ranks[n]-first <= j {
		n++
	}
	ranked(v[:j+1], ranks[:n], first)
	for n < len(ranks) && ranks[n]-first < i {
		n++
	}
	ranked(v[i:], ranks[n:], first+i)
}

// cuts are the tones, in order, at which the next class begins.
type cuts struct {
	at    [tones - 1]float32
	per   float32    // bins for a unit of tone
	below [256]uint8 // how many cuts lie in the bins before one
}

// newCuts parts tones into classes of which each has as many.
func newCuts(values []float32) *cuts {
	c := &cuts{}
	var ranks [tones - 1]int
	for i := range ranks {
		ranks[i] = (i + 1) * len(values) / tones
	}
	ranked(values, ranks[:], 0)
	for i, k := range ranks {
		c.at[i] = values[k]
	}
	if per := float32(len(c.below)-2) / (c.at[tones-2] - c.at[0]); per <= math.MaxFloat32 {
		c.per = per
	}
	for i := range c.below {
		for _, cut := range c.at {
			if c.bin(cut) < i {
				c.below[i]++
			}
		}
	}
	return c
}

// bin never falls where the tone grows.
func (c *cuts) bin(tone float32) int {
	switch at := (tone-c.at[0])*c.per + 1; {
	case !(at > 0):
		return 0
	case at >= float32(len(c.below)-1):
		return len(c.below) - 1
	default:
		return int(at)
	}
}

// class is how many cuts are not above a tone.
func (c *cuts) class(tone float32) uint8 {
	n := c.below[c.bin(tone)]
	for n < tones-1 && tone >= c.at[n] {
		n++
	}
	return n
}
