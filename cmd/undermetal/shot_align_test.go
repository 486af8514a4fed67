package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/register/align"
)

// drawnDie is a made-up die of 500 × 500 units: upright rectangles at random places, which cover each other.
func drawnDie(seed uint64) func(x, y float64) bool {
	rnd := rand.New(rand.NewPCG(seed, 1))
	type rect struct{ x, y, w, h float64 }
	const strip = 20
	var strips [700 / strip][]rect // by y, so that a place is looked up among a few
	for range 90 {
		r := rect{500 * rnd.Float64(), 500 * rnd.Float64(), 6 + 12*rnd.Float64(), 20 + 70*rnd.Float64()}
		if rnd.IntN(2) == 0 {
			r.w, r.h = r.h, r.w
		}
		for k := int(r.y) / strip; k <= int(r.y+r.h)/strip; k++ {
			strips[k] = append(strips[k], r)
		}
	}
	return func(x, y float64) bool {
		for _, r := range strips[int(max(0, y))/strip] {
			if x >= r.x && x < r.x+r.w && y >= r.y && y < r.y+r.h {
				return true
			}
		}
		return false
	}
}

// photograph writes size × size px of a die, with noise: at takes pixels to the die's places; what is drawn has one tone, the
// ground another. A pixel is the mean of 3 × 3 places in it.
func photograph(t *testing.T, name string, size int, die func(x, y float64) bool, drawn, ground float64, at func(x, y float64) (float64, float64)) {
	t.Helper()
	rnd := rand.New(rand.NewPCG(uint64(len(name)), 2))
	err := writeGreyPNG(name, size, size, func(x, y int) uint8 {
		sum := 0.0
		for i := range 9 {
			v := ground
			if die(at(float64(x)+float64(i%3)/3+1.0/6, float64(y)+float64(i/3)/3+1.0/6)) {
				v = drawn
			}
			sum += v / 9
		}
		return uint8(max(0, min(255, sum+6*rnd.NormFloat64())))
	})
	if err != nil {
		t.Fatal(err)
	}
}

