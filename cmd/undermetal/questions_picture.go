package main

import (
	"fmt"
	"image"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/recognise/question"
)

// picturePixels is how wide a picture of a place is; of two photographs side by side each has this width.
const picturePixels = 900

// drawPlace draws the place of a question and says what the picture shows: the photographs that show it with the tracing over
// them, two of them beside each other where two are registered, or the tracing alone.
func (f *questionsFlags) drawPlace(c *cobra.Command, a *asking, q *question.Question, dos *dossier.Dossier) (string, error) {
	if ending := filepath.Ext(f.picture); f.picture != "-" && ending != "" && !strings.EqualFold(ending, ".png") {
		return "", usagef("--picture %s: only PNG is written: give a name that ends in .png", f.picture)
	}
	v, err := f.viewOf(a, q, dos)
	if err != nil {
		return "", err
	}
	img, err := v.render(c.Context(), false)
	if err != nil {
		return "", err
	}
	if err := writeTo(c, f.picture, func(w io.Writer) error { return png.Encode(w, img) }); err != nil {
		return "", err
	}
	return fmt.Sprintf("%s: %d × %d px: %s", f.picture, img.Rect.Dx(), img.Rect.Dy(), v.describe()), nil
}

// viewOf chooses what is to be drawn.
func (f *questionsFlags) viewOf(a *asking, q *question.Question, dos *dossier.Dossier) (*view, error) {
	if dos == nil {
		if _, err := os.Stat(f.picture); f.picture != "-" && err == nil && !f.force {
			return nil, fmt.Errorf("%s is there already, and is left alone\n    give another name, or --force to replace it", f.picture)
		}
		return bareView(a, q), nil
	}
	if err := mayReplace(dos, f.picture, f.force); err != nil {
		return nil, err
	}
	if a.d.top != a.d.lib.Cells[0] { // places are those of a cell, and no photograph shows it at these
		return bareView(a, q), nil
	}
	shots, err := showing(dos, q)
	if err != nil || len(shots) == 0 {
		return bareView(a, q), err
	}
	around := sceneOf(a, q)
	middle := geom.Vec{X: float64(around.Min.X+around.Max.X) / 2, Y: float64(around.Min.Y+around.Max.Y) / 2}
	show := &showFlags{at: fmt.Sprintf("%.3f,%.3f", um(middle.X), um(middle.Y)), width: fmt.Sprintf("%.3f", um(float64(around.Width()))), pixels: picturePixels, shapes: true}
	if len(shots) > 1 {
		show.with, show.beside, show.pixels = shots[1].Name, true, 2*picturePixels
	}
	v, err := newView(dos, shots[0].Shot, show)
	if err == nil {
		v.lib, v.mark = a.d.lib, &q.Box
	}
	return v, err
}

// showing returns the photographs that show the place of a question, two at most and both registered where there are two: first
// those that it was traced over.
func showing(dos *dossier.Dossier, q *question.Question) ([]*dossier.Located, error) {
	shots, err := dos.Shots()
	if err != nil {
		return nil, err
	}
	var over, others []*dossier.Located
	for i := range shots {
		l, err := dos.Locate(&shots[i])
		if err != nil {
			return nil, err
		}
		middle := geom.Vec{X: float64(q.Box.Min.X+q.Box.Max.X) / 2, Y: float64(q.Box.Min.Y+q.Box.Max.Y) / 2}
		if l.ToFrame == nil || !l.Inside(l.FromFrame.Apply(middle)) {
			continue
		}
		if slices.Contains(q.Shots, l.Name) {
			over = append(over, l)
		} else {
			others = append(others, l)
		}
	}
	all := append(over, others...)
	if len(all) == 0 {
		return nil, nil
	}
	for _, l := range all[1:] {
		if all[0].Registration != nil && l.Registration != nil {
			return []*dossier.Located{all[0], l}, nil
		}
	}
	return all[:1], nil
}

// sceneOf returns the part of the frame to draw: the structure and as much again around it, 4 : 3; around a place without extent
// forty of the smallest features, or 10 µm.
func sceneOf(a *asking, q *question.Question) geom.Rect {
	least := 10000
	if nm := a.d.stack.Process.MinFeatureNm; nm > 0 {
		least = int(40 * nm)
	}
	w := max(2*q.Box.Width(), 2*q.Box.Height()*4/3, least)
	h := w * 3 / 4
	x, y := (q.Box.Min.X+q.Box.Max.X)/2, (q.Box.Min.Y+q.Box.Max.Y)/2
	return geom.Box(x-w/2, y-h/2, x-w/2+w, y-h/2+h)
}

// bareView is a view of the tracing alone, on white.
func bareView(a *asking, q *question.Question) *view {
	scene := sceneOf(a, q)
	v := &view{f: &showFlags{shapes: true}, lib: a.d.lib, top: a.d.top, mark: &q.Box, width: picturePixels, height: picturePixels * 3 / 4, k: 1}
	k := float64(scene.Width()) / float64(v.width) // nm a pixel of the picture, which is one of a photograph that nobody took
	toFrame, err := register.ParseMap(register.Affine, []float64{k, 0, float64(scene.Min.X), 0, -k, float64(scene.Max.Y)})
	if err != nil {
		panic("questions: " + err.Error()) // k is above 0
	}
	fromFrame, err := toFrame.Inverse()
	if err != nil {
		panic("questions: " + err.Error())
	}
	v.p = &dossier.Located{Shot: &dossier.Shot{Name: "the tracing alone"}, Width: float64(v.width), Height: float64(v.height), ToFrame: toFrame, FromFrame: fromFrame}
	return v
}

// markPlace draws a frame around what a picture is about: white within black, a little away from it.
func (v *view) markPlace(img *image.RGBA) {
	if v.mark == nil {
		return
	}
	s := v.sight()
	box := geom.EmptyRect()
	for _, pt := range v.mark.Ring() {
		x, y := s.at(pt)
		box = box.Union(geom.Rect{Min: geom.Vec{X: x, Y: y}.Round(), Max: geom.Vec{X: x, Y: y}.Round()})
	}
	const away = 12
	strip := func(by int, c [3]uint8) {
		r := image.Rect(box.Min.X-by, box.Min.Y-by, box.Max.X+by+1, box.Max.Y+by+1)
		for x := r.Min.X; x < r.Max.X; x++ {
			setPixel(img, x, r.Min.Y, c)
			setPixel(img, x, r.Max.Y-1, c)
		}
		for y := r.Min.Y; y < r.Max.Y; y++ {
			setPixel(img, r.Min.X, y, c)
			setPixel(img, r.Max.X-1, y, c)
		}
	}
	for i, c := range [][3]uint8{{}, {}, {255, 255, 255}, {255, 255, 255}, {}, {}} {
		strip(away+i, c)
	}
}

func setPixel(img *image.RGBA, x, y int, c [3]uint8) {
	if (image.Point{X: x, Y: y}).In(img.Rect) {
		i := img.PixOffset(x, y)
		copy(img.Pix[i:i+4], []uint8{c[0], c[1], c[2], 255})
	}
}
