package measure

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist/extract"
)

// turned returns a drawing turned counterclockwise, so that what hands make of it lies on no grid.
func (s *sheet) turned(degrees float64) *layout.Cell {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	out := &layout.Cell{Name: "TOP"}
	for _, sh := range s.cell.Shapes {
		pg := make(geom.Polygon, len(sh.Polygon))
		for k, ring := range sh.Polygon {
			r := make(geom.Ring, len(ring))
			for i, p := range ring {
				x, y := float64(p.X), float64(p.Y)
				r[i] = geom.Vec{X: cos*x - sin*y, Y: sin*x + cos*y}.Round()
			}
			pg[k] = r
		}
		out.Shapes = append(out.Shapes, layout.Shape{Layer: sh.Layer, Polygon: pg})
	}
	return out
}

// mesh draws a gate with openings 4 wide, its bars 1 wide, in one polygon or of bars, over a diffusion that ends out from the outermost
// openings, or within them by -out. A plate of metal joins all openings.
func (s *sheet) mesh(columns, rows int, out float64, bars bool) {
	wide, tall := float64(5*columns-1), float64(5*rows-1)
	s.box("diffusion", -out, -out, wide+out, tall+out)
	s.box("metal1", 0, 0, wide, tall)
	rings := [][]float64{{-2, -2, wide + 2, -2, wide + 2, tall + 2, -2, tall + 2}}
	for c := range columns {
		for r := range rows {
			x, y := float64(5*c), float64(5*r)
			rings = append(rings, []float64{x, y, x, y + 4, x + 4, y + 4, x + 4, y})
			s.box("contact", x+1.5, y+1.5, x+2.5, y+2.5)
		}
	}
	if !bars {
		s.add("poly", rings...)
		return
	}
	for c := range columns + 1 {
		s.box("poly", float64(5*c-1), -2, float64(5*c), tall+2)
	}
	for r := range rows + 1 {
		s.box("poly", -2, float64(5*r-1), wide+2, float64(5*r))
	}
}

// comb draws a gate with teeth 1 wide and 4 long, all within the diffusion.
func (s *sheet) comb(teeth int) {
	s.box("diffusion", -2, -2, float64(2*teeth+2), 8)
	xy := []float64{-1, 0, float64(2 * teeth), 0, float64(2 * teeth), 1}
	for k := teeth - 1; k >= 0; k-- {
		x := float64(2 * k)
		xy = append(xy, x+1, 1, x+1, 5, x, 5, x, 1)
	}
	s.add("poly", append(xy, -1, 1))
}

// meander draws a gate that runs up and down over a diffusion, so that source and drain are combs.
func (s *sheet) meander(legs int) {
	s.box("diffusion", 0, -3, float64(2*legs+1), 8)
	low := []float64{-1, 0}
	var high []float64
	for k := range legs {
		x := float64(2*k + 1)
		if k%2 == 0 {
			low, high = append(low, x+1, 0, x+1, 4), append(high, x, 1, x, 5)
			if k == legs-1 {
				low, high = append(low, float64(2*legs+2), 4), append(high, float64(2*legs+2), 5)
			}
		} else {
			low, high = append(low, x, 4, x, 0), append(high, x+1, 5, x+1, 1)
			if k == legs-1 {
				low, high = append(low, float64(2*legs+2), 0), append(high, float64(2*legs+2), 1)
			}
		}
	}
	xy := low
	for i := len(high) - 2; i >= 0; i -= 2 {
		xy = append(xy, high[i], high[i+1])
	}
	s.add("poly", append(xy, -1, 1))
}