// dieShots makes a dossier with photographs of a die: bare.png, a pixel a unit, calibrated to 0.1 µm/px; and metal1.png, of
// reversed contrast, turned over and larger by 1.1: its pixel (x, y) is at (400 − x/1.1, 20 + y/1.1) of the die, and of
// bare.png. other.png shows another die. m.csv has dieMarks.
func dieShots(t *testing.T) {
	t.Helper()
	t.Chdir(t.TempDir())
	plain := func(x, y float64) (float64, float64) { return x, y }
	photograph(t, "bare.png", 400, drawnDie(1), 190, 70, plain)
	photograph(t, "metal1.png", 400, drawnDie(1), 60, 160, func(x, y float64) (float64, float64) { return 400 - x/1.1, 20 + y/1.1 })
	photograph(t, "other.png", 400, drawnDie(2), 60, 160, plain)
	if err := os.WriteFile("m.csv", []byte("ax,ay,bx,by\n40,60,372,66\n370,50,70,75\n200,380,210,370\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	must(t, "new k.dossier")
	must(t, "shot add k.dossier bare.png metal1.png other.png")
	must(t, "shot calibrate k.dossier bare --scale 0.1 --sigma 0.0002")
}

// dieMarks are off by some 10 px.
const dieMarks = " --mark 40,60=372,66 --mark 370,50=70,75 --mark 200,380=210,370"

func distanceOf(p, q geom.Vec) float64 { return math.Hypot(p.X-q.X, p.Y-q.Y) }

// TestAlign: the photograph goes where it was drawn, to a pixel. By hand: the corners (0, 0) and (400, 400) of metal1 lie at (400, 20) and (36.36, 383.64) of
// bare, so at (40, 38) and (3.636, 1.636) µm. A shape over the pixels (110, 110) to (220, 220), while metal1 is alone 0.05 µm
// a pixel, goes to (200, 120) to (300, 220) px of bare: (20, 18) to (30, 28) µm.
func TestAlign(t *testing.T) {
	dieShots(t)
	must(t, "shot calibrate k.dossier metal1 --scale 0.05 --sigma 0.0002")
	edited(t, func(tx *dossier.Tx) error {
		s, err := tx.Shot("metal1")
		return errors.Join(err, tx.AddShape(&dossier.Shape{Cell: dossier.Frame, Layer: "metal1", Polygon: geom.Polygon{geom.Box(5500, 9000, 11000, 14500).Ring()}, Method: "hand", Shot: s.ID}))
	})
	where := func() (j alignJSON) {
		t.Helper()
		if err := json.Unmarshal([]byte(must(t, "shot align k.dossier metal1 bare --dry-run --json --marks m.csv --within 40")), &j); err != nil {
			t.Fatal(err)
		}
		return j
	}()
	if !where.Accepted || where.Confidence < 0.9 || where.Confidence > 1 || where.Reason != "" || !(*where.RmsPx > 0 && *where.RmsPx < 1) {
		t.Fatal(where)
	}
	for _, v := range [][4]float64{{0, 0, 400, 20}, {400, 400, 400 - 400/1.1, 20 + 400/1.1}} {
		m := where.Map
		w := m[2][0]*v[0] + m[2][1]*v[1] + m[2][2]
		x, y := (m[0][0]*v[0]+m[0][1]*v[1]+m[0][2])/w, (m[1][0]*v[0]+m[1][1]*v[1]+m[1][2])/w
		if math.Hypot(x-v[2], y-v[3]) > 1 {
			t.Errorf("(%g, %g) goes to (%.2f, %.2f), want (%.2f, %.2f)", v[0], v[1], x, y, v[2], v[3])
		}
	}
	if out := must(t, "shot list k.dossier"); strings.Contains(out, "registered") {
		t.Error("a dry run registers:\n" + out)
	}
	out := must(t, "shot align k.dossier metal1 bare"+dieMarks)
	for _, want := range []string{"metal1: laid on bare, projective\n", "(standard uncertainty at the worst corner of what both show)\n", "confidence that it is the right place: ", ", turned over\n",
		"bare is registered too now, where it lay", "    moved with it: 1 shape that was traced over it (1 on metal1), by up to "} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is not in\n%s", want, out)
		}
	}
	// The corner (0, 0) is at (400, 20) px of bare, which is 400 px high: at (40, 38) µm.
	_, line, _ := strings.Cut(out, "µm of the frame\n")
	var corner [6]float64
	for i, text := range strings.Fields(line)[:6] {
		var err error
		if corner[i], err = strconv.ParseFloat(text, 64); err != nil {
			t.Fatal(err, out)
		}
	}
	for i, want := range []float64{0, 0, 400, 20, 40, 38} {
		if off := math.Abs(corner[i] - want); off > []float64{0, 0, 1, 1, 0.1, 0.1}[i] {
			t.Errorf("the first corner is at %v, want %v at %d", corner, want, i)
		}
	}
	if out := must(t, "shot list k.dossier"); !strings.Contains(out, "registered: laid on another photograph, ± 0.") || !strings.Contains(out, "registered: similarity, 2 control points") {
		t.Error(out)
	}
	got, want := boxes(t, dossier.Frame)[0], geom.Box(20000, 18000, 30000, 28000)
	if max(math.Abs(float64(got.Min.X-want.Min.X)), math.Abs(float64(got.Min.Y-want.Min.Y)), math.Abs(float64(got.Max.X-want.Max.X)), math.Abs(float64(got.Max.Y-want.Max.Y))) > 100 {
		t.Errorf("the shape goes to %v, want %v", got, want)
	}
	if out := must(t, "check k.dossier"); !strings.Contains(out, "sound") {
		t.Error(out)
	}
	must(t, "shot show k.dossier bare --with metal1 --out both.png")
	if out := must(t, "shot measure k.dossier metal1 5,5:35,5"); !strings.Contains(out, "metal1: 30.0") {
		t.Error(out)
	}
	if out := must(t, "history k.dossier"); !strings.Contains(out, "align shot metal1 with bare: ± 0.") {
		t.Error(out)
	}
	must(t, "undo k.dossier")
	if out := must(t, "shot list k.dossier"); strings.Contains(out, "registered") || boxes(t, dossier.Frame)[0] != geom.Box(5500, 9000, 11000, 14500) {
		t.Error("undo leaves something", out)
	}
	must(t, "shot align k.dossier metal1 bare --keep-shapes"+dieMarks)
	if got := boxes(t, dossier.Frame)[0]; got != geom.Box(5500, 9000, 11000, 14500) {
		t.Error("a shape moved that was to be kept", got)
	}
	if errs := fails(t, "shot align k.dossier bare metal1"); !strings.Contains(errs, "bare: it fixes the frame, and cannot have its place from another\n    undermetal shot align k.dossier metal1 bare lays the other one on it") {
		t.Error(errs)
	}
	var stdout, stderr bytes.Buffer
	if status := run(strings.Fields("shot register k.dossier bare --point 0,400=100,100 --point 400,400=140,100"), &stdout, &stderr); status != exitDone || !strings.Contains(stderr.String(), "warning: bare: 1 photograph that was laid on another did not move with it") {
		t.Error(status, stderr.String())
	}
}

