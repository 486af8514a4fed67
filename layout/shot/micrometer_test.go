package shot

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// rulingScene is a drawn photograph of a stage micrometer whose truth is known: no outside data has one.
type rulingScene struct {
	period, angle, width float64 // px, radians, px
	w, h                 int
	dark                 bool
	noise                float64
	bend                 float64 // barrel (below 0) or pincushion (above 0) distortion in the corners, as a part of 1
}

// reader renders the scene: lines with soft edges, every fifth twice as long, light that falls off to one side, noise.
func (s rulingScene) reader(rnd *rand.Rand) *drawn {
	sin, cos := math.Sincos(s.angle)
	phase := rnd.Float64() * s.period
	d := &drawn{header: Header{Width: s.w, Height: s.h, Channels: 1, Depth: 8, Orientation: TopLeft}}
	d.row = func(y int, dst []byte) {
		for x := range dst {
			px, py := float64(x)+0.5-float64(s.w)/2, float64(y)+0.5-float64(s.h)/2
			straight := 1 - s.bend*4*(px*px+py*py)/float64(s.w*s.w+s.h*s.h)
			px, py = px*straight, py*straight
			u, v := cos*px+sin*py+phase, -sin*px+cos*py
			k := math.Round(u / s.period)
			length := float64(min(s.w, s.h)) / 5
			if int(k)%5 == 0 {
				length *= 2
			}
			edge := func(t float64) float64 { return 0.5 + 0.5*math.Erf(t/1.2) }
			line := edge(s.width/2-math.Abs(u-k*s.period)) * edge(length-math.Abs(v))
			tone := 60 + 20*px/float64(s.w) + 110*line
			if s.dark {
				tone = 230 - tone
			}
			dst[x] = byte(max(0, min(255, tone+s.noise*rnd.NormFloat64()+0.5)))
		}
	}
	return d
}

// TestMeasureRuling: the period within its stated uncertainty as often as a normal law says it should be, for any
// direction, bright and dark lines; and in any case to 3 in 10,000.
func TestMeasureRuling(t *testing.T) {
	t.Parallel()
	rnd := rand.New(rand.NewPCG(11, 12))
	const rounds = 40
	within := 0
	for i := range rounds {
		s := rulingScene{period: 8 + 40*rnd.Float64(), angle: (rnd.Float64() - 0.5) * math.Pi, w: 500 + rnd.IntN(300), h: 500 + rnd.IntN(300), dark: i%2 == 0, noise: 8 * rnd.Float64()}
		if i%5 == 0 {
			s.angle = []float64{0, math.Pi / 2, 0.001, -0.7853981633974483}[i/5%4]
		}
		s.width = s.period * (0.15 + 0.25*rnd.Float64())
		r, err := MeasureRuling(t.Context(), s.reader(rnd))
		if err != nil {
			t.Errorf("%+v: %v", s, err)
			continue
		}
		off := math.Abs(r.Period - s.period)
		if off > 3e-4*s.period {
			t.Errorf("%+v: %+v", s, r)
		}
		if off < 2*r.Sigma {
			within++
		}
		turn := math.Mod(math.Abs(r.Angle-s.angle*180/math.Pi), 180)
		if min(turn, 180-turn) > 0.5 {
			t.Errorf("angle %.3f, want %.3f", r.Angle, s.angle*180/math.Pi)
		}
	}
	if within < rounds*8/10 {
		t.Errorf("only %d of %d within 2 σ", within, rounds)
	}
}

