package bench

import (
	"embed"
	"fmt"
	"io/fs"
	"regexp"
	"strconv"
	"strings"

	"undermetal/spice/simulate"
)

//go:embed templates/*.bench
var templateFiles embed.FS

// template is a bench's text.
type template struct {
	name, about string
	ports       []Port
	deck        []string
	runs        []templateRun
}

type templateRun struct {
	name, command string
	before, save  []string
	show          []string
}

// Port is one of a bench's ports.
type Port struct {
	Name, Meaning string
	Optional      bool
	Usual         []string // names that such nets usually have, upper case (common practice)
}

func mustTemplate(name string) *template {
	text, err := fs.ReadFile(templateFiles, "templates/"+name+".bench")
	if err != nil {
		panic("bench: " + err.Error())
	}
	t, err := parseTemplate(name+".bench", string(text))
	if err != nil {
		panic("bench: " + err.Error())
	}
	return t
}

func parseTemplate(file, text string) (*template, error) {
	t := &template{}
	inDeck := false
	for i, line := range strings.Split(text, "\n") {
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		fail := func(what string) (*template, error) { return nil, fmt.Errorf("%s:%d: %s", file, i+1, what) }
		word, rest, _ := strings.Cut(line, " ")
		rest = strings.TrimSpace(rest)
		switch word {
		case "bench":
			t.name = rest
		case "about":
			t.about = rest
		case "port":
			parts := strings.Split(rest, "|")
			if len(parts) != 3 {
				return fail("port NAME | what it is | usual names")
			}
			name, optional := strings.CutSuffix(strings.TrimSpace(parts[0]), "?")
			t.ports = append(t.ports, Port{name, strings.TrimSpace(parts[1]), optional, strings.Fields(parts[2])})
		case "deck":
			inDeck = true
		case "run":
			name, command, ok := strings.Cut(rest, ": ")
			if !ok {
				return fail("run NAME: COMMAND")
			}
			t.runs = append(t.runs, templateRun{name: name, command: command})
			inDeck = false
		case "before", "save", "show":
			if len(t.runs) == 0 {
				return fail(word + " without run")
			}
			r := &t.runs[len(t.runs)-1]
			switch word {
			case "before":
				r.before = append(r.before, rest)
			case "save":
				r.save = append(r.save, strings.Fields(rest)...)
			case "show":
				r.show = append(r.show, strings.Fields(rest)...)
			}
		default:
			if !inDeck {
				return fail(strconv.Quote(word) + " is nothing that stands there")
			}
			t.deck = append(t.deck, line)
		}
	}
	if t.name == "" || t.about == "" || len(t.runs) == 0 {
		return nil, fmt.Errorf("%s: wants bench, about and run", file)
	}
	return t, nil
}

var (
	nodeMark  = regexp.MustCompile(`<([a-z0-9_]+)>`)
	valueMark = regexp.MustCompile(`\{([a-z0-9_]+)\}`)
)

// texts are values for a template, each as it is put in.
type texts map[string]string

func (x texts) set(name string, v float64) { x[name] = strconv.FormatFloat(v, 'g', 9, 64) }

// put returns a line with nodes and values put in. Both must be there: the caller made the template. left is true where a
// value says that the line is left out.
func put(line string, nodes func(string) string, values texts) (out string, left bool) {
	line = valueMark.ReplaceAllStringFunc(line, func(m string) string {
		v, ok := values[m[1:len(m)-1]]
		if !ok {
			panic("bench: no value " + m)
		}
		left = left || v == "-"
		return v
	})
	if left {
		return "", true
	}
	return nodeMark.ReplaceAllStringFunc(line, func(m string) string { return nodes(m[1 : len(m)-1]) }), false
}

// fill makes deck lines and analyses of a template.
func (t *template) fill(nodes func(string) string, values texts) (lines []string, runs []simulate.Analysis) {
	for _, s := range t.deck {
		if line, left := put(s, nodes, values); !left {
			lines = append(lines, line)
		}
	}
	for _, r := range t.runs {
		command, left := put(r.command, nodes, values)
		if left {
			continue
		}
		a := simulate.Analysis{Name: r.name, Command: command}
		for _, s := range r.before {
			if line, left := put(s, nodes, values); !left {
				a.Before = append(a.Before, line)
			}
		}
		for _, s := range r.save {
			if v, left := put(s, nodes, values); !left {
				a.Save = append(a.Save, strings.Fields(v)...)
			}
		}
		runs = append(runs, a)
	}
	return lines, runs
}
