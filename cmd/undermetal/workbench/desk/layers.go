package desk

import (
	"fmt"
	"slices"
	"strings"

	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/layout"
	"undermetal/layout/stack"
)

// setLayers takes over the layers of the stack; what was hidden and locked by name stays so.
func (d *Desk) setLayers(names []string) {
	old := map[string]picture.Layer{}
	for i, l := range d.layers {
		old[d.layerName(i)] = l
	}
	was := d.layerName(d.layer)
	layers := picture.Layers(names)
	for i, name := range names {
		if l, ok := old[name]; ok {
			layers[i].Hidden, layers[i].Locked = l.Hidden, l.Locked
		}
	}
	d.layers, d.layer = layers, -1
	for i, name := range names {
		if name == was {
			d.layer = i
		}
	}
	if d.layer < 0 && len(layers) > 0 {
		d.layer = 0
	}
}

// layerName is the name of a layer; empty where there is none.
func (d *Desk) layerName(i int) string {
	if i < 0 || d.layers == nil || i >= len(d.layers) {
		return ""
	}
	return d.layers[i].Ink.Name
}

func (d *Desk) layerNamed(name string) (int, error) {
	var names []string
	for i := range d.layers {
		if d.layerName(i) == name {
			return i, nil
		}
		names = append(names, d.layerName(i))
	}
	return -1, fmt.Errorf("there is no layer %q: the stack has %s", name, strings.Join(names, ", "))
}

// nextLayer chooses the layer to draw on.
func (d *Desk) nextLayer(by int) {
	if n := len(d.layers); n > 0 {
		d.layer = ((d.layer+by)%n + n) % n
		d.layers[d.layer].Hidden = false
		d.refresh()
		d.say("drawing on %s", d.layerName(d.layer))
	}
}

// drawable returns the name of the layer to draw on.
func (d *Desk) drawable() (string, error) {
	switch {
	case d.layer < 0 || d.layer >= len(d.layers):
		return "", fmt.Errorf("the stack has no layers: :stack add-layer adds one")
	case d.layers[d.layer].Locked:
		return "", fmt.Errorf("layer %s is locked: :unlock %[1]s opens it", d.layerName(d.layer))
	}
	return d.layerName(d.layer), nil
}

// isOpen reports whether what lies on a layer of a name can be seen and changed.
func (d *Desk) isOpen(name string) bool {
	for i, l := range d.layers {
		if d.layerName(i) == name {
			return !l.Hidden && !l.Locked
		}
	}
	return true
}

// hide and lock turn over what is so of a layer, or of all where i is -1.
func (d *Desk) hide(i int) {
	if i >= 0 && i < len(d.layers) {
		d.layers[i].Hidden = !d.layers[i].Hidden
		d.refresh()
	}
}

func (d *Desk) lock(i int) {
	if i >= 0 && i < len(d.layers) {
		d.layers[i].Locked = !d.layers[i].Locked
		d.refresh()
	}
}

// onlyLayer hides all others, or, where they are hidden, shows them.
func (d *Desk) onlyLayer(i int) {
	others := false
	for k, l := range d.layers {
		others = others || k != i && !l.Hidden
	}
	for k := range d.layers {
		d.layers[k].Hidden = others && k != i
	}
	d.refresh()
}

// roleText is what a layer is for: its role, and of a mark what is taken for what where it lies.
func (d *Desk) roleText(i int) string {
	role := d.stack.Layers[i].Role
	if role != stack.Mark {
		return role.String()
	}
	var models []string
	add := func(model string, where []stack.Condition) {
		if slices.Contains(where, stack.Condition{Layer: layout.Layer(i)}) && !slices.Contains(models, model) {
			models = append(models, model)
		}
	}
	for _, r := range d.stack.MOS {
		add(r.Model, r.Where)
	}
	for _, r := range d.stack.Diodes {
		add(r.Model, r.Where)
	}
	for _, r := range d.stack.Capacitors {
		add(r.Model, r.Where)
	}
	for _, r := range d.stack.Resistors {
		add(r.Model, r.Where)
	}
	if len(models) == 0 {
		return role.String()
	}
	return role.String() + " of " + harmless(strings.Join(models, ", "))
}
