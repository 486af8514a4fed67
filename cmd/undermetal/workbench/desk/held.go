package desk

import (
	"context"

	"undermetal/layout/dossier"
)

type heldKey struct{}

// Hold returns a context that carries an open dossier.
func Hold(ctx context.Context, d *dossier.Dossier) context.Context {
	return context.WithValue(ctx, heldKey{}, d)
}

// Held returns the open dossier that a context carries, or nil: whoever gets one uses it instead of opening its file, and leaves it
// open.
func Held(ctx context.Context) *dossier.Dossier {
	d, _ := ctx.Value(heldKey{}).(*dossier.Dossier)
	return d
}
