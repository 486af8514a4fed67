package shared

import (
	"context"
	"io"
)

// While returns a writer to w for as long as a context lasts; from then on every write returns the context's error. It ends what knows no
// context, such as an encoder of pictures, at the next piece that it writes.
func While(ctx context.Context, w io.Writer) io.Writer { return while{ctx, w} }

type while struct {
	ctx context.Context
	w   io.Writer
}

func (e while) Write(p []byte) (int, error) {
	if err := e.ctx.Err(); err != nil {
		return 0, err
	}
	return e.w.Write(p)
}
