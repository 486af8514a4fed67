package stack

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"undermetal/layout"
)

// TOML writes the stack as a stack file, without what is empty, 0 or what a file means by leaving it out. A stack that
// came from Parse, or is built in, parses from it to an equal one.
func (s *Stack) TOML() []byte {
	w := &writer{s: s}
	w.text("name", s.Name)
	w.flush("")
	for i := range s.Layers {
		w.layer(&s.Layers[i])
	}
	w.rules()
	if s.Substrate.Type != "p" {
		w.text("type", s.Substrate.Type)
	}
	w.text("net", s.Substrate.Net)
	w.pairs("labels", s.Substrate.Labels)
	if len(w.lines) > 0 {
		w.flush("[substrate]")
	}
	w.number("gate_oxide_nm", s.Process.GateOxideNm)
	w.number("supply_v", s.Process.SupplyV)
	w.number("min_feature_nm", s.Process.MinFeatureNm)
	if len(w.lines) > 0 {
		w.flush("[process]")
	}
	return w.out.Bytes()
}

// writer collects the lines of a table until it is complete, so that the equals signs stand below each other.
type writer struct {
	s     *Stack
	out   bytes.Buffer
	lines [][2]string // key, value
}

// flush writes the table that has been collected.
func (w *writer) flush(header string) {
	if header != "" {
		if w.out.Len() > 0 {
			w.out.WriteByte('\n')
		}
		fmt.Fprintln(&w.out, header)
	}
	width := 0
	for _, l := range w.lines {
		width = max(width, len(l[0]))
	}
	for _, l := range w.lines {
		fmt.Fprintf(&w.out, "%-*s = %s\n", width, l[0], l[1])
	}
	w.lines = w.lines[:0]
}

func (w *writer) add(key, value string) { w.lines = append(w.lines, [2]string{key, value}) }

func (w *writer) text(key, s string) {
	if s != "" {
		w.add(key, quoteTOML(s))
	}
}

func (w *writer) texts(key string, list []string) {
	if len(list) == 0 {
		return
	}
	quoted := make([]string, len(list))
	for i, s := range list {
		quoted[i] = quoteTOML(s)
	}
	w.add(key, "["+strings.Join(quoted, ", ")+"]")
}

func (w *writer) number(key string, v float64) {
	if v != 0 {
		w.add(key, strconv.FormatFloat(v, 'g', -1, 64))
	}
}

func (w *writer) pairs(key string, pairs []Pair) {
	var list []string
	for _, p := range pairs {
		list = append(list, p.String())
	}
	w.texts(key, list)
}

func (w *writer) name(l layout.Layer) string { return w.s.Layers[l].Name }

func (w *writer) layers(key string, ls []layout.Layer) {
	var list []string
	for _, l := range ls {
		list = append(list, w.name(l))
	}
	w.texts(key, list)
}

// oneOrAll writes the layers that a rule is for, as oneOrAll of the checker reads them.
func (w *writer) oneOrAll(key string, ls []layout.Layer, r Role) {
	switch {
	case slices.Equal(ls, w.s.ofRole(r)):
	case len(ls) == 1:
		w.text(key, w.name(ls[0]))
	default:
		w.layers(key, ls)
	}
}

func (w *writer) where(where []Condition) {
	var list []string
	for _, c := range where {
		if c.Not {
			list = append(list, "!"+w.name(c.Layer))
		} else {
			list = append(list, w.name(c.Layer))
		}
	}
	w.texts("where", list)
}

func (w *writer) tie(key string, t Tie) {
	switch l, isWell := t.Well(); {
	case isWell:
		w.text(key, w.name(l))
	case t.Substrate():
		w.text(key, substrateName)
	default:
		w.text(key, unknownName)
	}
}

func (w *writer) layer(l *Layer) {
	w.text("name", l.Name)
	w.text("role", l.Role.String())
	w.layers("joins", l.Joins)
	w.pairs("gds", l.GDS)
	w.pairs("labels", l.Labels)
	w.text("color", l.Color)
	w.number("sheet_ohm", l.SheetOhm)
	w.number("area_af_um2", l.AreaAFUm2)
	w.number("edge_af_um", l.EdgeAFUm)
	w.number("thickness_nm", l.ThicknessNm)
	w.flush("[[layer]]")
}

func (w *writer) rules() {
	for _, r := range w.s.MOS {
		w.text("model", r.Model)
		w.text("type", r.Type)
		w.oneOrAll("gate", r.Gates, Gate)
		w.oneOrAll("diffusion", r.Diffusions, Diffusion)
		w.where(r.Where)
		w.tie("bulk", r.Bulk)
		w.flush("[[mos]]")
	}
	for _, r := range w.s.Taps {
		w.oneOrAll("diffusion", r.Diffusions, Diffusion)
		w.where(r.Where)
		w.tie("ties", r.Ties)
		w.flush("[[tap]]")
	}
	for _, r := range w.s.Diodes {
		w.text("model", r.Model)
		w.text("type", r.Type)
		w.text("body", w.name(r.Body))
		w.where(r.Where)
		w.tie("to", r.To)
		w.flush("[[diode]]")
	}
	for _, r := range w.s.Capacitors {
		w.text("model", r.Model)
		w.layers("plates", []layout.Layer{r.Upper, r.Lower})
		w.where(r.Where)
		w.number("area_af_um2", r.AreaAFUm2)
		w.number("edge_af_um", r.EdgeAFUm)
		w.flush("[[capacitor]]")
	}
	for _, r := range w.s.Resistors {
		w.text("model", r.Model)
		w.text("body", w.name(r.Body))
		w.where(r.Where)
		w.number("sheet_ohm", r.SheetOhm)
		w.flush("[[resistor]]")
	}
}

// quoteTOML writes a basic string of TOML.
func quoteTOML(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < ' ' || r == 0x7f:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
