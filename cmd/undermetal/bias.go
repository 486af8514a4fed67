package main

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/stack"
	"undermetal/netlist/measure"
)

// parseBias reads what --bias says: LAYER=20nm and LAYER=±20nm say how uncertain it is that edges lie off alike, LAYER=12±5nm that they
// really lie 12 nm further out than drawn, and how well that is known. +- stands for ±. LAYER=0 says that they do not.
func parseBias(said []string, st *stack.Stack) (map[layout.Layer]measure.Bias, error) {
	bias := map[layout.Layer]measure.Bias{}
	for _, text := range said {
		name, b, err := oneBias(text)
		if err != nil {
			return nil, err
		}
		l, known := st.LayerNamed(name)
		if !known {
			return nil, noLayer(text, name, st)
		}
		bias[l] = b
	}
	return bias, nil
}

// noLayer is the error for a layer that the stack does not have.
func noLayer(text, name string, st *stack.Stack) error {
	return usagef("--bias %s: the stack has no layer %q\n    it has %s", text, name, someNames(st.LayerNames()))
}

// oneBias reads what is said of one layer.
func oneBias(text string) (layer string, b measure.Bias, err error) {
	layer, value, ok := strings.Cut(text, "=")
	if !ok {
		return "", b, usagef("--bias %s: says no layer and how uncertain its edges are together\n    as in --bias poly=20nm, or poly=12±5nm where it is known that they lie 12 nm further out", text)
	}
	out, sigma, two := strings.Cut(strings.ReplaceAll(value, "+-", "±"), "±")
	if !two {
		out, sigma = "0", value
	}
	if out = strings.TrimSpace(out); out == "" {
		out = "0"
	}
	if _, err := finite(out); err == nil { // both have the unit that stands behind
		sigma := strings.TrimSpace(sigma)
		out += sigma[len(strings.TrimRightFunc(sigma, unicode.IsLetter)):]
	}
	if b.OutNm, err = parseQuantity(out, "nm"); err != nil {
		return "", b, usagef("--bias %s: %q is no length\n    as in --bias poly=12±5nm; below 0 where edges really lie further in than drawn", text, out)
	}
	if b.SigmaNm, err = parseQuantity(sigma, "nm"); err != nil || b.SigmaNm < 0 {
		return "", b, usagef("--bias %s: %q is no length from 0\n    as in --bias poly=20nm, or poly=12±5nm", text, sigma)
	}
	return strings.TrimSpace(layer), b, nil
}

// statedBiases reads what --bias says of a shot. A layer that the stack does not have, any more, can only be forgotten.
func statedBiases(d *dossier.Dossier, s *dossier.Shot, said []string) ([]dossier.Bias, error) {
	if len(said) == 0 {
		return nil, nil
	}
	st, err := d.Stack()
	if err != nil {
		return nil, err
	}
	before, err := d.Biases()
	if err != nil {
		return nil, err
	}
	var all []dossier.Bias
	for _, text := range said {
		layer, b, err := oneBias(text)
		if err != nil {
			return nil, err
		}
		_, known := st.LayerNamed(layer)
		for _, old := range before {
			known = known || b == (measure.Bias{}) && old.Shot == s.ID && old.Layer == layer
		}
		if !known {
			return nil, noLayer(text, layer, st)
		}
		all = append(all, dossier.Bias{Shot: s.ID, Layer: layer, OutNm: b.OutNm, SigmaNm: b.SigmaNm})
	}
	return all, nil
}

// biasText says what is known of the biases of a shot, in nm; layers are those of the stack.
func biasText(biases []dossier.Bias, layers []string) string {
	var parts []string
	for _, b := range biases {
		text := fmt.Sprintf("%s ± %.4g nm", b.Layer, b.SigmaNm)
		if b.OutNm != 0 {
			text = fmt.Sprintf("%s %+.4g ± %.4g nm", b.Layer, b.OutNm, b.SigmaNm)
		}
		if !slices.Contains(layers, b.Layer) {
			text += " (which the stack does not have)"
		}
		parts = append(parts, text)
	}
	return strings.Join(parts, ", ")
}
