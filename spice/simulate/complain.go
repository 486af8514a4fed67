package simulate

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// maxComplaints bounds how many complaints of a run are kept, and as many more where those are fatal.
const maxComplaints = 50

// ear listens to what a simulator says, line by line, and keeps what somebody should know. ngspice spreads a complaint
// over lines and gives its stages of convergence as warnings, so that both need a memory.
type ear struct {
	deck       []string          // lines of the deck, for "line no. 5"
	places     map[string]string // Deck.Places
	complaints []Complaint
	seen       map[string]bool
	follow     int  // how many lines still belong to the last complaint
	indented   bool // only if they are indented
	mute       bool // the last complaint was not kept
	table      bool // within a table of node voltages
	strained   []string
	version    string

	mu       sync.Mutex // of what follows, which progress reads while lines are heard
	analysis int        // how many were heard to begin
	at       float64    // the last value of the running one's scale; NaN: none yet
}

func newEar(deck string, places map[string]string) *ear {
	return &ear{deck: strings.Split(deck, "\n"), places: places, seen: map[string]bool{}}
}

var (
	// stages stand before other words on one line, without a line end of their own.
	stages  = regexp.MustCompile(`(?i)^\s*((trying gmin =|supplies reduced to|reference value :)\s*\S+\s*)+`)
	version = regexp.MustCompile(`^\**\s*(ngspice)-([0-9][0-9A-Za-z.+]*)`)
	// harmless are warnings that a simulator gives on its way to a result. If there is none, it says so in other words.
	harmless = regexp.MustCompile(`(?i)^warning: (further gmin increment|last gmin step failed|gmin step failed|(dynamic |true |new )?(gmin|source) stepping failed)`)
	fatal    = regexp.MustCompile(`(?i)^(fatal |syntax |internal )?error\b|simulation\(s\) aborted|^doanalyses:|simulation interrupted|no such command|` +
		`can't find model|undefined parameter|cannot compute substitute|no such (device|vector|model)|expression err|formula\(\) error|` +
		`^(dc|transient|ac|noise) solution failed|^can't (find|open|write)|unable to find|could not find|cannot (open|write)|out of memory|` +
		`not enough memory|^netlist line no|malloc|unknown subckt|segmentation|there aren't any circuits|unimplemented`)
	warning = regexp.MustCompile(`(?i)^warning|unrecogni[sz]ed|- ignored|^\S+: .*(set to|too low|to low)`)
	lineNo  = regexp.MustCompile(`(?i)\bline (?:no\. )?([0-9]+)\b`)
	marked  = regexp.MustCompile(`^(\S+)\s+\S+\s+\S+ \*$`)
)

// line hears one line, without its end.
func (e *ear) line(s string) {
	e.heardProgress(s)
	if e.follow == 0 && !e.table && !worthwhile(s, len(e.complaints) >= maxComplaints) {
		return
	}
	bare := strings.TrimRight(stages.ReplaceAllString(s, ""), " \t")
	text := strings.TrimSpace(bare)
	if m := version.FindStringSubmatch(text); m != nil {
		e.version = m[1] + " " + m[2]
	}
	if e.table {
		// Nodes have names of any kind, "error" among them: a table ends with a blank line, and nothing in it is said.
		e.table = text != ""
		if m := marked.FindStringSubmatch(text); m != nil && len(e.strained) < 3 {
			e.strained = append(e.strained, m[1])
		}
		return
	}
	switch {
	case text == "":
		return
	case strings.HasPrefix(text, "----"): // the line between a table's head and its rows
		e.table = strings.Contains(text, " ")
		return
	case strings.HasPrefix(text, "Circuit: "), strings.HasPrefix(strings.ToLower(text), "note:"), harmless.MatchString(text):
		e.follow = 0
		return
	}
	if e.follow > 0 && (!e.indented || bare != strings.TrimLeft(bare, " \t")) {
		e.follow--
		e.more(text)
		return
	}
	e.follow = 0
	switch {
	case fatal.MatchString(text):
		e.hear(text, true)
	case warning.MatchString(text):
		e.hear(text, false)
	}
}

// words are in all lines that the ear does anything about; looking for them first makes it fast with much chatter. The first
// is in mere warnings, too.
var words = []string{
	"warn", "error", "abort", "doanal", "interrupt", "no such", "can't", "cannot", "undefined", "failed", "unable", "could not", "memory",
	"malloc", "unknown", "segment", "unrec", "ignored", "line no", "set to", "too low", "to low", "there aren", "unimplem", "expression err",
	"----", "ngspice-",
}

// worthwhile says whether a line may be something to do about; fatalOnly, if warnings are not kept any more.
func worthwhile(line string, fatalOnly bool) bool {
	line = strings.ToLower(line)
	of := words
	if fatalOnly {
		of = words[1:]
	}
	return slices.ContainsFunc(of, func(w string) bool { return strings.Contains(line, w) })
}

