package report

import (
	"bytes"
	"context"
	"encoding/base64"
	"fmt"
	"html/template"
	"image"
	"image/jpeg"
	"image/png"

	"undermetal/cmd/undermetal/shared"
)

// Picture is a photograph, or a drawing in pixels.
type Picture struct {
	Data    []byte // PNG or JPEG
	Alt     string // what it shows, for who cannot see it
	Caption string
	Keys    []Key // what its colours and hatches are, told below it
}

// Key is a colour or hatch of a picture by name.
type Key struct {
	Name   string
	Swatch []byte // PNG or JPEG
}

// NewPicture makes a picture of an image: as PNG, or as JPEG of high quality where that takes less. Its
// errors are the encoders' and the context's.
func NewPicture(ctx context.Context, img image.Image, alt, caption string) (*Picture, error) {
	var lossless, lossy bytes.Buffer
	fast := png.Encoder{CompressionLevel: png.BestSpeed} // which of them is smaller hardly hangs on the level, which costs most of a report
	if err := fast.Encode(shared.While(ctx, &lossless), img); err != nil {
		return nil, err
	}
	if err := jpeg.Encode(shared.While(ctx, &lossy), img, &jpeg.Options{Quality: 88}); err != nil {
		return nil, err
	}
	p := &Picture{Data: lossless.Bytes(), Alt: alt, Caption: caption}
	if lossy.Len() < lossless.Len() {
		p.Data = lossy.Bytes()
	}
	return p, nil
}

// shown is a picture as the page needs it.
type shown struct {
	URI           template.URL
	Width, Height int
	Alt, Caption  string
	Keys          []shownKey
}

// shownKey is a key as the page needs it.
type shownKey struct {
	Name          string
	URI           template.URL
	Width, Height int
}

// show makes a data URI of a picture. Its kind is that of the data, which must be whole enough to tell its size.
func show(p *Picture) (*shown, error) {
	if p == nil {
		return nil, nil
	}
	uri, width, height, err := dataURI(p.Data, p.Alt)
	if err != nil {
		return nil, err
	}
	x := &shown{URI: uri, Width: width, Height: height, Alt: p.Alt, Caption: p.Caption}
	for _, k := range p.Keys {
		uri, width, height, err := dataURI(k.Swatch, k.Name)
		if err != nil {
			return nil, err
		}
		x.Keys = append(x.Keys, shownKey{k.Name, uri, width, height})
	}
	return x, nil
}

func dataURI(data []byte, name string) (uri template.URL, width, height int, err error) {
	c, kind, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil || kind != "png" && kind != "jpeg" {
		return "", 0, 0, fmt.Errorf("the picture %q is neither PNG nor JPEG", name)
	}
	return template.URL("data:image/" + kind + ";base64," + base64.StdEncoding.EncodeToString(data)), c.Width, c.Height, nil
}
