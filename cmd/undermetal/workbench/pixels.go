package workbench

import (
	"fmt"
	"image"

	"undermetal/cmd/undermetal/workbench/graphics"
)

// kittyID is the number of the picture in the terminal's memory.
const kittyID = 1

// The cursor is kept before a picture and brought back behind it (DECSC, DECRC), so that the screen's own is where it was.
const (
	keepCursor  = "\x1b7"
	bringCursor = "\x1b8"
)

// goTo puts the cursor on a cell.
func goTo(d *drawn, x, y int) { fmt.Fprintf(&d.bytes, "\x1b[%d;%dH", y+1, x+1) }

// sendKitty writes the picture for a terminal with the kitty protocol, which scales it to its cells.
func (r *renderer) sendKitty(d *drawn) error {
	m := &d.manner
	d.bytes.WriteString(keepCursor)
	goTo(d, m.left, m.above)
	err := r.kitty.Show(&d.bytes, r.img, kittyID, m.columns, m.rows)
	d.bytes.WriteString(bringCursor)
	return err
}

// sendSixel writes the picture as sixels, in parts no larger than the terminal shows: whole cells of columns, and as many rows of
// cells as end with a band of sixels, so that no part reaches into the next.
func (r *renderer) sendSixel(d *drawn) error {
	m := &d.manner
	d.bytes.WriteString(keepCursor)
	for _, part := range sixelParts(m) {
		box := image.Rect(part.x*m.cell.X, part.y*m.cell.Y, (part.x+part.w)*m.cell.X, (part.y+part.h)*m.cell.Y)
		box.Max.Y -= box.Dy() % graphics.SixelBand // at the lower end only; what is left is background
		goTo(d, m.left+part.x, m.above+part.y)
		own := image.RGBA{Pix: r.img.Pix[r.img.PixOffset(box.Min.X, box.Min.Y):], Stride: r.img.Stride, Rect: image.Rect(0, 0, box.Dx(), box.Dy())}
		if err := r.sixel.Show(&d.bytes, &own); err != nil {
			return err
		}
	}
	d.bytes.WriteString(bringCursor)
	return nil
}

// sixelParts divides the cells of a picture.
func sixelParts(m *manner) (parts []rect) {
	wide := max(1, m.most.X/m.cell.X)
	high := max(graphics.SixelBand, m.most.Y/m.cell.Y/graphics.SixelBand*graphics.SixelBand)
	for y := 0; y < m.rows; y += high {
		for x := 0; x < m.columns; x += wide {
			parts = append(parts, rect{x, y, min(wide, m.columns-x), min(high, m.rows-y)})
		}
	}
	return parts
}

// erasePixels is what takes a picture off the screen; sixels go with the cells that are written anew.
func erasePixels(p Pixels) string {
	if p == Kitty {
		return graphics.KittyErase(kittyID)
	}
	return ""
}
