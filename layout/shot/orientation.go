package shot

// Orientation is the EXIF orientation: which corner of the upright picture the stored one begins in.
type Orientation int

// The orientations, by where the first stored row and the first stored column lie in the upright picture.
// Source: Exif 2.32, tag 0x0112, and TIFF 6.0, tag 274 (from memory).
const (
	TopLeft     Orientation = 1 // upright as stored
	TopRight    Orientation = 2 // mirrored left to right
	BottomRight Orientation = 3 // turned by 180°
	BottomLeft  Orientation = 4 // mirrored top to bottom
	LeftTop     Orientation = 5 // mirrored about the main diagonal
	RightTop    Orientation = 6 // to be turned by 90° clockwise
	RightBottom Orientation = 7 // mirrored about the other diagonal
	LeftBottom  Orientation = 8 // to be turned by 90° anticlockwise
)

// Valid reports whether o is one of the eight.
func (o Orientation) Valid() bool { return o >= TopLeft && o <= LeftBottom }

// Transposes reports whether width and height change places.
func (o Orientation) Transposes() bool { return o >= LeftTop }

// Upright returns the size of the upright picture of a stored one.
func (o Orientation) Upright(width, height int) (w, h int) {
	if o.Transposes() {
		return height, width
	}
	return width, height
}

// Stored returns the stored pixel that shows at (x, y) of the upright picture; width and height are the stored ones.
func (o Orientation) Stored(x, y, width, height int) (sx, sy int) {
	return turned(o, x, y, width-1, height-1)
}

// StoredPoint is Stored for points: pixel (0, 0) reaches from (0, 0) to (1, 1).
func (o Orientation) StoredPoint(x, y, width, height float64) (sx, sy float64) {
	return turned(o, x, y, width, height)
}

// turned returns the stored place of an upright one, where stored places run from 0 to right and to bottom.
func turned[T int | float64](o Orientation, x, y, right, bottom T) (sx, sy T) {
	if o.Transposes() {
		x, y = y, x
	}
	switch o {
	case TopRight, BottomRight, LeftBottom, RightBottom:
		x = right - x
	}
	switch o {
	case BottomRight, BottomLeft, RightTop, RightBottom:
		y = bottom - y
	}
	return x, y
}
