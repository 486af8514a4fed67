package shot

import (
	"image"
	"image/draw"
	"math"
	"strconv"
)

// TickStep returns how many pixels of a photograph lie from one tick to the next where they are to lie at least so many
// apart: 1, 2 or 5 times a power of ten, at least 1.
func TickStep(least float64) int {
	for ten := 1; ; ten *= 10 {
		for _, k := range []int{1, 2, 5} {
			if float64(k*ten) >= least || ten >= MaxSide {
				return k * ten
			}
		}
	}
}

// DrawTicks draws marks with the coordinates of the photograph's pixels along the top and the left edge of a view that
// begins at (x0, y0) of a photograph of width × height pixels and shows k of them in a pixel of its own, with shorter marks
// between them. It returns the
// part of the view that the marks leave free, for whatever else is to be drawn over it.
func DrawTicks(dst *image.RGBA, x0, y0, k float64, width, height int) *image.RGBA {
	r := dst.Bounds()
	size := max(9, textSize(r)*3/4)
	text := newPen(dst, size)
	defer text.close()
	mark := max(3, size/3) // long
	last := strconv.Itoa(max(width, height))
	left, top := text.width(last)+2*mark, size+2*mark
	shade(dst, image.Rect(r.Min.X, r.Min.Y, r.Max.X, r.Min.Y+top))
	shade(dst, image.Rect(r.Min.X, r.Min.Y+top, r.Min.X+left, r.Max.Y))
	step := TickStep(float64(text.width(last)+size) * k)
	drawMarks(dst, left, top, mark/2, TickStep(float64(step)/5.01), x0, y0, k, width, height)
	for _, v := range ticks(x0, float64(r.Dx())*k, width, step) {
		x, label := r.Min.X+int(math.Round((float64(v)-x0)/k)), strconv.Itoa(v)
		if half := text.width(label)/2 + 1; x-half < r.Min.X+left || x+half > r.Max.X {
			continue // it would lie on those of the other edge, or be cut
		}
		white(dst, image.Rect(x, r.Min.Y+top-mark, x+1, r.Min.Y+top))
		text.write(x-text.width(label)/2, r.Min.Y+top-mark-mark/2, label)
	}
	for _, v := range ticks(y0, float64(r.Dy())*k, height, step) {
		y, label := r.Min.Y+int(math.Round((float64(v)-y0)/k)), strconv.Itoa(v)
		if y-size/2 < r.Min.Y+top || y+size/2 > r.Max.Y {
			continue
		}
		white(dst, image.Rect(r.Min.X+left-mark, y, r.Min.X+left, y+1))
		text.write(r.Min.X+left-mark-mark/2-text.width(label), y+size*2/5, label)
	}
	return dst.SubImage(image.Rect(r.Min.X+left, r.Min.Y+top, r.Max.X, r.Max.Y)).(*image.RGBA)
}

// drawMarks draws marks of a length at the multiples of step.
func drawMarks(dst *image.RGBA, left, top, long, step int, x0, y0, k float64, width, height int) {
	r := dst.Bounds()
	for _, v := range ticks(x0, float64(r.Dx())*k, width, step) {
		if x := r.Min.X + int(math.Round((float64(v)-x0)/k)); x >= r.Min.X+left {
			white(dst, image.Rect(x, r.Min.Y+top-long, x+1, r.Min.Y+top))
		}
	}
	for _, v := range ticks(y0, float64(r.Dy())*k, height, step) {
		if y := r.Min.Y + int(math.Round((float64(v)-y0)/k)); y >= r.Min.Y+top {
			white(dst, image.Rect(r.Min.X+left-long, y, r.Min.X+left, y+1))
		}
	}
}

// ticks returns the multiples of step from a place on, within a length, that lie on a side so long.
func ticks(from, length float64, side, step int) (all []int) {
	first := max(0, int(math.Ceil(from/float64(step)))) * step
	for v := first; float64(v) <= from+length && v <= side; v += step {
		all = append(all, v)
	}
	return all
}

func white(dst *image.RGBA, r image.Rectangle) {
	draw.Draw(dst, r, image.White, image.Point{}, draw.Src)
}
