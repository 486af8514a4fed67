package extract

// Asked is the net at a place that somebody asked for (Options.Ask).
type Asked struct {
	Net    int      // a number that all places of one net have, from 1; 0: no conductor is there
	Labels []string // the drawing's own labels of the net, in natural order
	Placed string   // the first label of a placed cell on it, with its path
}

// asked answers the n places that were asked for. They come after all labels. A place on the border of two regions gets
// either.
func (j *joiner) asked(n int) []Asked {
	answers := make([]Asked, n)
	first := len(j.labels) - n
	roots := make([]node, n)
	for _, f := range j.found {
		if k := int(f.probe) - first; k >= 0 && roots[k] == 0 {
			roots[k] = j.find(f.node)
		}
	}
	number := map[node]int{}
	for k, r := range roots {
		if r == 0 {
			continue
		}
		if number[r] == 0 {
			number[r] = len(number) + 1
		}
		answers[k].Net = number[r]
		if nm := j.names[r]; nm != nil {
			answers[k].Labels, answers[k].Placed = nm.own, nm.placed
		}
	}
	return answers
}