// TestRulingDistorted: with noise, with barrel and pincushion distortion, turned: the period in the middle of the picture
// lies within three of the stated σ in 97 of 100, and never beyond five; a strong distortion is told, none is not.
func TestRulingDistorted(t *testing.T) {
	t.Parallel()
	count, within, within2 := 0, 0, 0
	for i, bend := range []float64{0, -0.003, 0.003, -0.0005, 0.0005, -0.02} {
		for seed := range uint64(10) {
			rnd := rand.New(rand.NewPCG(seed, 100+uint64(i)))
			s := rulingScene{period: 8 + 40*rnd.Float64(), angle: (rnd.Float64() - 0.5) * math.Pi, w: 600, h: 420, dark: seed%2 == 0, noise: float64(seed%3) * 6, bend: bend}
			s.width = s.period * (0.15 + 0.25*rnd.Float64())
			r, err := MeasureRuling(t.Context(), s.reader(rnd))
			if err != nil {
				t.Errorf("%+v: %v", s, err)
				continue
			}
			off := math.Abs(r.Period-s.period) / r.Sigma
			if count++; off <= 3 {
				within++
			}
			if off <= 2 {
				within2++
			}
			if off > 5 {
				t.Errorf("%+v: %+v, off by %.1f σ", s, r, off)
			}
			if bend == 0 && (r.Uneven > 0 || r.Sigma > 1e-3*r.Period) || bend == -0.02 && r.Uneven == 0 {
				t.Errorf("%+v: %+v", s, r)
			}
		}
	}
	t.Logf("%d rulings: %d within 3 σ, %d within 2 σ", count, within, within2)
	if within*100 < count*97 {
		t.Errorf("%d of %d within 3 σ", within, count)
	}
}

// TestLinesPlaced: without distortion, the scatter of the lines alone says how far the period is off, also where it is
// nearly a whole number of pixels, so that an error in placing the lines would be much the same from line to line.
func TestLinesPlaced(t *testing.T) {
	t.Parallel()
	for _, noise := range []float64{0, 12} {
		squares := 0.0
		const rounds = 16
		for seed := range uint64(rounds) {
			rnd := rand.New(rand.NewPCG(seed, 77))
			s := rulingScene{period: 8 + 40*rnd.Float64(), angle: (rnd.Float64() - 0.5) * math.Pi, w: 600, h: 420, dark: seed%2 == 0, noise: noise}
			s.width = s.period * (0.15 + 0.25*rnd.Float64())
			s.period = math.Round(s.period) + 0.1*(rnd.Float64()-0.5)
			g, _, err := readGrey(t.Context(), s.reader(rnd))
			if err != nil {
				t.Fatal(err)
			}
			angle, strip, err := g.sharpest(t.Context(), g.direction())
			if err != nil {
				t.Fatal(err)
			}
			lines, err := g.profile(angle, strip).lines()
			if err != nil {
				t.Errorf("%+v: %v", s, err)
				continue
			}
			f := fitSpacing(lines)
			off := (f.period - s.period) / f.sigma
			if squares += off * off / rounds; math.Abs(off) > 4 {
				t.Errorf("%+v: %+v, off by %.1f σ", s, f, off)
			}
		}
		if squares > 1.5*1.5 {
			t.Errorf("noise %g: off by %.2f σ in the mean", noise, math.Sqrt(squares))
		}
	}
}

// TestFitSpacing: places on a cubic, by hand: with u from -10 to 10 and x = 5u + 0.01u³, the mean slope by least squares
// is 5 + 0.01·Σu⁴/Σu², where Σu² = 770 and Σu⁴ = 50,666. The local one is 5 + 0.03u², so it departs from the mean by
// 0.03u² - 0.658, whose mean square is (0.0009·50,666 - 2·0.03·0.658·770 + 21·0.658²)/21.
func TestFitSpacing(t *testing.T) {
	var cubic, even, scattered []float64
	for u := -10.0; u <= 10; u++ {
		cubic = append(cubic, 100+5*u+0.01*u*u*u)
		even = append(even, 7*u)
		scattered = append(scattered, 7*u+0.2*math.Cos(math.Pi*u))
	}
	f := fitSpacing(cubic)
	near(t, "mean period", f.period, 5.658, 1e-12)
	near(t, "unevenness", f.uneven, math.Sqrt((0.0009*50666-2*0.03*0.658*770+21*0.658*0.658)/21), 1e-9)
	if near(t, "scatter", f.scatter, placing, 1e-12); !f.bent() || f.total() < f.uneven {
		t.Errorf("%+v", f)
	}
	f = fitSpacing(even)
	near(t, "even period", f.period, 7, 1e-12)
	near(t, "its σ", f.sigma, placing/math.Sqrt(770), 1e-12)
	if f.bent() || f.total() < f.unseen || f.unseen < f.sigma {
		t.Errorf("%+v", f)
	}
	// ±0.2 px, which a cubic can hardly follow: 21·0.04 over 17 degrees of freedom.
	if f = fitSpacing(scattered); math.Abs(f.scatter-math.Sqrt(21*0.04/17)) > 0.01 || f.bent() {
		t.Errorf("%+v", f)
	}
}

