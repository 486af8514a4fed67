package simulate

import (
	"fmt"
	"strconv"
	"strings"
)

// Text returns the whole deck, to be kept and run by hand: `ngspice -b deck.sp` writes NAME.raw of each analysis into the
// folder that it runs in. Run gives the simulator this very text.
//
// Vectors are named on .save cards, not in the control section: there "<" and ">" redirect, and "$" and "!" mean
// something, while a card takes every name that spice.Write makes (seen in ngspice-39). So all analyses save all vectors.
func (d *Deck) Text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "undermetal: %s\n", title(d.Title))
	b.WriteString(d.Body)
	if d.Body != "" && !strings.HasSuffix(d.Body, "\n") {
		b.WriteByte('\n')
	}
	for _, name := range d.saved() {
		fmt.Fprintf(&b, ".save %s\n", name)
	}
	b.WriteString(".control\n")
	for i := range d.Analyses {
		a := &d.Analyses[i]
		for _, c := range a.Before {
			b.WriteString(c + "\n")
		}
		b.WriteString(a.Command + "\n")
		for _, o := range a.outputs() {
			if o.previous {
				b.WriteString("setplot previous\n")
			}
			fmt.Fprintf(&b, "write %s\n", o.file)
		}
		b.WriteString("destroy all\n") // a failed analysis must not write what the one before it gave
	}
	b.WriteString("quit 0\n.endc\n.end\n")
	return b.String()
}

// title returns s in one line of at most 200 letters. What stands before it in the first line of a deck keeps it from
// being "*ng_script", which would make the whole deck commands.
func title(s string) string {
	s = strings.Map(func(r rune) rune {
		if !strconv.IsPrint(r) || r == '`' {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > 200 {
		s = string(r[:200])
	}
	return s
}

// saved returns the vectors of all analyses, each once, in order.
func (d *Deck) saved() []string {
	var names []string
	seen := map[string]bool{}
	for _, a := range d.Analyses {
		for _, s := range a.Save {
			if key := strings.ToLower(s); !seen[key] {
				seen[key] = true
				names = append(names, s)
			}
		}
	}
	return names
}

// output is a raw file that an analysis writes.
type output struct {
	file     string
	plot     string   // its name in the result
	kind     string   // what "Plotname:" must say
	save     []string // what must be in it
	previous bool     // it is the plot before the current one
}

// kinds are the plots' kinds as ngspice-39 says them.
var kinds = map[string]string{
	"op": "Operating Point", "tran": "Transient Analysis", "dc": "DC transfer characteristic", "ac": "AC Analysis",
	"noise": "Noise Spectral Density Curves",
}

const totals = "Integrated Noise"

// outputs returns the files of an analysis, in the order in which they are written. Noise makes two plots, spectra and
// then totals; each is written where something of it is wanted.
func (a *Analysis) outputs() []output {
	name := strings.ToLower(a.Name)
	kind := firstWord(a.Command)
	if kind != "noise" {
		return []output{{file: name + ".raw", plot: a.Name, kind: kinds[kind], save: a.Save}}
	}
	var total, spectra []string
	for _, s := range a.Save {
		if strings.HasSuffix(strings.ToLower(strings.TrimSuffix(s, ")")), "_total") {
			total = append(total, s)
		} else {
			spectra = append(spectra, s)
		}
	}
	var outs []output
	if len(total) > 0 {
		outs = append(outs, output{file: name + ".total.raw", plot: a.Name + ".total", kind: totals, save: total})
	}
	if len(spectra) > 0 {
		outs = append(outs, output{file: name + ".raw", plot: a.Name, kind: kinds[kind], save: spectra, previous: true})
	}
	return outs
}

func firstWord(s string) string {
	if f := strings.Fields(s); len(f) > 0 {
		return strings.ToLower(f[0])
	}
	return ""
}
