//go:build unix

package main

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"time"

	"github.com/creack/pty"
)

// foot is the last line of the screen.
func (x *xterm) foot() string {
	lines := strings.Split(strings.TrimRight(x.screen(), "\n"), "\n")
	return lines[len(lines)-1]
}

// point moves the mouse to a cell, and returns the place that the foot shows then.
func (x *xterm) point(column, row int) (p [2]float64) {
	x.t.Helper()
	before := placeShown.FindString(x.foot())
	x.mouse(mouseMove, column, row)
	x.until("another place", func() bool {
		m := placeShown.FindStringSubmatch(x.foot())
		if m == nil || m[0] == before {
			return false
		}
		p[0], _ = strconv.ParseFloat(m[1], 64)
		p[1], _ = strconv.ParseFloat(m[2], 64)
		return true
	})
	return p
}

// cell is the cell whose middle is next to a place of the die: the view maps one to the other linearly.
func (x *xterm) cell(place string) (column, row int) {
	x.t.Helper()
	var v [2]float64
	if _, err := fmt.Sscanf(place, "%f,%f", &v[0], &v[1]); err != nil {
		x.t.Fatalf("%q is no place: %v", place, err)
	}
	const c0, r0, far = 6, 4, 20
	x.idle(300 * time.Millisecond)
	x.point(c0+1, r0+1) // the pointer may be at the first of the next ones
	o, a, b := x.point(c0, r0), x.point(c0+far, r0), x.point(c0, r0+far)
	ax, ay, bx, by := a[0]-o[0], a[1]-o[1], b[0]-o[0], b[1]-o[1]
	det := ax*by - ay*bx
	dx, dy := v[0]-o[0], v[1]-o[1]
	return c0 + int(math.Round(far*(dx*by-dy*bx)/det)), r0 + int(math.Round(far*(ax*dy-ay*dx)/det))
}

// shot is what the display shows, without what lies beside the emulator.
func (x *xterm) shot() image.Image {
	x.t.Helper()
	x.settle()
	c := exec.Command("import", "-window", "root", "png:-")
	c.Env = append(os.Environ(), "DISPLAY="+x.display)
	out, err := c.Output()
	if err != nil {
		x.t.Fatalf("import: %v", err)
	}
	size, err := pty.GetsizeFull(x.f)
	if err != nil {
		x.t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(out))
	if err != nil {
		x.t.Fatal(err)
	}
	return img.(interface {
		SubImage(image.Rectangle) image.Image
	}).SubImage(image.Rect(0, 0, int(size.X)+8, int(size.Y)+8))
}
