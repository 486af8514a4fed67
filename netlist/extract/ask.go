package extract

import "undermetal/netlist"

// Asked is the net at a place that somebody asked for (Options.Ask).
type Asked struct {
	Net    int      // a number that all places of one net have, from 1; 0: no conductor is there
	Labels []string // the drawing's own labels of the net, in natural order
	Placed string   // the first label of a placed cell on it, with its path
}

// AskedNet returns the net of the circuit at the k-th place that was asked for; NoNet where there is none, or where the
// circuit does without it since it has no label, is not open and belongs to no device.
func (r *Result) AskedNet(k int) netlist.Net { return r.askedNets[k] }

// asked answers the n places that were asked for. They come after all labels. A place on the border of two regions gets
// either.
func (j *joiner) asked(n int) ([]Asked, []netlist.Net) {
	answers := make([]Asked, n)
	nets := make([]netlist.Net, n)
	first := len(j.labels) - n
	roots := make([]node, n)
	for _, f := range j.found {
		if k := int(f.probe) - first; k >= 0 && roots[k] == 0 {
			roots[k] = j.find(f.node)
		}
	}
	number := map[node]int{}
	for k, r := range roots {
		nets[k] = netlist.NoNet
		if r == 0 {
			continue
		}
		if number[r] == 0 {
			number[r] = len(number) + 1
		}
		answers[k].Net = number[r]
		if net, ok := j.number[r]; ok {
			nets[k] = net
		}
		if nm := j.names[r]; nm != nil {
			answers[k].Labels, answers[k].Placed = nm.own, nm.placed
		}
	}
	return answers, nets
}