// TestReduced: where a pixel is 2 of A and 4 of B, a place in both at (20, 40) and (80, 120) is at (10, 20) and (20, 30);
// and a map by which (x, y) goes to (3x + 1, y), good to 0.1, is one by which (2x, 2y) goes to (12x + 4, 4y), good to 0.4.
func TestReduced(t *testing.T) {
	o := reducedMarks([]align.Mark{{A: geom.Vec{X: 20, Y: 40}, B: geom.Vec{X: 80, Y: 120}}}, 80, 2, 4)
	if want := (align.Mark{A: geom.Vec{X: 10, Y: 20}, B: geom.Vec{X: 20, Y: 30}}); len(o.Marks) != 1 || o.Marks[0] != want || o.Within != 20 {
		t.Error(o)
	}
	m, err := register.ParseMap(register.Affine, []float64{3, 0, 1, 0, 1, 0})
	if err != nil {
		t.Fatal(err)
	}
	r := enlarged(&align.Result{Map: m, Sigma: 0.1, Confidence: 0.99}, 2, 4)
	if at := r.Map.Apply(geom.Vec{X: 10, Y: 20}); distanceOf(at, geom.Vec{X: 64, Y: 40}) > 1e-9 || math.Abs(r.Sigma-0.4) > 1e-12 || r.Confidence != 0.99 {
		t.Error(r, at)
	}
}

// TestAlignReduced: where one is compared at half its size, marks and map are in full pixels all the same: of large.png, as
// metal1 with half its pixels, (x, y) is at (400 − x/2.2, 20 + y/2.2) of bare, to three times the uncertainty, and 1 px at most.
// Turned round, with bare on it, the same holds to 2.2 times that.
func TestAlignReduced(t *testing.T) {
	dieShots(t)
	photograph(t, "large.png", 800, drawnDie(1), 60, 160, func(x, y float64) (float64, float64) { return 400 - x/2.2, 20 + y/2.2 })
	must(t, "shot add k.dossier large.png")
	there := func(v geom.Vec) geom.Vec { return geom.Vec{X: 400 - v.X/2.2, Y: 20 + v.Y/2.2} }
	asItIs(t, func(d *dossier.Dossier) {
		large, err1 := d.Shot("large")
		bare, err2 := d.Shot("bare")
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		for _, back := range []bool{false, true} {
			l := &aligning{d: d, a: large, b: bare, most: 400 * 400, flags: &alignFlags{within: 30}}
			for _, v := range []geom.Vec{{X: 80, Y: 120}, {X: 740, Y: 100}, {X: 400, Y: 760}} {
				l.marks = append(l.marks, align.Mark{A: v, B: there(geom.Vec{X: v.X + 15, Y: v.Y - 20})})
			}
			if back {
				l.a, l.b, l.flags.within = bare, large, 66
				for i, m := range l.marks {
					l.marks[i] = align.Mark{A: m.B, B: m.A}
				}
			}
			last := 0.0
			found, err := l.find(t.Context(), func(done float64) {
				if done < last || done > 1 {
					t.Errorf("progress goes from %g to %g", last, done)
				}
				last = done
			})
			if err != nil {
				t.Fatal(err)
			}
			for _, v := range []geom.Vec{{}, {X: 800}, {Y: 800}, {X: 800, Y: 800}} {
				from, to, most := v, there(v), 1.0
				if back {
					from, to, most = to, from, 2.2
				}
				if off := distanceOf(found.Map.Apply(from), to); off > min(most, 3*found.Sigma) {
					t.Errorf("%v goes %.2f px beside %v, where it is said to be good to %.2f", from, off, to, found.Sigma)
				}
			}
		}
		l := &aligning{d: d, a: bare, b: large, most: 400 * 400, flags: &alignFlags{within: 20}} // a triangle that keeps no shape
		l.marks = []align.Mark{{A: geom.Vec{X: 50, Y: 50}, B: geom.Vec{X: 50, Y: 50}}, {A: geom.Vec{X: 350, Y: 50}, B: geom.Vec{X: 750, Y: 50}}, {A: geom.Vec{X: 200, Y: 350}, B: geom.Vec{X: 400, Y: 100}}}
		if _, err := l.find(t.Context(), func(float64) {}); !errors.Is(err, align.ErrRefused) || !strings.HasSuffix(err.Error(), "(a pixel here is 2 of large)") {
			t.Error(err)
		}
	})
}

