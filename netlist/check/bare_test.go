package check_test

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"undermetal/netlist/check"
)

// TestBareLayers: contacts to layers on which nothing is drawn are one finding for each layer that they do reach.
func TestBareLayers(t *testing.T) {
	st := testStack(t)
	contacts := []drawn{box("contact", 5000, 0, 5200, 200), box("contact", 1000, 0, 1200, 200), box("contact", 3000, 0, 3200, 200), box("contact", 7000, 0, 7200, 200)}
	under := []drawn{box("poly", 900, -100, 3300, 300), box("diffusion", 4900, -100, 5300, 300)}
	for name, tc := range map[string]struct {
		shapes []drawn
		want   []string
	}{
		"only the contacts": {contacts, []string{"contact-on-none 1100,100 ×4 metal1, poly and diffusion have no shapes: 4 contacts reach nothing; draw what they join, or remove them"}},
		"no metal": {append(slices.Clone(contacts), under...), []string{
			"contact-on-none 7100,100 ×1 lies on none of metal1, poly and diffusion: draw what it joins, or remove it",
			"contact-on-one 1100,100 ×2 metal1 has no shapes: 2 contacts reach poly only; draw what they join, or remove them",
			"contact-on-one 5100,100 ×1 lies on diffusion only, not on metal1: draw what it joins, or remove it"}},
		"only metal": {append(slices.Clone(contacts), box("metal1", 900, -100, 7300, 300)), []string{
			"contact-on-one 1100,100 ×4 poly and diffusion have no shapes: 4 contacts reach metal1 only; draw what they join, or remove them"}},
		"one shape is enough": {append(slices.Clone(contacts[:2]), box("metal1", 900, -100, 7300, 300), box("poly", 90000, 0, 91000, 1000)), []string{
			"contact-on-one 1100,100 ×1 lies on metal1 only, not on poly or diffusion: draw what it joins, or remove it",
			"contact-on-one 5100,100 ×1 lies on metal1 only, not on poly or diffusion: draw what it joins, or remove it"}},
	} {
		lib := library(t, st, tc.shapes...)
		fs, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100})
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, f := range fs {
			got = append(got, fmt.Sprintf("%s %d,%d ×%d %s", f.Code, f.At.X, f.At.Y, f.Count, f.Text))
		}
		if !slices.Equal(got, tc.want) {
			t.Errorf("%s: %q\nwant %q", name, got, tc.want)
		}
	}
}
