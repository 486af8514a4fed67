package main

import (
	"fmt"
	"slices"
	"strings"

	"undermetal/cmd/undermetal/report"
)

// method says how the report came about, as far as the dossier knows.
func (k *collecting) method(read *extracted) error {
	how, err := k.traced()
	if err != nil {
		return err
	}
	add := func(heading string, paragraphs ...string) {
		paragraphs = slices.DeleteFunc(paragraphs, func(p string) bool { return p == "" })
		if len(paragraphs) > 0 {
			k.r.Method = append(k.r.Method, report.Section{Heading: heading, Paragraphs: paragraphs})
		}
	}
	if n := len(k.r.Shots); n > 0 {
		var steps []string
		for _, s := range k.r.Shots {
			for _, f := range s.Facts {
				if f.Name == "Step" {
					steps = append(steps, fmt.Sprintf("%s (%s)", s.Name, f.Value))
				}
			}
		}
		text := fmt.Sprintf("The die was photographed %s, each time after a step of its delayering.", map[bool]string{true: "once", false: fmt.Sprintf("%d times", n)}[n == 1])
		if n == 1 {
			text = "The die was photographed once."
		}
		if len(steps) > 0 {
			text += " What was removed, or lies on top: " + strings.Join(steps, ", ") + "."
		}
		add("Photographs", text, "A photograph that is registered was laid into one frame with the others, by control points or on another photograph; how well is said beside it. A scale bar "+
			"has the scale in the middle of its picture.")
	}
	add("Tracing", how...)
	if len(read.res.Circuit.Devices) > 0 {
		add("Circuit", "Where a gate crosses a diffusion there is a transistor. W is half of the channel's edge with source and drain, L its area over W; where a gate is bent, closed or "+
			"tapered, W/L comes from Laplace's equation in the outline of the channel. Nets are what touches, and what contacts join. Whether a transistor is n or p, and what else makes a "+
			"device, say the rules of the process as far as it is known.",
			"Uncertainties are standard ones, by first-order propagation: edges as uncertain as they were drawn and independent of each other, the bias of a layer in a photograph as far as it is "+
				"stated, and the scales of the photographs.")
	}
	add("Questions and groups", "What has more than one plausible reading is a question. Its odds are Bayesian: what was observed shifts them by weights that were counted on drawings of which "+
		"the truth is known; observations that depend on each other count once. An answer decides, whatever the odds: it is of whoever kept the dossier.",
		"A group is recognised where a published circuit fits on its devices, terminal by terminal, whatever their sizes. It says what they could be, and not what they are for.")
	return nil
}

// traced says over what was traced, by which method, and which part was looked at.
func (k *collecting) traced() (paragraphs []string, err error) {
	cells, err := k.d.Cells()
	if err != nil {
		return nil, err
	}
	methods, layers, sigma := map[string]int{}, map[string]int{}, [2]float64{}
	for _, c := range cells {
		shapes, err := k.d.Shapes(c.ID)
		if err != nil {
			return nil, err
		}
		for i := range shapes {
			s := &shapes[i]
			methods[s.Method]++
			layers[s.Layer]++
			if s.SigmaNm > 0 {
				if sigma[0] == 0 || s.SigmaNm < sigma[0] {
					sigma[0] = s.SigmaNm
				}
				sigma[1] = max(sigma[1], s.SigmaNm)
			}
		}
	}
	if len(methods) == 0 {
		k.left("a tracing: nothing was drawn yet.")
		return nil, nil
	}
	text := fmt.Sprintf("Shapes by layer: %s. By how they were drawn: %s.", strings.Join(counts(layers), ", "), someNames(counts(methods)))
	switch {
	case sigma[0] > 0 && sigma[0] == sigma[1]:
		text += fmt.Sprintf(" Their edges are uncertain by %.3g µm.", um(sigma[0]))
	case sigma[0] > 0:
		text += fmt.Sprintf(" Their edges are uncertain by %.3g to %.3g µm.", um(sigma[0]), um(sigma[1]))
	}
	paragraphs = append(paragraphs, text)
	areas, err := k.d.Areas()
	if err != nil {
		return nil, err
	}
	looked := map[string]float64{}
	for _, a := range areas {
		looked[a.Layer] += areaUm2(a.Polygon)
	}
	if len(looked) == 0 {
		paragraphs = append(paragraphs, "Which part was looked at is not stated: every layer counts as looked at everywhere, and no net as open.")
	} else {
		var parts []string
		for l, sum := range looked {
			parts = append(parts, fmt.Sprintf("%s %.6g µm²", l, sum))
		}
		slices.Sort(parts)
		paragraphs = append(paragraphs, "Looked at: "+strings.Join(parts, ", ")+". A net that reaches the rim of that is open, and a port.")
	}
	return paragraphs, nil
}

// counts lists what there is how often.
func counts(of map[string]int) (parts []string) {
	for name, n := range of {
		if name == "" {
			name = "not said"
		}
		parts = append(parts, fmt.Sprintf("%s %d", name, n))
	}
	slices.Sort(parts)
	return parts
}