// TestAlignRefused: photographs of two dies are not laid on each other, nothing is stored, and what is said is JSON too.
func TestAlignRefused(t *testing.T) {
	dieShots(t)
	before := must(t, "history k.dossier")
	var stdout, stderr bytes.Buffer
	if status := run(strings.Fields("shot align k.dossier other bare --json"+dieMarks), &stdout, &stderr); status != exitFailed {
		t.Error(status, stdout.String())
	}
	var j map[string]any
	if err := json.Unmarshal(stdout.Bytes(), &j); err != nil {
		t.Fatal(err, stdout.String())
	}
	reason, _ := j["reason"].(string)
	if len(j) != 5 || j["accepted"] != false || j["map"] != nil || j["rms_px"] != nil || j["confidence"] != 0.0 || !strings.HasPrefix(reason, "other on bare: no map can be relied on: ") {
		t.Error(stdout.String())
	}
	for _, want := range []string{"undermetal: other on bare: no map can be relied on: ", "\n    nothing was stored; look at the marks again",
		"\n    undermetal shot align k.dossier other bare --mark AX,AY=BX,BY --mark AX,AY=BX,BY --mark AX,AY=BX,BY\n", "shot register k.dossier other --point PX,PY=X,Y …"} {
		if !strings.Contains(stderr.String(), want) {
			t.Errorf("%q is not in\n%s", want, stderr.String())
		}
	}
	asItIs(t, func(d *dossier.Dossier) { // without marks, and in words
		c := newRoot()
		c.SetContext(t.Context())
		a, err1 := d.Shot("other")
		b, err2 := d.Shot("bare")
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		l := &aligning{c: c, d: d, a: a, b: b, flags: &alignFlags{within: 80}}
		if err := l.refuse(align.ErrRefused); !errors.Is(err, align.ErrRefused) || !strings.Contains(err.Error(), "\n    nothing was stored; set three marks by hand, far apart, each good to 80 px") {
			t.Error(err)
		}
	})
	if after := must(t, "history k.dossier"); after != before {
		t.Error("something was stored:\n" + after)
	}
}

// TestAlignNowhere: a photograph without a scale takes no other, but says where that lies on it if only that is asked, also
// while somebody else edits the dossier.
func TestAlignNowhere(t *testing.T) {
	dieShots(t)
	if errs := fails(t, "shot align k.dossier bare metal1"); !strings.Contains(errs, "metal1 is neither calibrated nor registered: nobody knows where it lies in the frame\n    undermetal shot calibrate k.dossier metal1 … gives it a scale") {
		t.Error(errs)
	}
	var stdout, stderr bytes.Buffer
	back := " --mark 372,66=40,60 --mark 70,75=370,50 --mark 210,370=200,380"
	other, err := dossier.Open(t.Context(), "k.dossier")
	if err != nil {
		t.Fatal(err)
	}
	if status := run(strings.Fields("shot calibrate k.dossier metal1 --scale 0.1"), &stdout, &stderr); status == exitDone {
		t.Error("a dossier that is edited elsewhere was edited")
	}
	stdout.Reset()
	stderr.Reset()
	if status := run(strings.Fields("shot align k.dossier bare metal1 --json"+back), &stdout, &stderr); status != exitDone || !strings.Contains(stdout.String(), `"accepted": true`) || !strings.Contains(stderr.String(), "warning: nothing was stored: metal1 is neither") {
		t.Error(status, stdout.String(), stderr.String())
	}
	if err := other.Close(); err != nil {
		t.Fatal(err)
	}
	must(t, "shot register k.dossier other --point 0,0=0,0 --point 400,0=40,0")
	if errs := fails(t, "shot align k.dossier metal1 bare"); !strings.Contains(errs, "bare is calibrated but not registered, while others are: nobody knows where it lies in the frame\n    undermetal shot register k.dossier bare --point") {
		t.Error(errs)
	}
}