// TestMeshHands: many hands trace what has many corners: meshes of openings and of bars, a comb and a meander, turned by 1.7°. Each hand
// draws each edge off by σ, the edges of a layer off alike by a bias, and each layer over a photograph whose scale is off. W and L
// lie within twice the stated uncertainty of what they are by hand as often as normal errors do, 95.45 %; of n hands that
// is known to √(0.9545·0.0455/n), and three times that is allowed; with UNDERMETAL_FULL, of 1,000 hands, 93 to 97 %. Their mean square, in σ²,
// is 1 to 3·√(2/n).
func TestMeshHands(t *testing.T) {
	const unit = 1000
	hands, low, high := 60, 0.9545-3*math.Sqrt(0.9545*0.0455/60), 1.0
	if os.Getenv("UNDERMETAL_FULL") != "" {
		hands, low, high = 1000, 0.93, 0.97
	}
	v := vary{edge: 40, bias: map[string]float64{"poly": 4, "diffusion": 12}, scale: map[string]float64{"poly": 0.002, "diffusion": 0.003}}
	for _, x := range []struct {
		name string
		draw func(*sheet)
		w, l float64 // µm, by hand
	}{
		// 12 openings of 16 µm and 16 µm² in 21 × 16 µm; W is half of all their sides
		{"mesh", func(s *sheet) { s.mesh(4, 3, 1, false) }, 12 * 16 / 2., (21*16 - 12*16) / 96.},
		// Of the openings 3, 4, 4 and 3 µm by 3, 4 and 3 µm lie within: six edges of 10 µm and four of 14 µm; in 17 × 12 µm
		{"mesh to beyond the diffusion", func(s *sheet) { s.mesh(4, 3, -1, false) }, (6*10 + 4*14) / 2., (17*12 - 14*10) / 58.},
		{"mesh of bars", func(s *sheet) { s.mesh(4, 3, .5, true) }, 96, (20*15 - 12*16) / 96.},
		// one closed stretch of border counts whole: around a bar of 17 × 1 µm, and along both sides of 8 teeth of 4 × 1 µm
		{"comb", func(s *sheet) { s.comb(8) }, 2*(17+1) + 8*2*4, (17 + 8*4) / 100.},
		// 5 legs of 5 µm², and 6 µm² beside them; both sides are 31 µm long: 5·4 up and down, and 11 across
		{"meander", func(s *sheet) { s.meander(5) }, 5*4 + 11, 1},
	} {
		s := newSheet(t, unit)
		x.draw(s)
		s.cell = s.turned(1.7)
		size := func(top *layout.Cell) (*extract.Result, Size) {
			lib := &layout.Library{Layers: s.st.LayerNames(), Cells: []*layout.Cell{top}}
			res, err := extract.Run(t.Context(), lib, top, s.st, extract.Options{Workers: 1, Outlines: true})
			if err != nil || len(res.Circuit.Devices) != 1 {
				t.Fatalf("%s: %v, %+v", x.name, err, res)
			}
			from := Sources{Origin: func(sh *layout.Shape) Origin { return Origin{v.edge, int(sh.Layer)} }, Scales: make([]float64, len(s.st.Layers))}
			for l, name := range s.st.LayerNames() {
				from.Scales[l] = v.scale[name]
			}
			from.Bias = func(_ int, l layout.Layer) Bias { return Bias{SigmaNm: v.bias[s.st.LayerNames()[l]]} }
			return res, Sizes(res, s.st, from, nil)[0]
		}
		res, _ := size(s.cell)
		within(t, x.name+": W as drawn", res.Circuit.Devices[0].W, x.w*unit, 1e-3)
		within(t, x.name+": L as drawn", res.Circuit.Devices[0].L, x.l*unit, 2e-3)
		rnd := rand.New(rand.NewPCG(7, uint64(len(x.name))))
		in, square, stated := [2]int{}, [2]float64{}, [2]float64{}
		for range hands {
			res, s := size(v.redrawn(s, rnd, s.cell.Shapes[0].Polygon.Bounds().Min))
			d := &res.Circuit.Devices[0]
			for k, e := range [2]float64{(d.W - x.w*unit) / s.W.Combined(), (d.L - x.l*unit) / s.L.Combined()} {
				square[k] += e * e / float64(hands)
				stated[k] += [2]Sigma{s.W, s.L}[k].Combined() / float64(hands)
				if math.Abs(e) <= 2 {
					in[k]++
				}
			}
		}
		for k, name := range [2]string{"W", "L"} {
			part := float64(in[k]) / float64(hands)
			t.Logf("%s, %s = %.3f µm: σ %.0f nm; %.1f %% of %d within 2 σ, mean square %.2f σ²", x.name, name, [2]float64{x.w, x.l}[k], stated[k], 100*part, hands, square[k])
			if part < low || part > high || math.Abs(square[k]-1) > 3*math.Sqrt(2/float64(hands)) {
				t.Errorf("%s, %s: %.1f %% of %d within 2 σ, mean square %.2f σ²", x.name, name, 100*part, hands, square[k])
			}
		}
	}
}
