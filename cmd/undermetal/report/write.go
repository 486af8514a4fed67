package report

import (
	"bufio"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"slices"
)

//go:embed page.html
var pageText string

//go:embed page.css
var style string

var pageTemplate = template.Must(template.New("page").Funcs(template.FuncMap{
	"inc":      func(i int) int { return i + 1 },
	"class":    (*Table).class,
	"evidence": func(name string, list []string) evidence { return evidence{name, list} },
}).Parse(pageText))

// class is how the cells of a column look.
func (t *Table) class(i int) string {
	switch {
	case i >= len(t.Columns):
	case t.Columns[i].Figures:
		return "figure"
	case t.Columns[i].Text:
		return "text"
	}
	return "word"
}

// evidence is a list with what it is of.
type evidence struct {
	Name string
	List []string
}

// Write writes the page. An error says which picture or drawing is none, or is what w returns.
func (r *Report) Write(w io.Writer) error {
	p := &pageData{Report: r, Style: template.CSS(style), Cautions: Cautions}
	for i := range r.Shots {
		s := shotData{Shot: &r.Shots[i]}
		for k := range r.Shots[i].Pictures {
			x, err := show(&r.Shots[i].Pictures[k])
			if err != nil {
				return fmt.Errorf("the photograph %s: %w", r.Shots[i].Name, err)
			}
			s.Shown = append(s.Shown, x)
		}
		p.Shots = append(p.Shots, s)
	}
	if err := p.fill(r); err != nil {
		return err
	}
	p.name()
	out := bufio.NewWriter(w)
	if err := pageTemplate.Execute(out, p); err != nil {
		return err
	}
	return out.Flush()
}

// pageData is a report as the template takes it: what is trusted has been made here.
type pageData struct {
	*Report
	Style     template.CSS
	Cautions  []string
	Shots     []shotData
	Map       *mapData
	Drawings  []drawn
	Groups    []groupData
	Questions []questionData
	Waveforms []waveData
	Contents  []heading
}

type heading struct{ ID, Text string }

type shotData struct {
	*Shot
	Shown []*shown
}

type drawn struct {
	SVG     template.HTML
	Caption string
}

type mapData struct {
	*BlockMap
	Photo   *shown
	Drawing *drawn
}

type groupData struct {
	*Group
	Drawing *drawn
}

type questionData struct {
	*Question
	Picture *shown
}

type waveData struct {
	*Waveform
	Drawing *drawn
}

// cleaned makes a drawing fit for the page; nil stays nil.
func cleaned(d *Drawing) (*drawn, error) {
	if d == nil {
		return nil, nil
	}
	svg, err := cleanSVG(d.SVG)
	if err != nil {
		return nil, fmt.Errorf("the drawing %q: %w", d.Caption, err)
	}
	return &drawn{svg, d.Caption}, nil
}

func (p *pageData) fill(r *Report) error {
	for i := range r.Drawings {
		d, err := cleaned(&r.Drawings[i])
		if err != nil {
			return err
		}
		p.Drawings = append(p.Drawings, *d)
	}
	for i := range r.Groups {
		d, err := cleaned(r.Groups[i].Drawing)
		if err != nil {
			return err
		}
		p.Groups = append(p.Groups, groupData{&r.Groups[i], d})
	}
	for i := range r.Questions {
		x, err := show(r.Questions[i].Picture)
		if err != nil {
			return fmt.Errorf("the question %s: %w", r.Questions[i].Title, err)
		}
		p.Questions = append(p.Questions, questionData{&r.Questions[i], x})
	}
	for i := range r.Waveforms {
		d, err := cleaned(r.Waveforms[i].Drawing)
		if err != nil {
			return err
		}
		p.Waveforms = append(p.Waveforms, waveData{&r.Waveforms[i], d})
	}
	if r.Blocks == nil {
		return nil
	}
	photo, err := show(r.Blocks.Photo)
	if err != nil {
		return fmt.Errorf("the block map: %w", err)
	}
	p.Map = &mapData{BlockMap: r.Blocks, Photo: photo}
	if svg := r.Blocks.drawing(); svg != "" {
		if p.Map.Drawing, err = cleaned(&Drawing{SVG: svg, Caption: "The block map: numbers are those of the list below."}); err != nil {
			return err
		}
	}
	return nil
}

// name lists the sections that have something in them.
func (p *pageData) name() {
	add := func(has bool, id, text string) {
		if has {
			p.Contents = append(p.Contents, heading{id, text})
		}
	}
	add(len(p.Shots) > 0, "photographs", "Photographs")
	add(p.Map != nil, "blocks", "Block map")
	add(true, "method", "Method and cautions")
	add(p.HasCircuit(), "circuit", "Circuit")
	add(len(p.Groups) > 0, "groups", "What was recognised")
	add(p.Partial != nil, "partial", "Fits that lack a piece")
	add(len(p.Questions) > 0, "questions", "Questions")
	add(len(p.Waveforms) > 0, "waveforms", "Simulation")
	add(p.Netlist != "", "netlist", "Netlist")
	add(len(p.Remarks) > 0, "remarks", "Remarks")
	add(len(p.Left) > 0, "left", "What is not here")
}

// HasCircuit reports whether anything is told of the circuit.
func (p *pageData) HasCircuit() bool {
	return len(p.Circuit) > 0 || p.Sizes != nil || p.Devices != nil || len(p.Drawings) > 0
}

// Number is that of a section, from 1.
func (p *pageData) Number(id string) int {
	return 1 + slices.IndexFunc(p.Contents, func(h heading) bool { return h.ID == id })
}
