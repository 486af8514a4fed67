package align

import (
	"math"
)

// A pixel's class is what it looks like: its tone, and whether an edge runs through it, and which way. Which class of one
// picture goes with which of the other is learned from the two as they lie on each other now; a map that is off by
// little is enough for that. So it needs no telling what metal or polysilicon look like: the classes that say nothing of
// the other picture, such as metal over what it hides, come to count nothing.
//
// This is mutual information (P. Viola and W. M. Wells III, Alignment by maximization of mutual information, Int. J.
// Comput. Vis. 24 (1997), from memory) of more than tones, and taken patch by patch.
const (
	tones      = 12
	ways       = 4
	clearShare = 0.5 // of the pixels have an edge: those with the largest gradients
	allClasses = tones * (1 + ways)
)

// window is a part of a picture: its tones, and the squared lengths and directions of its gradients.
type window struct {
	x, y, w, h int // px of the resolution that it is drawn at
	tone, size []float32
	way        []uint8
	classes    []uint8
}

// rim is how many more pixels a window needs on each side than it has left in the end.
const rim = 2

// newWindow is made of pixels that have a rim more on each side; x, y are those of the first pixel inside of it.
func newWindow(img *Image, x, y int) *window {
	s, row := binomial(img), img.Width
	w := &window{x: x, y: y, w: img.Width - 2*rim, h: img.Height - 2*rim}
	n := w.w * w.h
	w.tone, w.size, w.way, w.classes = make([]float32, n), make([]float32, n), make([]uint8, n), make([]uint8, n)
	for y := range w.h {
		at := (y+rim)*row + rim
		up, here, low := s[at-row:][:w.w], s[at-1:][:w.w+2], s[at+row:][:w.w]
		tone, size, way := w.tone[y*w.w:][:w.w], w.size[y*w.w:][:w.w], w.way[y*w.w:][:w.w]
		for x := range tone {
			gx, gy := here[x+2]-here[x], low[x]-up[x]
			tone[x], size[x] = here[x+1], gx*gx+gy*gy
			way[x] = wayOf(gx*gx-gy*gy, 2*gx*gy)
		}
	}
	return w
}

// wayOf is which of four ways an edge runs whose gradient has (re, im) at twice its angle: 0 where re is largest, 1 where −re
// is, 2 where im is, 3 where −im is. It is done by the numbers' bits (IEEE 754: the first is the sign, the others are in the
// order of sizes), since noise has no way that a branch could foresee.
func wayOf(re, im float32) uint8 {
	const size = 1<<31 - 1
	r, i := math.Float32bits(re), math.Float32bits(im)
	steep := (r&size - i&size) >> 31 // 1 where im is the larger one
	return uint8(steep<<1 | (r^(r^i)&-steep)>>31)
}

// binomial takes the noise of single pixels away: each becomes a mean of nine, 1 2 1 in either direction. The outermost
// pixels are wrong, but the rim is wider.
func binomial(img *Image) []float32 {
	s := img.Pix
	for _, step := range []int{1, img.Width} {
		next := make([]float32, len(s))
		to := next[step : len(s)-step]
		before, here, after := s[:len(to)], s[step:][:len(to)], s[2*step:][:len(to)]
		for i := range to {
			to[i] = (before[i] + 2*here[i] + after[i]) / 4
		}
		s = next
	}
	return s
}

// classify gives each pixel of windows its class, by ranks among all of them; light that is uneven across the picture is
// taken away first.
func classify(all []*window) {
	slow := newShading(all)
	pixels := 0
	for _, w := range all {
		pixels += len(w.tone)
	}
	const enough = 30000 // for ranks
	every := pixels/enough | 1
	var toneRanks, sizeRanks []float32
	for k, w := range all {
		for i := k % every; i < len(w.tone); i += every {
			toneRanks = append(toneRanks, w.tone[i]-slow.at(w, i))
			sizeRanks = append(sizeRanks, w.size[i])
		}
	}
	if len(toneRanks) == 0 {
		return
	}
	cuts := newCuts(toneRanks)
	middle := int((1 - clearShare) * float64(len(sizeRanks)))
	ranked(sizeRanks, []int{middle}, 0)
	clear := sizeRanks[middle]
	parallel(len(all), func(k int) {
		w := all[k]
		across, light := slow.across(w), make([]float32, w.w)
		for i := 0; i < len(w.tone); i += w.w {
			slow.row(w, i/w.w, across, light)
			for x, l := range light {
				edge := 0
				if way := 1 + int(w.way[i+x]); w.size[i+x] > clear {
					edge = way
				}
				w.classes[i+x] = cuts.class(w.tone[i+x]-l)*(1+ways) + uint8(edge)
			}
		}
	})
}

// table says how much likelier a class of b and one of a are to lie on each other than by chance: the logarithm of the
// ratio. Its rows are the classes of b.
type table [64][64]float32 // of allClasses each; 64 so that an index & 63 needs no check

// folds is how many parts windows are dealt to, by turns. What is learnt for a part is learnt from the others: a window
// would else have something in common with whatever it was laid on.
const folds = 4