// TestAlignMarks: marks that cannot be are refused, with what would do.
func TestAlignMarks(t *testing.T) {
	dieShots(t)
	for name, text := range map[string]string{"few.csv": "1,2,3\n", "one.csv": "1,2,3,4\n", "empty.csv": "# none\n", "names.csv": "ax,ay,px,by\n"} {
		if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	for _, tc := range []struct {
		flags, want string
		status      int
	}{
		{"--mark 1,2=3,4", "1 mark does not say how a photograph is turned: give two at least", exitUsage},
		{"--marks one.csv", "1 mark does not say how a photograph is turned", exitUsage},
		{"--mark 1,2=3,4 --marks m.csv", "give --mark or --marks, not both", exitUsage},
		{"--mark 1,2", "--mark 1,2: there is no = between the two places\n    give pixels of A and of B, as in 212,3004=1870,2960", exitUsage},
		{"--mark 1,2=3,x --mark 1,2=3,4", `--mark 1,2=3,x: "x" is no number`, exitUsage},
		{"--mark 1,2=3 --mark 1,2=3,4", "--mark 1,2=3: 1 number, not 2", exitUsage},
		{"--within 20", "--within is for marks", exitUsage},
		{"--within 0 --marks m.csv", "--within 0: give 1 to 262144 pixels", exitUsage},
		{"--mark 1,2=3,4 --mark 401,2=3,4", "mark 2: (401, 2) lies outside of metal1, which has 400 × 400 pixels\n    undermetal shot show --ticks", exitFailed},
		{"--mark 1,2=3,-4 --mark 1,2=3,4", "mark 1: (3, -4) lies outside of bare, which has 400 × 400 pixels", exitFailed},
		{"--mark 1,2=3,4 --mark 2,2=3,4", "metal1 on bare: the marks lie on each other", exitFailed},
		{"--marks few.csv", "few.csv: line 1: 3 fields, not 4", exitFailed},
		{"--marks empty.csv", "empty.csv: holds no mark: give lines of ax,ay,bx,by, as in 212,3004,1870,2960", exitFailed},
		{"--marks names.csv", `names.csv: line 1: column "px": there are ax, ay, bx, by, each once`, exitFailed},
		{"--marks none.csv", "none.csv: no such file", exitFailed},
	} {
		var stdout, stderr bytes.Buffer
		if status := run(strings.Fields("shot align k.dossier metal1 bare "+tc.flags), &stdout, &stderr); status != tc.status || !strings.Contains(stderr.String(), tc.want) || stdout.Len() > 0 {
			t.Errorf("%s: %d, %s\nwant %d, %s", tc.flags, status, stderr.String(), tc.status, tc.want)
		}
	}
	if errs := fails(t, "shot align k.dossier bare bare"); !strings.Contains(errs, "bare cannot be laid on itself") {
		t.Error(errs)
	}
	if errs := fails(t, "shot align k.dossier none bare"); !strings.Contains(errs, `there is no shot "none"`) {
		t.Error(errs)
	}
}

// TestAlignInterrupted: wherever it ends, the dossier is what it was.
func TestAlignInterrupted(t *testing.T) {
	dieShots(t)
	before := must(t, "history k.dossier")
	for _, n := range []int64{0, 3, 10, 20} {
		left := new(atomic.Int64)
		left.Store(n)
		var stdout, stderr bytes.Buffer
		status := runContext(countdown{t.Context(), left}, strings.Fields("shot align k.dossier metal1 bare --json"+dieMarks), &stdout, &stderr)
		if status == exitDone && n > 3 {
			t.Fatalf("done after %d looks: look for an end earlier", n)
		}
		if status != exitFailed || !strings.Contains(stderr.String(), "interrupted") || stdout.Len() > 0 {
			t.Errorf("after %d looks: %d, %q, %q", n, status, stdout.String(), stderr.String())
		}
	}
	if after := must(t, "history k.dossier"); after != before || strings.Contains(must(t, "shot list k.dossier"), "registered") {
		t.Error("something was stored:\n" + after)
	}
}
