package graphics

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"image"
	"image/png"
	"io"
)

// kittyChunk is the most of a picture that one escape code carries.
const kittyChunk = 4096

// Kitty sends pictures by the kitty graphics protocol. It uses its memory again: it is for one goroutine.
//
// Source: kitty's "Terminal graphics protocol" (an open specification; keys from memory): a=T transmit and show, f=100 PNG, C=1
// the cursor stays, q=2 no answers, i the picture's number, p that of where it is shown, c and r the cells that it fills,
// m=1 more follows.
type Kitty struct {
	plain, out bytes.Buffer
	code       []byte
}

// Show writes a picture, to be shown from the cursor on, scaled to columns × rows cells, or at its own size where these are
// 0. It takes the place of what was shown under the same id, 1 or more.
func (k *Kitty) Show(w io.Writer, img *image.RGBA, id, columns, rows int) error {
	if id < 1 {
		return fmt.Errorf("a picture with the number %d: kitty counts from 1", id)
	}
	k.plain.Reset()
	encoder := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := encoder.Encode(&k.plain, img); err != nil {
		return err
	}
	n := base64.StdEncoding.EncodedLen(k.plain.Len())
	if cap(k.code) < n {
		k.code = make([]byte, n)
	}
	code := k.code[:n]
	base64.StdEncoding.Encode(code, k.plain.Bytes())
	k.out.Reset()
	fmt.Fprintf(&k.out, "\x1b_Ga=T,f=100,C=1,q=2,i=%d,p=1", id)
	if columns > 0 && rows > 0 {
		fmt.Fprintf(&k.out, ",c=%d,r=%d", columns, rows)
	}
	for first := true; first || len(code) > 0; first = false {
		part := code[:min(kittyChunk, len(code))]
		code = code[len(part):]
		more := min(1, len(code))
		if first {
			fmt.Fprintf(&k.out, ",m=%d;", more)
		} else {
			fmt.Fprintf(&k.out, "\x1b_Gm=%d,q=2;", more)
		}
		k.out.Write(part)
		k.out.WriteString("\x1b\\")
	}
	_, err := w.Write(k.out.Bytes())
	return err
}

// KittyErase returns what removes a picture from the screen and from the terminal's memory.
func KittyErase(id int) string { return fmt.Sprintf("\x1b_Ga=d,d=I,i=%d,q=2\x1b\\", id) }