// learn counts which classes lie on each other in windows of a and of b with the same middles; the tables are those for
// the parts.
func learn(as, bs []*window) (tables [folds]*table) {
	var own [folds]counts
	parallel(folds, func(f int) {
		var a, b []*window
		for k := f; k < len(bs); k += folds {
			a, b = append(a, as[k]), append(b, bs[k])
		}
		own[f] = count(a, b, 0, 0, 1)
	})
	parallel(folds, func(f int) {
		n := &counts{}
		for g := range own {
			if g != f {
				n.add(&own[g])
			}
		}
		tables[f] = n.table()
	})
	return tables
}

// counts says how often classes of a and of b lie on each other.
type counts struct {
	both [64][64]int32 // of allClasses each
	a, b [allClasses]int32
	all  int32
}

func (n *counts) add(o *counts) {
	for i := range allClasses {
		n.a[i] += o.a[i]
		n.b[i] += o.b[i]
		for j := range allClasses {
			n.both[i][j] += o.both[i][j]
		}
	}
	n.all += o.all
}

// count is for windows of a and of b with the same middles, those of b moved by a step; of the rows, every so many are
// looked at.
func count(as, bs []*window, dx, dy, every int) (n counts) {
	for k, b := range bs {
		a := as[k]
		reach := (a.w - b.w) / 2
		for y := k % every; y < b.h; y += every {
			of := b.classes[y*b.w : (y+1)*b.w]
			under := a.classes[(y+reach+dy)*a.w+reach+dx:][:len(of)]
			for x, c := range of {
				n.both[under[x]&63][c&63]++
			}
		}
	}
	for i := range allClasses {
		for j := range allClasses {
			n.a[i] += n.both[i][j]
			n.b[j] += n.both[i][j]
		}
		n.all += n.a[i]
	}
	return n
}

// table is what counts tell.
func (n *counts) table() *table {
	const few = 5 // counts that are added to either side, so that rare pairs say little
	t := &table{}
	for i := range allClasses {
		for j := range allClasses {
			both, a, b := float64(n.both[i][j]), float64(n.a[i]), float64(n.b[j])
			t[j][i] = float32(math.Log((both + few) / (a*b/float64(max(1, n.all)) + few)))
		}
	}
	return t
}

// shared is how much classes of a and b tell of each other, all in all, in nats: their mutual information, times how
// many they are (C. E. Shannon, A mathematical theory of communication, 1948).
func (n counts) shared() (sum float64) {
	for i := range allClasses {
		for _, both := range n.both[i][:allClasses] {
			sum += timesLog(both)
		}
		sum -= timesLog(n.a[i]) + timesLog(n.b[i])
	}
	return sum + timesLog(n.all)
}

// timesLog is k·ln k.
func timesLog(k int32) float64 {
	if int(k) < len(logs) {
		return logs[k]
	}
	return float64(k) * math.Log(float64(k))
}

// logs are i·ln i.
var logs = func() (v [2048]float64) {
	for i := 2; i < len(v); i++ {
		v[i] = float64(i) * math.Log(float64(i))
	}
	return v
}()

// surfaceOf says how likely a window of b, of an even width, is at each small step within one of a that is larger by reach
// on each side, which is 3 at least.
func (t *table) surfaceOf(a, b *window) surface {
	reach := (a.w - b.w) / 2
	n := 2*reach + 1
	s := surface{x: float64(b.x) + float64(b.w)/2, y: float64(b.y) + float64(b.h)/2, reach: reach, v: make([]float32, n*n)}
	for dy := range n {
		for at := 0; at < n; at += 7 { // seven at a time, since each sum waits for what was added before
			dx := min(at, n-7)
			var d0, d1, d2, d3, d4, d5, d6 float32
			for y := range b.h {
				of := b.classes[y*b.w : (y+1)*b.w]
				under := a.classes[(y+dy)*a.w+dx:]
				for i := 0; i+1 < len(of); i += 2 {
					u := (*[8]uint8)(under[i:])
					row := &t[of[i]&63]
					u1, u2, u3, u4, u5, u6 := u[1]&63, u[2]&63, u[3]&63, u[4]&63, u[5]&63, u[6]&63
					d0 += row[u[0]&63]
					d1 += row[u1]
					d2 += row[u2]
					d3 += row[u3]
					d4 += row[u4]
					d5 += row[u5]
					d6 += row[u6]
					row = &t[of[i+1]&63]
					d0 += row[u1]
					d1 += row[u2]
					d2 += row[u3]
					d3 += row[u4]
					d4 += row[u5]
					d5 += row[u6]
					d6 += row[u[7]&63]
				}
			}
			copy(s.v[dy*n+dx:], []float32{d0, d1, d2, d3, d4, d5, d6})
		}
	}
	sum := float32(0)
	for _, v := range s.v {
		sum += v
	}
	for k := range s.v {
		s.v[k] -= sum / float32(len(s.v))
	}
	return s
}
