package recognise

import (
	"cmp"
	"slices"
)

// exactly is up to how many candidates that stand in each other's way the best cover is searched for; of more it is found by
// taking the best first and then exchanging.
const exactly = 18

// coverer chooses candidates of which no two explain the same part.
type coverer struct {
	all   []candidate
	owner []int32 // by part: the chosen candidate that has it for itself; -1: none
	share []int32 // by part: how many chosen ones share it
	in    []bool  // by candidate
}

// cover returns which candidates are the best cover: those whose weights sum to the most, among equals those of more parts.
func cover(all []candidate, nParts int) []bool {
	cv := &coverer{all: all, owner: filled(nParts), share: make([]int32, nParts), in: make([]bool, len(all))}
	for _, group := range conflicts(all, nParts) {
		slices.SortFunc(group, func(a, b int32) int { return cv.before(a, b) })
		if len(group) <= exactly {
			cv.best(group)
		} else {
			cv.greedy(group)
		}
	}
	return cv.in
}

// before orders candidates, the best first: by weight, by size, those of the library before what package logic has found.
func (cv *coverer) before(a, b int32) int {
	x, y := &cv.all[a], &cv.all[b]
	made := func(c *candidate) int {
		if c.plan == nil {
			return 1
		}
		return 0
	}
	return cmp.Or(cmp.Compare(y.weight, x.weight), cmp.Compare(y.size(), x.size()), cmp.Compare(made(x), made(y)), slices.Compare(x.parts, y.parts), cmp.Compare(a, b))
}

// conflicts returns the candidates in groups that have parts in common, directly or over others.
func conflicts(all []candidate, nParts int) [][]int32 {
	parent := make([]int32, len(all))
	for i := range parent {
		parent[i] = int32(i)
	}
	find := func(i int32) int32 {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	of := filled(nParts)
	for i := range all {
		for k, p := range all[i].parts {
			if p < 0 || all[i].context(k) {
				continue
			}
			if of[p] < 0 {
				of[p] = int32(i)
			} else if a, b := find(of[p]), find(int32(i)); a != b {
				parent[max(a, b)] = min(a, b)
			}
		}
	}
	number := filled(len(all))
	var groups [][]int32
	for i := range all {
		r := find(int32(i))
		if number[r] < 0 {
			number[r] = int32(len(groups))
			groups = append(groups, nil)
		}
		groups[number[r]] = append(groups[number[r]], int32(i))
	}
	return groups
}

// blocked reports whether a chosen candidate has a part of i for itself.
func (cv *coverer) blocked(i int32) bool {
	c := &cv.all[i]
	for k, p := range c.parts {
		if p >= 0 && !c.context(k) && (cv.owner[p] >= 0 || cv.share[p] > 0 && !c.shared(k)) {
			return true
		}
	}
	return false
}

func (cv *coverer) put(i int32) {
	cv.in[i] = true
	cv.mark(i, 1)
}

func (cv *coverer) remove(i int32) {
	cv.in[i] = false
	cv.mark(i, -1)
}

func (cv *coverer) mark(i, by int32) {
	c := &cv.all[i]
	for k, p := range c.parts {
		switch {
		case p < 0 || c.context(k):
		case c.shared(k):
			cv.share[p] += by
		case by > 0:
			cv.owner[p] = i
		default:
			cv.owner[p] = -1
		}
	}
}

// best searches all ways to choose from a small group, given in order.
func (cv *coverer) best(group []int32) {
	rest := make([]float64, len(group)+1) // the weight of all from here on
	for i := len(group) - 1; i >= 0; i-- {
		rest[i] = rest[i+1] + max(cv.all[group[i]].weight, 0)
	}
	most, mostParts := -1.0, 0
	var chosen, now []int32
	var try func(i int, sum float64, parts int)
	try = func(i int, sum float64, parts int) {
		if sum+rest[i] < most {
			return
		}
		if i == len(group) {
			if sum > most || sum == most && parts > mostParts {
				most, mostParts, chosen = sum, parts, slices.Clone(now)
			}
			return
		}
		if c := group[i]; !cv.blocked(c) {
			cv.put(c)
			now = append(now, c)
			try(i+1, sum+cv.all[c].weight, parts+cv.all[c].size())
			now = now[:len(now)-1]
			cv.remove(c)
		}
		try(i+1, sum, parts)
	}
	try(0, 0, 0)
	for _, c := range chosen {
		cv.put(c)
	}
}

// greedy takes the best first, then exchanges chosen ones for one that outweighs all it stands in the way of.
func (cv *coverer) greedy(group []int32) {
	for _, c := range group {
		if !cv.blocked(c) {
			cv.put(c)
		}
	}
	sharers := cv.sharers(group)
	for range 4 {
		changed := false
		for _, c := range group {
			if cv.in[c] {
				continue
			}
			rivals, sum := cv.rivals(c, sharers)
			if sum < cv.all[c].weight {
				for _, r := range rivals {
					cv.remove(r)
				}
				cv.put(c)
				changed = true
			}
		}
		for _, c := range group { // what an exchange has made room for
			if !cv.in[c] && !cv.blocked(c) {
				cv.put(c)
				changed = true
			}
		}
		if !changed {
			return
		}
	}
}

// sharers lists by part the candidates of a group that share it.
func (cv *coverer) sharers(group []int32) map[int32][]int32 {
	m := map[int32][]int32{}
	for _, c := range group {
		for k, p := range cv.all[c].parts {
			if p >= 0 && cv.all[c].shared(k) {
				m[p] = append(m[p], c)
			}
		}
	}
	return m
}

// rivals returns the chosen candidates that block c, with the sum of their weights.
func (cv *coverer) rivals(c int32, sharers map[int32][]int32) (rivals []int32, sum float64) {
	add := func(r int32) {
		if r >= 0 && !slices.Contains(rivals, r) {
			rivals = append(rivals, r)
			sum += cv.all[r].weight
		}
	}
	for k, p := range cv.all[c].parts {
		if p < 0 || cv.all[c].context(k) {
			continue
		}
		add(cv.owner[p])
		if !cv.all[c].shared(k) {
			for _, s := range sharers[p] {
				if cv.in[s] {
					add(s)
				}
			}
		}
	}
	return rivals, sum
}
