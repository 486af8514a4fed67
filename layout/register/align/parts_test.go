package align

import (
	"errors"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"undermetal/layout/geom"
)

// tops are surfaces on a grid of places whose tops lie where at takes these, as parabolas, which cubic interpolation gives
// back.
func tops(at func(x, y float64) (float64, float64)) (all []surface) {
	for i := range 100 {
		s := surface{x: 20 + 30*float64(i%10), y: 20 + 30*float64(i/10), reach: 6}
		x, y := at(s.x, s.y)
		for k := range 169 {
			dx, dy := float64(k%13-6)-(x-s.x), float64(k/13-6)-(y-s.y)
			s.v = append(s.v, float32(40-dx*dx-dy*dy))
		}
		all = append(all, s)
	}
	return all
}

// TestSettle: surfaces whose tops lie where a map takes their places lead to that map, affine or with a perspective that
// moves the corners by 2 px.
func TestSettle(t *testing.T) {
	for free, truth := range map[int]matrix{6: {{1.001, -0.003, 0.9}, {-0.002, 1.002, -1.6}, {0, 0, 1}}, 8: {{1.001, -0.003, 0.9}, {-0.002, 1.002, -1.6}, {2e-5, -1e-5, 1}}} {
		c, values := settle(tops(truth.at), 1, matrix{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, free, false)
		inverse := truth.inverse()
		for _, at := range []geom.Vec{{}, {X: 300}, {X: 300, Y: 300}} {
			x, y := c.m.at(at.X, at.Y)
			if wx, wy := inverse.at(at.X, at.Y); math.Hypot(x-wx, y-wy) > 0.05 {
				t.Errorf("%d: %v goes to (%v, %v), not (%v, %v)", free, at, x, y, wx, wy)
			}
		}
		for _, v := range values {
			if math.Abs(v-40) > 0.01 {
				t.Errorf("%d: a surface says %v where its top is 40", free, v)
			}
		}
	}
}

// TestUncertain: where tops are scattered by 0.5 px in either coordinate, the mean of 100 is uncertain by 0.05 px; and a map
// that skews by three times what is usual is believed in part, the more the better it is known.
func TestUncertain(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	scattered := func(sigma, skewed float64) []surface {
		return tops(func(x, y float64) (float64, float64) {
			return x + skewed*(x-155) + sigma*rnd.NormFloat64(), y - skewed*(y-155) + sigma*rnd.NormFloat64()
		})
	}
	all := scattered(0.5, 0)
	b := frame(all, 4)
	climb(all, b)
	if c := covariance(all, b); math.Abs(b.unit*math.Sqrt(c.At(0, 0))-0.05) > 0.01 || math.Abs(b.unit*math.Sqrt(c.At(1, 1))-0.05) > 0.01 {
		t.Errorf("%v and %v px", b.unit*math.Sqrt(c.At(0, 0)), b.unit*math.Sqrt(c.At(1, 1)))
	}
	identity := matrix{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	believed := func(sigma float64) float64 {
		all := scattered(sigma, 3*skew)
		b := frame(all, 4)
		climb(all, b)
		b.loosen()
		climb(all, b)
		steady(covariance(all, b), b, &identity)
		return (b.p[2] - b.p[5]) / 2
	}
	// With tops scattered by 3 px the skew is uncertain by about 3/√(200·120²/2): by 0.0025, more than is usual (0.0015).
	if sure, unsure := believed(0.01), believed(3); math.Abs(sure-3*skew) > 2e-4 || unsure > 2.5*skew {
		t.Errorf("%v and %v of %v", sure, unsure, 3*skew)
	}
}

// TestLead: differences of 4 and 0 where both show a patch, in which one has a third of what the other has; so of 6 that
// one of them only shows, and of −2, two thirds count. These have a mean of 5/3 and a variance of 17/3, which over four is
// 10/3/√(17/3) standard errors.
func TestLead(t *testing.T) {
	own := map[place]float64{{0, 0}: 5, {1, 0}: 1, {2, 0}: 6}
	other := map[place]float64{{0, 0}: 1, {1, 0}: 1, {3, 0}: 2}
	if got := lead(own, other); math.Abs(got-10/math.Sqrt(17*3)) > 1e-9 {
		t.Error(got)
	}
	if got := lead(nil, nil); !math.IsInf(got, -1) {
		t.Error(got)
	}
	rnd := rand.New(rand.NewPCG(3, 4))
	for i := range 400 { // the same to the last bit whatever order a map tells in
		own[place{i, 1}], other[place{i + 100, 1}] = rnd.ExpFloat64(), rnd.ExpFloat64()
	}
	first := lead(own, other)
	for range 20 {
		if again := lead(own, other); again != first {
			t.Fatalf("%v, then %v", first, again)
		}
	}
}

// TestRanked: values at ranks are those of the sorted values, also where many are equal; and a class is how many of the cuts
// at them are not above.
func TestRanked(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	for round := range 200 {
		v := make([]float32, 12+rnd.IntN(300))
		for i := range v {
			v[i] = float32(rnd.NormFloat64())
			switch round % 4 {
			case 1:
				v[i] = float32(rnd.IntN(5))
			case 2:
				v[i] = float32(i)
			case 3:
				v[i] = 7
			}
		}
		if round%8 == 4 {
			v[3] = 1e9 // all others fall into few bins
		}
		sorted := slices.Sorted(slices.Values(v))
		got := newCuts(slices.Clone(v))
		for i, cut := range got.at {
			if want := sorted[(i+1)*len(v)/tones]; cut != want {
				t.Fatalf("round %d, cut %d: %v, want %v", round, i, cut, want)
			}
		}
		for _, tone := range append(v, -1e9, 1e9) {
			want := uint8(0)
			for _, cut := range got.at {
				if cut <= tone {
					want++
				}
			}
			if c := got.class(tone); c != want {
				t.Fatalf("round %d, %v: class %d, want %d", round, tone, c, want)
			}
		}
	}
}

// TestAccept: each limit, from either side. 8 standard errors of lead are a confidence of 1 − exp(−8/1.5) = 0.9952. A
// sameness of 2.6 spreads above the usual one of two dies is 0.9953 (any table of the normal distribution): of
// 18 + 2.6·9 = 41.4, which is a score of 41.4 to 1 px, or of 41.4 − 15·ln 4 = 20.606 to a quarter of it. With a lead of 10
// of the pictures alone, a chance of exp(−10/1.5) = 0.00127, a sameness of 18.9, of which two dies have a chance of 0.460, is
// enough: 0.000586·(1 − ln 0.000586) = 0.0049; and one of 18, of which they have 0.5, is not (0.0053). Where 15·ln 0.4 = −13.74.
func TestAccept(t *testing.T) {
	img := halvings{{200, 200, make([]float32, 200*200)}}
	identity := matrix{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	rival := candidate{m: matrix{{1, 0, 30}, {0, 1, 40}, {0, 0, 1}}}
	for _, tc := range []struct {
		score, lead, sigma float64
		plain, beside      float64
		want               string
	}{
		{5.16, 8, 0.4, 10, 0, ""},
		{4.25, 8, 0.4, 10, 0, "too little in common"},
		{5.16, 8, 0.4, 9.8, 0, "too little in common"},
		{5.16, 7.9, 0.4, 10, 0, "is nearly as good"},
		{20.61, 8, 0.25, 0, 0, ""},
		{20.2, 8, 0.25, 0, 0, "the best has too little in common, or at no place as definite, for pictures of one die (20 standard errors, to 0.8 px)"},
		{20.61, 8, 0.26, 0, 0, "at no place as definite"},
		{20.61, 7.9, 0.25, 0, 0, "another, which puts a corner 50 px elsewhere, is nearly as good (7.9 standard errors less)"},
		{20.61, -2, 0.25, 0, 0, "is nearly as good (0.0 standard errors less)"},
		{40, 8, 0.49, 0, 0, ""},
		{40, 8, 0.49, -19, 0, ""},
		{40, 8, 0.49, -21, 0, "another place is better by 21 standard errors, and the marks are too far off there"},
		{40, 8, 0.4, 0, 0.49, ""},
		{40, 8, 0.4, 0, 0.51, "leaves a corner uncertain by 1.5 px"},
		{40, 8, 0.4, 0, math.Inf(1), "leaves a corner uncertain"},
		{40, 8, 0.51, 0, 0, "leaves a corner uncertain by 1.5 px"},
		{math.NaN(), 8, 0.1, 0, 0, "too little in common"},
		{30, math.NaN(), 0.1, 0, 0, "is nearly as good"},
		{20, 8, math.NaN(), 0, 0, "too little in common"},
		{20, 8, math.Inf(1), 0, 0, "standard errors, at no definite place"},
	} {
		r, err := accept(img, candidate{m: identity, score: tc.score, sigma: tc.sigma}, verdict{tc.lead, rival, tc.plain, fromNothing}, func() float64 { return tc.beside })
		if tc.want == "" && (err != nil || math.Abs(r.Sigma-3*max(tc.sigma, tc.beside)) > 1e-9 || r.Confidence < 0.995 || r.Map.Apply(geom.Vec{X: 3, Y: 4}) != (geom.Vec{X: 3, Y: 4})) {
			t.Errorf("%v: %v, %v", tc, r, err)
		}
		if tc.want != "" && (!errors.Is(err, ErrRefused) || !strings.Contains(err.Error(), tc.want)) {
			t.Errorf("%v: %v", tc, err)
		}
	}
}

// TestShading: tones that grow evenly across a picture are all shading, and so is what bends.
func TestShading(t *testing.T) {
	light := func(x, y float64) float64 { return 1 + x/100 - y/300 + x*y/9e4 }
	var all []*window
	for i := range 36 {
		w := &window{x: i % 6 * 50, y: i / 6 * 50, w: 10, h: 10}
		for k := range 100 {
			w.tone = append(w.tone, float32(light(float64(w.x+k%10), float64(w.y+k/10))))
		}
		all = append(all, w)
	}
	s := newShading(all)
	for _, w := range all {
		for i, tone := range w.tone {
			if got := s.at(w, i); math.Abs(float64(got-tone)) > 0.01 {
				t.Fatalf("%v where it is %v", got, tone)
			}
		}
	}
}

// TestTransform: the transform of one sample is a wave of length 1, and back it is n² times as large.
func TestTransform(t *testing.T) {
	for _, n := range []int{12, 18, 30, 50} { // all factors, and sides that are no whole number of strips
		f := newTransform(n)
		v := make([]complex128, n*n)
		v[2*n+3] = 1
		f.forward(v)
		for i, c := range v {
			a := -2 * math.Pi * float64(3*(i%n)+2*(i/n)) / float64(n)
			if math.Hypot(real(c)-math.Cos(a), imag(c)-math.Sin(a)) > 1e-12 {
				t.Fatal(n, i, c)
			}
		}
		f.back(v)
		for i, c := range v {
			want := 0.0
			if i == 2*n+3 {
				want = float64(n * n)
			}
			if math.Hypot(real(c)-want, imag(c)) > 1e-9 {
				t.Fatal(n, i, c)
			}
		}
	}
}

// TestLengths: 5-smooth numbers (H. S. Warren or any table of regular numbers: 1, 2, 3, 4, 5, 6, 8, 9, 10, 12, 15, …).
func TestLengths(t *testing.T) {
	for n, want := range map[int]int{7: 8, 8: 8, 11: 12, 13: 15, 257: 270, 601: 625} {
		if got := length(n); got != want {
			t.Errorf("%d: %d, want %d", n, got, want)
		}
	}
}

// TestWhiten: each frequency of real numbers keeps its phase, what is larger is made smaller by more, to the power of 0.7, and the sum of
// squares stays.
func TestWhiten(t *testing.T) {
	rnd := rand.New(rand.NewPCG(2, 9))
	for _, n := range []int{5, 12} {
		v := make([]complex128, n*n)
		for i := range v {
			v[i] = complex(rnd.NormFloat64(), 0)
		}
		newTransform(n).forward(v)
		got := slices.Clone(v)
		whiten(got, n)
		mean, before, after := 0.0, 0.0, 0.0
		for i := range v {
			mean += cmplx.Abs(v[i]) / float64(n*n)
			before, after = before+cmplx.Abs(v[i])*cmplx.Abs(v[i]), after+cmplx.Abs(got[i])*cmplx.Abs(got[i])
		}
		for i := range v {
			want := got[0] / v[0] * complex(math.Pow((cmplx.Abs(v[0])+0.1*mean)/(cmplx.Abs(v[i])+0.1*mean), 0.7), 0)
			if cmplx.Abs(got[i]/v[i]-want) > 1e-9 {
				t.Fatalf("%d: frequency %d times %v, want %v", n, i, got[i]/v[i], want)
			}
		}
		if math.Abs(after/before-1) > 1e-9 {
			t.Errorf("%d: sum of squares %v of %v", n, after, before)
		}
	}
}

// TestMarks: two marks leave both sides open, three that lie apart only one, even where the other side fits by no map at all
// (an equilateral triangle); marks by which the pictures are too different in size, or that cannot be, are refused.
func TestMarks(t *testing.T) {
	mark := func(ax, ay, bx, by float64) Mark { return Mark{geom.Vec{X: ax, Y: ay}, geom.Vec{X: bx, Y: by}} }
	two := []Mark{mark(10, 10, 20, 30), mark(400, 10, 800, 30)}
	top := 90 + 60*math.Sqrt(3)
	for _, tc := range []struct {
		marks []Mark
		ways  int
		scale float64
		want  string
	}{
		{two, 2, 2, ""},
		{append(two[:2:2], mark(10, 400, 20, 810)), 1, 2, ""},
		{[]Mark{mark(90, 90, 90, 90), mark(210, 90, 210, 90), mark(150, top, 150, top)}, 1, 1, ""},
		{[]Mark{mark(10, 10, 20, 30), mark(40, 10, 800, 30)}, 0, 0, "by the marks a pixel of one is 26 of the other; between 0.4 and 2.5"},
		{[]Mark{mark(0, 0, 0, 0), mark(500, 0, 0, 500), mark(0, 500, 400, 900)}, 0, 0, "the marks are farther off than 120 px from any map that keeps shapes"},
	} {
		s := &space{}
		err := s.near(tc.marks, 80, []float64{0}, []float64{0})
		if tc.want != "" {
			if !errors.Is(err, ErrRefused) || !strings.Contains(err.Error(), tc.want) {
				t.Errorf("%v: %v", tc.marks, err)
			}
			continue
		}
		if err != nil || len(s.ways) != tc.ways {
			t.Errorf("%v: %v ways, %v", tc.marks, s.ways, err)
			continue
		}
		if low, high := s.scales[0], s.scales[len(s.scales)-1]; !(low < 0.98*tc.scale && high > 1.02*tc.scale) {
			t.Errorf("%v: scales of %v to %v", tc.marks, low, high)
		}
	}
}

// TestPasses: from nothing, both passes together try each scale but for a quarter of a step, and the second one goes on where
// the first ended; by marks there is one.
func TestPasses(t *testing.T) {
	s := &space{scales: steps(smallest, largest, stepOfScale)}
	if got := s.passes(false); len(got) != 1 || !slices.Equal(got[0].scales, s.scales) {
		t.Errorf("by marks %v", got)
	}
	passes := s.passes(true)
	if len(passes) != 2 || !slices.Equal(passes[0].scales, s.scales) || passes[0].to > passes[1].from || passes[1].from >= passes[1].to || passes[1].to > 1 {
		t.Fatalf("from nothing %v", passes)
	}
	for _, scale := range steps(smallest, largest, 1.001) {
		off := math.Inf(1)
		for _, k := range slices.Concat(passes[0].scales, passes[1].scales) {
			off = min(off, math.Abs(math.Log(k/scale)))
		}
		if off > 1.001*math.Log(stepOfScale)/4 {
			t.Errorf("%v is tried at %.4f times of it", scale, math.Exp(off))
		}
	}
}

// TestNearest: of two pictures whose edges are turned by −10 and 44 degrees, the one of the eight ways that is taken is the
// one by which marks that are exact go where they should, but for a shift.
func TestNearest(t *testing.T) {
	const degree = math.Pi / 180
	for quarters := range 4 {
		truth := turned((54 + 90*float64(quarters)) * degree).then(scaling(1.2))
		var marks []Mark
		for _, a := range []geom.Vec{{X: 10, Y: 20}, {X: 400, Y: 50}, {X: 90, Y: 390}} {
			m := Mark{A: a}
			m.B.X, m.B.Y = truth.at(a.X, a.Y)
			marks = append(marks, m)
		}
		s := &space{}
		if err := s.near(marks, 80, []float64{20 * degree, -10 * degree}, []float64{44 * degree, 10 * degree}); err != nil {
			t.Fatal(err)
		}
		got := s.way(s.ways[0], 1.2).then(turned(s.turnB))
		for i := range 2 {
			for j := range 2 {
				if math.Abs(got[i][j]-truth[i][j]) > 1e-9 {
					t.Fatalf("%d: %v, want %v, by turns of %v and %v", quarters, got, truth, s.turnA/degree, s.turnB/degree)
				}
			}
		}
	}
}

// TestSeveralDirections: of a picture half of which has edges that are turned by 20 degrees, both directions are found.
func TestSeveralDirections(t *testing.T) {
	img, back := &Image{Width: 600, Height: 600}, turned(-math.Pi/9)
	for i := range 600 * 600 {
		x, y := float64(i%600), float64(i/600)
		if i%600 > 350 {
			x, y = back.at(x, y)
		}
		stripe := func(v, pitch float64) float64 { // half of the pitch wide, its edges a pixel wide
			v = math.Mod(v+100*pitch, pitch)
			return min(1, max(0, min(v, pitch/2-v)+0.5))
		}
		img.Pix = append(img.Pix, float32(stripe(x, 40)*stripe(y, 30)))
	}
	img.Pix = gauss(gauss(img.Pix, 600, 600), 600, 600) // as lenses do
	found := halvings{img}.directions()
	for _, want := range []float64{0, math.Pi / 9} {
		if !slices.ContainsFunc(found, func(d float64) bool { return math.Abs(math.Remainder(d-want, math.Pi/2)) < 0.01 }) {
			t.Errorf("%v has no %v", found, want)
		}
	}
}