// TestScaleTellsDistortion: who reads how the scale was found learns of a period that changes.
func TestScaleTellsDistortion(t *testing.T) {
	for uneven, want := range map[float64]bool{0: false, 0.0018: true} {
		s, err := Ruling{Period: 80, Sigma: 0.2, Lines: 20, Uneven: uneven}.Scale(10000, 10)
		if err != nil || strings.Contains(s.How, "it changes by 0.18 % across the picture") != want {
			t.Error(s.How, err)
		}
	}
}

// TestFineRuling: in a photograph that is too large to be measured whole, lines that are lost in making it smaller are
// found in its middle, and those that would seem to lie twice as far apart, too; others are measured from end to end.
func TestFineRuling(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		period float64
		least  int // lines
	}{{9, 320}, {10, 290}, {40, 290}} {
		s := rulingScene{period: tc.period, width: tc.period / 3, angle: 0.01, w: 12000, h: 300, noise: 5}
		r, err := MeasureRuling(t.Context(), s.reader(rand.New(rand.NewPCG(1, 2))))
		if err != nil || math.Abs(r.Period-tc.period) > 3*r.Sigma || r.Sigma > 1e-3*tc.period || r.Lines < tc.least {
			t.Errorf("%g px: %+v, %v", tc.period, r, err)
		}
	}
}

// TestMeasureRulingEnds: at every step, the context's end is heard.
func TestMeasureRulingEnds(t *testing.T) {
	for _, rows := range []int{0, 100, 420} {
		ctx, cancel := context.WithCancel(t.Context())
		d := rulingScene{period: 20, width: 5, w: 600, h: 420}.reader(rand.New(rand.NewPCG(1, 2)))
		row := d.row
		d.row = func(y int, dst []byte) {
			if row(y, dst); y+1 >= rows {
				cancel()
			}
		}
		if _, err := MeasureRuling(ctx, d); !errors.Is(err, context.Canceled) || d.y > max(rows, 1) {
			t.Errorf("after %d rows: %v", d.y, err)
		}
	}
}

// TestMeasureRulingRefuses: what is no ruling gives no scale.
func TestMeasureRulingRefuses(t *testing.T) {
	rnd := rand.New(rand.NewPCG(13, 14))
	for _, tc := range []struct {
		name string
		r    Reader
		want string
	}{
		{"noise", noise(300, 300, 1, 8, 6), ""},
		{"three lines", rulingScene{period: 150, width: 20, w: 500, h: 500}.reader(rnd), ""},
		{"one tone", oneTone(100, 100), "found no lines at equal distances"},
		{"small", noise(15, 300, 1, 8, 7), "too few"},
		{"narrow", oneTone(6000, 31), "too long and narrow"},
		{"2.5 px", rulingScene{period: 2.5, width: 1.2, w: 300, h: 300}.reader(rnd), "less than 4 px apart: take a larger magnification"},
		{"large, fine, 3 px", rulingScene{period: 3, width: 1.2, w: 12000, h: 100}.reader(rnd), "in the middle 3000 × 100 pixels: the lines are less than 4 px apart: take a larger magnification"},
		{"large, noise", noise(12000, 100, 1, 8, 6), "; made 4 times smaller, the photograph loses most of what changes in it: cut it to the ruling, at most 3000 pixels a side"},
		{"large, one tone", oneTone(6000, 40), "made 2 times smaller: found no lines at equal distances: cut the picture to the ruling; in the middle 3000 × 40 pixels: found no lines"},
	} {
		r, err := MeasureRuling(t.Context(), tc.r)
		if err == nil {
			t.Errorf("%s: %+v", tc.name, r)
		} else if !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %q, want something of %q", tc.name, err, tc.want)
		}
	}
}

func oneTone(width, height int) *drawn {
	return &drawn{header: Header{Width: width, Height: height, Channels: 1, Depth: 8}, row: func(int, []byte) {}}
}
