package recognise

import "context"

func (f *finder) partialFits(ctx context.Context, all []candidate, in []bool) ([]Fit, error) { return nil, nil }
