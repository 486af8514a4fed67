package align

import "math"

// Image is a grey picture: Pix holds Width × Height samples, row by row from the top.
type Image struct {
	Width, Height int
	Pix           []float32
}

// matrix is a projective map of homogeneous pixel coordinates; (0, 0) is the outer corner of the top left pixel.
type matrix [3][3]float64

func scaling(k float64) matrix { return matrix{{k, 0, 0}, {0, k, 0}, {0, 0, 1}} }

func (m *matrix) at(x, y float64) (float64, float64) {
	w := m[2][0]*x + m[2][1]*y + m[2][2]
	return (m[0][0]*x + m[0][1]*y + m[0][2]) / w, (m[1][0]*x + m[1][1]*y + m[1][2]) / w
}

// then is m, and n after it.
func (m matrix) then(n matrix) (p matrix) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				p[i][j] += n[i][k] * m[k][j]
			}
		}
	}
	return p
}

// inverse is that of a map that is not singular, its last entry 1.
func (m matrix) inverse() (p matrix) {
	cofactor := func(i, j int) float64 {
		a, b, c, d := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
		return m[a][c]*m[b][d] - m[a][d]*m[b][c]
	}
	last := cofactor(2, 2)
	for i := range 3 {
		for j := range 3 {
			p[j][i] = cofactor(i, j) / last
		}
	}
	return p
}

// whole is m with its last entry 1.
func (m matrix) whole() matrix {
	if s := m[2][2]; s != 0 {
		for i := range m {
			for j := range m[i] {
				m[i][j] /= s
			}
		}
	}
	return m
}

// stretch is by how much m stretches lengths at a place, on the average of directions.
func (m *matrix) stretch(x, y float64) float64 {
	x0, y0 := m.at(x, y)
	x1, y1 := m.at(x+1, y)
	x2, y2 := m.at(x, y+1)
	return math.Sqrt(math.Abs((x1-x0)*(y2-y0) - (x2-x0)*(y1-y0)))
}

// halvings is a picture with the smaller ones made of it, each half as wide.
type halvings []*Image

func newHalvings(img *Image) halvings {
	h := halvings{img}
	for img.Width > 32 && img.Height > 32 {
		half := &Image{Width: img.Width / 2, Height: img.Height / 2}
		half.Pix = make([]float32, half.Width*half.Height)
		for y := range half.Height {
			up, low := img.Pix[2*y*img.Width:], img.Pix[(2*y+1)*img.Width:]
			for x := range half.Width {
				half.Pix[y*half.Width+x] = (up[2*x] + up[2*x+1] + low[2*x] + low[2*x+1]) / 4
			}
		}
		h = append(h, half)
		img = half
	}
	return h
}

// sample draws a picture of a size where from takes its pixels to those of the first of h. Outside, valid is false.
func (h halvings) sample(width, height int, from matrix) (img *Image, valid []bool) {
	img, valid = &Image{width, height, make([]float32, width*height)}, make([]bool, width*height)
	h.draw(img, valid, from)
	return img, valid
}

// draw is sample into a picture that is there; valid may be nil.
func (h halvings) draw(img *Image, valid []bool, from matrix) {
	level := 0
	for k := from.stretch(float64(img.Width)/2, float64(img.Height)/2); k > 1.5 && level < len(h)-1; k /= 2 {
		level++
	}
	src := h[level]
	from = from.then(scaling(math.Ldexp(1, -level)))
	w, ht := float64(src.Width)-1, float64(src.Height)-1
	m00, m10, m20 := from[0][0], from[1][0], from[2][0]
	for y := range img.Height {
		py := float64(y) + 0.5
		u0, v0, w0 := from[0][1]*py+from[0][2], from[1][1]*py+from[1][2], from[2][1]*py+from[2][2]
		at := func(x int) (float64, float64) {
			px := float64(x) + 0.5
			over := 1 / (m20*px + w0)
			return (m00*px+u0)*over - 0.5, (m10*px+v0)*over - 0.5
		}
		row := img.Pix[y*img.Width : (y+1)*img.Width]
		inside := m20*0.5+w0 > 0 && m20*(float64(img.Width)-0.5)+w0 > 0 // all of the row, where both its ends are
		for _, x := range []int{0, img.Width - 1} {
			const margin = 1e-6
			sx, sy := at(x)
			inside = inside && sx > margin && sy > margin && sx < w-margin && sy < ht-margin
		}
		for x := range row {
			sx, sy := at(x)
			if !inside {
				if !(sx >= -0.5 && sy >= -0.5 && sx <= w+0.5 && sy <= ht+0.5) {
					continue
				}
				sx, sy = min(max(sx, 0), w), min(max(sy, 0), ht) // in the outer half of the outermost pixels
			}
			ix, iy := min(int(sx), src.Width-2), min(int(sy), src.Height-2)
			fx, fy := float32(sx-float64(ix)), float32(sy-float64(iy))
			i := iy*src.Width + ix
			p, q := src.Pix[i:i+2], src.Pix[i+src.Width:][:2]
			row[x] = (p[0]*(1-fx)+p[1]*fx)*(1-fy) + (q[0]*(1-fx)+q[1]*fx)*fy
			if valid != nil {
				valid[y*img.Width+x] = true
			}
		}
	}
}
