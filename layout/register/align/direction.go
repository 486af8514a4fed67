package align

import (
	"math"
	"slices"
)

// directions are how much the edges of a picture are turned against its axes, in radians, -π/4 to π/4: what is drawn on a
// die mostly runs in two directions that are square to each other. There are up to three of them, the likeliest first: a
// wire across the picture may be taken for it.
//
// It is the direction that is most frequent together with the one square to it, each by how much more frequent it is
// than usual; then the mean of what lies near. A wire across the picture has one direction only. Each block of the
// picture counts the same.
func (h halvings) directions() (found []float64) {
	weights := h[0].histogram()
	around := func(c, width float64) (mean, weight float64) { // by a triangle
		for i := -int(width) - 1; i <= int(width)+1; i++ {
			k := int(math.Floor(c)) + i
			d := float64(k) + 0.5 - c
			if w := 1 - math.Abs(d)/width; w > 0 {
				w *= weights[(k+4*quarter)%(2*quarter)]
				mean, weight = mean+w*d, weight+w
			}
		}
		return mean / max(weight, 1e-12), weight
	}
	const width = 10
	var usual [2]float64 // what is in a triangle on the average, for either direction
	for i, w := range weights {
		usual[i/quarter] += w / quarter * width
	}
	excess := func(c int) float64 {
		_, w := around(float64(c), width)
		return max(0, w-usual[c/quarter])
	}
	largest := 0.0
	for c := range 2 * quarter {
		largest = max(largest, excess(c))
	}
	const alone = 0.1 // how much one direction without the other counts
	common := make([]float64, quarter)
	for c := range quarter {
		u, v := excess(c), excess(c+quarter)
		common[c] = u*v + alone*largest*(u+v)
	}
	const apart = 12 // bins, 3 degrees
	clear := func(c int) {
		for d := -apart; d <= apart; d++ {
			common[(c+d+quarter)%quarter] = 0
		}
	}
	for len(found) < 3 {
		best := 0
		for c, v := range common {
			if v > common[best] {
				best = c
			}
		}
		if common[best] <= 0 {
			break
		}
		at := float64(best)
		for range 20 {
			u, wu := around(at, 12)
			v, wv := around(at+quarter, 12)
			at += (u*wu + v*wv) / max(wu+wv, 1e-12)
		}
		clear(best)
		clear(int(at+quarter) % quarter)
		angle := math.Remainder(at/quarter*math.Pi/2, math.Pi/2)
		near := func(other float64) bool {
			return math.Abs(math.Remainder(angle-other, math.Pi/2)) < apart*math.Pi/2/quarter
		}
		if !slices.ContainsFunc(found, near) { // it may have climbed back to one
			found = append(found, angle)
		}
	}
	if len(found) == 0 {
		return []float64{0}
	}
	return found
}

// quarter is how many bins of a histogram of directions a quarter turn has.
const quarter = 360

// histogram is that of the directions of edges over half a turn, in up to 16 tiles of a picture.
func (img *Image) histogram() (weights [2 * quarter]float64) {
	const (
		tile  = 320 // px
		most  = 4   // in a row
		clear = 1   // so that noise, which is everywhere, counts little
		near  = 3   // px; edges are straight
	)
	w, h := min(tile, img.Width), min(tile, img.Height)
	columns, rows := min(most, (img.Width+w-1)/w), min(most, (img.Height+h-1)/h)
	own := make([][2 * quarter]float64, columns*rows)
	parallel(len(own), func(i int) {
		part := &Image{w, h, make([]float32, 0, w*h)}
		x, y := (img.Width-w)*(i%columns)/max(1, columns-1), (img.Height-h)*(i/columns)/max(1, rows-1)
		for j := range h {
			at := (y+j)*img.Width + x
			part.Pix = append(part.Pix, img.Pix[at:at+w]...)
		}
		f := edges(part, nil, clear)
		f.average(near)
		f.trim(3*near + 4)
		f.count(&own[i])
	})
	for _, o := range own {
		for i, w := range o {
			weights[i] += w
		}
	}
	return weights
}

// count adds the directions of edges to a histogram. Blocks with many clear edges count about the same each, so that
// none of them decides; those with few count less: the noise in them has directions, too, and likes those of the pixels.
func (f *field) count(weights *[2 * quarter]float64) {
	const block = 32 // px
	var blocks []*[2 * quarter]float64
	var sizes []float64
	mean := 0.0
	for y := 0; y < f.height; y += block {
		for x := 0; x < f.width; x += block {
			own, all := &[2 * quarter]float64{}, 0.0
			for j := y; j < min(y+block, f.height); j++ {
				for i := j*f.width + x; i < j*f.width+min(x+block, f.width); i++ {
					re, im := float64(real(f.v[i])), float64(imag(f.v[i]))
					if size := math.Hypot(re, im); f.valid[i] && size > 0 {
						turn := math.Atan2(im, re) / math.Pi // 1 for a quarter turn of the edge
						own[int(math.Floor((turn+2)*quarter))%(2*quarter)] += size
						all += size
					}
				}
			}
			blocks, sizes, mean = append(blocks, own), append(sizes, all), mean+all
		}
	}
	mean /= float64(max(1, len(blocks)))
	for k, own := range blocks {
		for i, w := range own {
			weights[i] += w / max(sizes[k]+mean, 1e-12)
		}
	}
}

// average makes of each edge the mean of those around, by its square the clearer where these are parallel. The mean is by
// a window that is round, or nearly (three of squares): in a square one noise would be turned along its sides.
func (f *field) average(r int) {
	re, im := make([]float32, len(f.v)), make([]float32, len(f.v))
	for i, v := range f.v {
		re[i], im[i] = real(v), imag(v)
	}
	for range 3 {
		re, im = localMean(re, f.valid, f.width, f.height, r), localMean(im, f.valid, f.width, f.height, r)
	}
	for i := range f.v {
		size := re[i]*re[i] + im[i]*im[i]
		f.v[i] = complex(re[i]*size, im[i]*size)
	}
}

// trim takes away what lies within r px of the outermost pixels: the smoothing has bent it along them.
func (f *field) trim(r int) {
	for i := range f.valid {
		x, y := i%f.width, i/f.width
		f.valid[i] = f.valid[i] && x >= r && y >= r && x < f.width-r && y < f.height-r
	}
}
