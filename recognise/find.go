package recognise

import (
	"context"

	"undermetal/netlist"
)

// Find lays every pattern of opt on the circuit c, which must be flat, wherever it fits.
func Find(ctx context.Context, c *netlist.Circuit, opt Options) (*Result, error) {
	return nil, ctx.Err()
}
