package question

import (
	"fmt"
	"slices"
	"strings"

	"undermetal/layout"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// hasType is the type that a layer's name begins with: n, p, or empty.
func hasType(name string) string {
	s := strings.ToLower(name)
	for _, t := range []string{"n", "p"} {
		for _, rest := range []string{"diff", "act", "+", "plus", "well", "_", "-", "sd", "tub"} {
			if strings.HasPrefix(s, t+rest) {
				return t
			}
		}
	}
	return ""
}

// diffusionType returns the type of a diffusion layer that has one: by its name, else by the transistors it alone makes.
func (v *view) diffusionType(l layout.Layer) string {
	if t := hasType(v.st.Layers[l].Name); t != "" {
		return t
	}
	types := map[string]bool{}
	own := true
	for i := range v.st.MOS {
		if m := &v.st.MOS[i]; slices.Contains(m.Diffusions, l) {
			types[m.Type] = true
			own = own && len(m.Diffusions) == 1
		}
	}
	if len(types) == 1 && own && v.diffusions() > 1 {
		for t := range types {
			return t
		}
	}
	return ""
}

// diffusions counts the layers of diffusion.
func (v *view) diffusions() int {
	n := 0
	for l := range v.st.Layers {
		if v.st.Layers[l].Role == stack.Diffusion {
			n++
		}
	}
	return n
}

// bodyType returns the type of the silicon in a well, or outside all wells; empty where nobody knows.
func (v *view) bodyType(well extract.RegionID) string {
	if well == extract.NoRegion {
		if !slices.ContainsFunc(v.st.Layers, func(l stack.Layer) bool { return l.Role == stack.Well }) {
			return "" // wells were not traced
		}
		return v.st.Substrate.Type
	}
	l := v.f.Regions[well].Layer
	for i := range v.st.MOS {
		if w, ok := v.st.MOS[i].Bulk.Well(); ok && w == l {
			return map[string]string{"n": "p", "p": "n"}[v.st.MOS[i].Type]
		}
	}
	return hasType(v.st.Layers[l].Name)
}

// oxide returns the thickness of the gate oxide in nm, and where it comes from; 0 where nothing speaks for any.
//
// Where the stack does not say, a fiftieth of the shortest gate: 1 µm processes had about 20 nm (common practice, from memory).
func (v *view) oxide() (nm float64, how string) {
	if v.oxideHow == "" {
		v.oxideNm, v.oxideHow = v.findOxide()
	}
	return v.oxideNm, v.oxideHow
}

func (v *view) findOxide() (nm float64, how string) {
	if t := v.st.Process.GateOxideNm; t > 0 {
		return t, fmt.Sprintf("the stack's %s nm of gate oxide", figure(t))
	}
	if v.feature > 0 {
		t := v.feature / 50
		return t, fmt.Sprintf("%s nm of gate oxide, assumed as a fiftieth of %s", figure(t), v.featureHow)
	}
	return 0, ""
}

// Constants of the arithmetic.
const (
	oxidePermittivity = 3.9 * 8.8541878e-12 // F/m: SiO2
	electronMobility  = 0.045               // m²/Vs in a channel, typical; a hole's is a third (common practice, from memory)
	overdriveV        = 2.0                 // what a gate is above its threshold, assumed
)

// farads returns the capacitance of a plate in F, ε·area/thickness, and what was taken for the thickness.
func (v *view) farads(p *plate) (float64, string) {
	t, how := v.oxide()
	if t <= 0 {
		return 0, ""
	}
	return oxidePermittivity / (t * 1e-9) * p.area * 1e-18, how
}

// plateNote says what arithmetic makes of each reading.
//
// As a switch with a small voltage across it, R = 1/(µ·C'·(W/L)·V), V being what the gate is above its threshold.
func (v *view) plateNote(p *plate) string {
	if v.quiet {
		return ""
	}
	c, how := v.farads(p)
	if c <= 0 {
		return ""
	}
	note := fmt.Sprintf("As a capacitor %s (%s).", engineering(c, "F"), how)
	if p.w > 0 && p.l > 0 && len(p.nets) > 1 {
		t, _ := v.oxide()
		mobility := electronMobility
		if v.kindOf(p) == netlist.PMOS {
			mobility /= 3
		}
		r := 1 / (mobility * oxidePermittivity / (t * 1e-9) * p.w / p.l * overdriveV)
		note += fmt.Sprintf(" As a switch %s (KP %s, %s V above threshold, both assumed).", engineering(r, "Ω"), engineering(mobility*oxidePermittivity/(t*1e-9), "A/V²"), figure(overdriveV))
	}
	return note
}