// hear keeps a complaint and knows how many of the next lines belong to it.
func (e *ear) hear(text string, isFatal bool) {
	low := strings.ToLower(text)
	switch {
	case strings.HasPrefix(low, "error on line"):
		e.follow, e.indented = 2, false
	case strings.HasSuffix(low, "from line"), strings.HasSuffix(low, "--"), strings.HasSuffix(low, ":"):
		e.follow, e.indented = 1, true
	}
	if strings.HasPrefix(low, "netlist line no") {
		e.follow, e.indented = 1, false
	}
	if m := lineNo.FindStringSubmatch(text); m != nil && e.follow < 2 {
		if n, err := strconv.Atoi(m[1]); err == nil && n >= 2 && n <= len(e.deck) {
			text += " (" + shorten(strings.TrimSpace(e.deck[n-1]), 60) + ")"
		}
	}
	if e.mute = e.full(text, isFatal); !e.mute {
		e.keep(Complaint{Text: text, What: e.what(text), Fatal: isFatal})
	}
}

// full says whether a complaint would not be kept.
func (e *ear) full(text string, isFatal bool) bool {
	return e.seen[shorten(text, 400)] || len(e.complaints) >= maxComplaints && (!isFatal || len(e.complaints) >= 2*maxComplaints)
}

// keep takes a complaint once.
func (e *ear) keep(c Complaint) {
	c.Text = shorten(c.Text, 400)
	if e.full(c.Text, c.Fatal) {
		return
	}
	e.seen[c.Text] = true
	e.complaints = append(e.complaints, c)
}

// end makes a complaint of the nodes that ngspice marked in its table of what did not converge. That table and the
// sentence about it come by different ways, in any order.
func (e *ear) end() {
	if len(e.strained) == 0 {
		return
	}
	c := Complaint{Text: "no voltage or current was found for " + strings.Join(e.strained, ", "), Fatal: true}
	for _, name := range e.strained {
		if p := e.place(name); p != "" && !strings.Contains(c.What, p) {
			c.What = strings.TrimPrefix(c.What+"; "+p, "; ")
		}
	}
	e.keep(c)
}

// more adds a line to the last complaint.
func (e *ear) more(text string) {
	if e.mute {
		return
	}
	c := &e.complaints[len(e.complaints)-1]
	if c.What == "" {
		if c.What = e.place(firstWord(text)); c.What == "" {
			c.What = e.what(text)
		}
	}
	c.Fatal = c.Fatal || fatal.MatchString(text)
	c.Text = shorten(strings.TrimRight(c.Text, ": -")+": "+text, 400)
}

// mention are the places in ngspice's sentences where the name of a node or an element stands.
var mention = []*regexp.Regexp{
	regexp.MustCompile(`(?i)check nodes? (\S+)(?: and (\S+))?`),
	regexp.MustCompile(`(?i)trouble with node "([^"]+)"`),
	regexp.MustCompile(`(?i)trouble with (\S+)`),
	regexp.MustCompile(`(?i)instance:? "?([^"\s]+)"?`),
	regexp.MustCompile(`(?i)device or model name (\S+)`),
	regexp.MustCompile(`(?i)named "([^"]+)"`),
	regexp.MustCompile(`(?i)unknown subckt: (\S+)`),
	regexp.MustCompile(`(?i)vector (\S+) is not`),
	regexp.MustCompile(`\(([A-Za-z]\S*) [^()]*\)?$`), // the line of the deck, by hear
	regexp.MustCompile(`(?i)^(?:warning: |error: |fatal error: )*([^\s:]+): `),
}

// what returns the places of what a complaint is about, or nothing.
func (e *ear) what(text string) string {
	var all []string
	for _, m := range mention {
		for _, name := range submatches(m, text) {
			if p := e.place(name); p != "" && !slices.Contains(all, p) {
				all = append(all, p)
			}
		}
	}
	return strings.Join(all, "; ")
}

func submatches(m *regexp.Regexp, text string) []string {
	if found := m.FindStringSubmatch(text); found != nil {
		return found[1:]
	}
	return nil
}

// place looks a simulator's name up: as it is, without the letter that ngspice puts before the path of what lies in a
// subcircuit (m.x1.m1 is x1.m1), and at last the instance that it lies in.
func (e *ear) place(name string) string {
	name = strings.TrimSuffix(strings.ToLower(strings.Trim(name, `"',;:.`)), "#branch")
	if len(name) > 2 && name[0] == '@' {
		name, _, _ = strings.Cut(name[1:], "[")
	}
	if inner, ok := strings.CutSuffix(name, ")"); ok && len(name) > 3 && name[1] == '(' {
		name = inner[2:]
	}
	if name == "" {
		return ""
	}
	if p := e.places[name]; p != "" {
		return p
	}
	if len(name) > 2 && name[1] == '.' {
		name = name[2:]
		if p := e.places[name]; p != "" {
			return p
		}
	}
	for {
		k := strings.LastIndexByte(name, '.')
		if k < 0 {
			return ""
		}
		name = name[:k]
		if p := e.places[name]; p != "" {
			return "in " + p
		}
	}
}
