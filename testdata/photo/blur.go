package photo

import "math"

// gaussian returns the weights of a Gaussian of sigma px; their sum is 1, their number odd.
func gaussian(sigma float64) []float32 {
	n := int(3*sigma + 1)
	weights, sum := make([]float64, 2*n+1), 0.0
	for i := range weights {
		weights[i] = math.Exp(-float64((i-n)*(i-n)) / (2 * sigma * sigma))
		sum += weights[i]
	}
	kernel := make([]float32, len(weights))
	for i, v := range weights {
		kernel[i] = float32(v / sum)
	}
	return kernel
}

// blurrer blurs pictures of w × h pixels.
type blurrer struct {
	w, h int
	tmp  []float32
}

// blur replaces m by what a kernel makes of it, first along rows, then across them. Beyond the rim it is as it is there.
func (b *blurrer) blur(m, kernel []float32) {
	n := len(kernel) / 2
	for y := range b.h {
		src, dst := m[y*b.w:(y+1)*b.w], b.tmp[y*b.w:(y+1)*b.w]
		for x := range dst {
			v := float32(0)
			if x >= n && x+n < b.w {
				for k, s := range src[x-n : x+n+1] {
					v += kernel[k] * s
				}
			} else {
				for k, weight := range kernel {
					v += weight * src[min(b.w-1, max(0, x+k-n))]
				}
			}
			dst[x] = v
		}
	}
	for y := range b.h {
		dst := m[y*b.w : (y+1)*b.w]
		clear(dst)
		for k, weight := range kernel {
			from := min(b.h-1, max(0, y+k-n))
			for x, s := range b.tmp[from*b.w : (from+1)*b.w] {
				dst[x] += weight * s
			}
		}
	}
}
