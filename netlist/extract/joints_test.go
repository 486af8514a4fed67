package extract

import (
	"math/rand/v2"
	"testing"
)

// TestSpanJoints compares the joints of few spans, found each with each, with those that sorting of ends finds.
func TestSpanJoints(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 1))
	j := &joiner{root: []node{0, 1, 2, 2}}
	joints := 0
	for range 5000 {
		spans := make([]span, 1+rnd.IntN(fewSpans))
		at := func() float64 { return float64(rnd.IntN(3)) }
		for i := range spans {
			spans[i] = span{diffusion: 1 + rnd.Int32N(3), ax: at(), ay: at(), bx: at(), by: at()}
		}
		few, many := map[node]int{}, map[node]int{}
		j.eachSpanJoint(spans, func(n node) { few[n]++ })
		j.eachJointOfMany(spans, func(n node) { many[n]++ })
		if few[1] != many[1] || few[2] != many[2] || len(few) != len(many) {
			t.Fatalf("joints by region %v, by sorting %v, of %+v", few, many, spans)
		}
		joints += few[1] + few[2]
	}
	if joints < 1000 {
		t.Errorf("only %d joints: too few to say anything", joints)
	}
}
