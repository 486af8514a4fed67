package shot

import (
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
}

// reader renders the scene: lines with soft edges, every fifth twice as long, light that falls off to one side, noise.
func (s rulingScene) reader(rnd *rand.Rand) *drawn {
	sin, cos := math.Sincos(s.angle)
	phase := rnd.Float64() * s.period
	d := &drawn{header: Header{Width: s.w, Height: s.h, Channels: 1, Depth: 8, Orientation: TopLeft}}
	d.row = func(y int, dst []byte) {
		for x := range dst {
			px, py := float64(x)+0.5-float64(s.w)/2, float64(y)+0.5-float64(s.h)/2
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
	rnd := rand.New(rand.NewPCG(11, 12))
	const rounds = 40
	within := 0
	for i := range rounds {
		s := rulingScene{period: 8 + 40*rnd.Float64(), angle: (rnd.Float64() - 0.5) * math.Pi, w: 500 + rnd.IntN(300), h: 500 + rnd.IntN(300), dark: i%2 == 0, noise: 8 * rnd.Float64()}
		if i%5 == 0 {
			s.angle = []float64{0, math.Pi / 2, 0.001, -0.7853981633974483}[i/5%4]
		}
		s.width = s.period * (0.15 + 0.25*rnd.Float64())
		r, err := MeasureRuling(s.reader(rnd))
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
		{"one tone", &drawn{header: Header{Width: 100, Height: 100, Channels: 1, Depth: 8}, row: func(int, []byte) {}}, "no lines"},
		{"small", noise(15, 300, 1, 8, 7), "too few"},
	} {
		r, err := MeasureRuling(tc.r)
		if err == nil {
			t.Errorf("%s: %+v", tc.name, r)
		} else if !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %q, want something of %q", tc.name, err, tc.want)
		}
	}
}
