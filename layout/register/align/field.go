package align

import "math"

// field is what is compared of a picture: at each pixel, a complex number whose argument is twice the direction of the
// gradient, and whose length says how clear an edge is there, from 0 to 1. The double angle makes a bright shape and a
// dark one of the same outline alike, so that contrast may be reversed; the length saturates, so that the edge of bright
// metal does not outweigh faint ones that both pictures show.
type field struct {
	width, height int
	v             []complex64
	valid         []bool
}

// clearAt is where the length is a half, as a part of the mean gradient.
const clearAt = 0.15

// newField finds the edges of a picture, where it is valid.
func newField(img *Image, valid []bool) *field { return edges(img, valid, clearAt) }

// edges is newField where an edge's length is a half at so many mean gradients.
func edges(img *Image, valid []bool, clearAt float64) *field {
	w, h := img.Width, img.Height
	f := &field{w, h, make([]complex64, w*h), make([]bool, w*h)}
	smooth := gauss(img.Pix, w, h)
	size := make([]float32, w*h)
	all, n := 0.0, 0
	for y := 2; y < h-2; y++ {
		for x := 2; x < w-2; x++ {
			i := y*w + x
			if valid != nil && !(valid[i-2*w-2] && valid[i-2*w+2] && valid[i+2*w-2] && valid[i+2*w+2] && valid[i-2] && valid[i+2] && valid[i-2*w] && valid[i+2*w]) {
				continue
			}
			f.valid[i] = true
			gx, gy := smooth[i+1]-smooth[i-1], smooth[i+w]-smooth[i-w]
			f.v[i] = complex(gx*gx-gy*gy, 2*gx*gy)
			size[i] = float32(math.Sqrt(float64(gx*gx + gy*gy)))
			all += float64(size[i])
			n++
		}
	}
	clear := float32(clearAt * all / float64(max(1, n)))
	for i, ok := range f.valid {
		if !ok {
			continue
		}
		if m := size[i]; m > 0 {
			f.v[i] *= complex(1/(m*(m+clear)), 0)
		}
	}
	return f
}

// gauss smooths with a Gaussian of one pixel.
func gauss(src []float32, w, h int) []float32 {
	const k0, k1, k2, k3 = 0.39905, 0.24204, 0.05400, 0.00443
	across, down := make([]float32, len(src)), make([]float32, len(src))
	pass := func(dst, src []float32, i, n, at, step int) {
		g := func(d int) float32 {
			j := i + d
			return src[at+(min(n-1, max(0, j))-i)*step]
		}
		dst[at] = k0*g(0) + k1*(g(-1)+g(1)) + k2*(g(-2)+g(2)) + k3*(g(-3)+g(3))
	}
	for y := range h {
		for x := range w {
			at := y*w + x
			if x >= 3 && x < w-3 {
				s := src[at-3 : at+4]
				across[at] = k0*s[3] + k1*(s[2]+s[4]) + k2*(s[1]+s[5]) + k3*(s[0]+s[6])
			} else {
				pass(across, src, x, w, at, 1)
			}
		}
	}
	for y := range h {
		for x := range w {
			at := y*w + x
			if y >= 3 && y < h-3 {
				down[at] = k0*across[at] + k1*(across[at-w]+across[at+w]) + k2*(across[at-2*w]+across[at+2*w]) + k3*(across[at-3*w]+across[at+3*w])
			} else {
				pass(down, across, y, h, at, w)
			}
		}
	}
	return down
}

// localMean is the mean over the valid ones of (2r+1)² pixels around each.
func localMean(v []float32, valid []bool, w, h, r int) (mean []float32) {
	sum, count := make([]float64, (w+1)*(h+1)), make([]int32, (w+1)*(h+1))
	for y := range h {
		row, n := 0.0, int32(0)
		for x := range w {
			i := y*w + x
			if valid[i] {
				row += float64(v[i])
				n++
			}
			j := (y+1)*(w+1) + x + 1
			sum[j], count[j] = sum[j-w-1]+row, count[j-w-1]+n
		}
	}
	mean = make([]float32, w*h)
	for y := range h {
		y0, y1 := max(0, y-r)*(w+1), min(h, y+r+1)*(w+1)
		for x := range w {
			x0, x1 := max(0, x-r), min(w, x+r+1)
			if n := count[y1+x1] - count[y1+x0] - count[y0+x1] + count[y0+x0]; n > 0 {
				mean[y*w+x] = float32((sum[y1+x1] - sum[y1+x0] - sum[y0+x1] + sum[y0+x0]) / float64(n))
			}
		}
	}
	return mean
}

// subtractMean takes away what the field is in the mean within r px: that many edges here run one way, as rails and gates
// do, says nothing of where they are.
func (f *field) subtractMean(r int) {
	re, im := make([]float32, len(f.v)), make([]float32, len(f.v))
	for i, v := range f.v {
		re[i], im[i] = real(v), imag(v)
	}
	meanRe, meanIm := localMean(re, f.valid, f.width, f.height, r), localMean(im, f.valid, f.width, f.height, r)
	for i, ok := range f.valid {
		if ok {
			f.v[i] -= complex(meanRe[i], meanIm[i])
		}
	}
}

// flat are the edges that run along the axes, upright ones positive and level ones negative, without what is so in the mean
// around, and 1 where it is valid.
func (f *field) flat() (v []float32, valid []float32) {
	re := make([]float32, len(f.v))
	for i, c := range f.v {
		re[i] = real(c)
	}
	mean := localMean(re, f.valid, f.width, f.height, 12)
	valid = make([]float32, len(f.v))
	for i, ok := range f.valid {
		if ok {
			re[i] -= mean[i]
			valid[i] = 1
		} else {
			re[i] = 0
		}
	}
	return re, valid
}
