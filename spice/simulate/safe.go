package simulate

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Unsafe says what in a deck's body could do more than describe a circuit.
type Unsafe struct {
	Line int    // of the body, from 1
	Text string // the line, shortened
	Why  string
}

func (u *Unsafe) Error() string { return fmt.Sprintf("line %d, %q: %s", u.Line, u.Text, u.Why) }

// What a body may hold. It is a list of what is allowed, not of what is known to be bad: simulators learn new cards.
var (
	cards = []string{".model", ".subckt", ".ends", ".param", ".params", ".option", ".options", ".opt", ".global", ".ic", ".nodeset", ".temp", ".func"}
	// elements are the letters that an element may begin with. Left out: A, U, N, Y, O, T, P, Z … : code models, which
	// can open files, and what no recovered circuit has.
	elements = "bcdefghijklmqrsvwx"
	// modelTypes are those of SPICE itself. Others are code models: d_source and filesource read files.
	modelTypes = []string{"nmos", "pmos", "d", "npn", "pnp", "njf", "pjf", "r", "res", "c", "l", "sw", "csw", "nmf", "pmf", "vdmos"}
	options    = []string{
		"abstol", "reltol", "vntol", "chgtol", "gmin", "gminsteps", "srcsteps", "itl1", "itl2", "itl3", "itl4", "itl5", "itl6",
		"method", "maxord", "temp", "tnom", "scale", "pivtol", "pivrel", "trtol", "rshunt", "cshunt", "noopiter", "noopalter",
		"defl", "defw", "defad", "defas", "sparse", "klu", "xmu", "trytocompact", "badmos3", "keepopinfo", "bypass", "savecurrents",
		"ramptime", "gshunt", "autostop", "interp", "seed", "minbreak", "indverbosity",
	}
	elementName = regexp.MustCompile(`^[a-z][^\s,=();$"'{}` + "`" + `\\]*$`)
	// fileWords are parameters by which some version of a simulator opens a file.
	fileWords  = regexp.MustCompile(`(?i)\b(input_file|state_file|wave_?file|pwl_?file|file_?name|file)\s*=`)
	optionWord = regexp.MustCompile(`^[a-z][a-z0-9_]*$`)
	spacedEq   = regexp.MustCompile(`\s*=\s*`)
)

// Safe says whether body, the elements, models and options of a deck, can do nothing but describe a circuit, whatever
// names and model files it was made of. It is the last gate: names are made harmless where they are written (package
// spice), and what gets here with a line break in it has become lines, which must be such as these:
//
//   - comments, but none that begins with *# (a command to ngspice) or *ng_script
//   - element lines with a letter of SPICE3's own elements
//   - .model of SPICE's own types, .subckt, .ends, .param, .func, .options with known numbers, .global, .ic, .nodeset, .temp
//   - continuations of these
//
// No control character but tab (so no line end that one program sees and another does not), no backquote, nothing that
// opens a file. The error is an *Unsafe.
func Safe(body string) error {
	inside := false // of a card that may be continued
	card := ""
	for i, line := range strings.Split(body, "\n") {
		line = strings.TrimSuffix(line, "\r")
		why := ""
		text := strings.TrimLeft(line, " \t")
		switch {
		case !utf8.ValidString(line):
			why = "not UTF-8"
		case !printable(line):
			why = "has a character that is no text; a line may have been smuggled in by a name"
		case len(line) > 1<<16:
			why = "longer than 65,536 bytes"
		case withoutRemark(text) == "":
		case text[0] == '*':
			if len(text) > 1 && text[1] == '#' || strings.HasPrefix(strings.ToLower(text), "*ng_script") {
				why = "a comment that is a command to the simulator"
			}
		case text[0] == '+':
			if !inside {
				why = "continues nothing"
			} else {
				why = unsafeCard(card, strings.TrimLeft(text[1:], " \t+"), false)
			}
		default:
			card = firstWord(text)
			inside = true
			why = unsafeCard(card, text, true)
		}
		if why != "" {
			return &Unsafe{i + 1, shorten(line, 80), why}
		}
	}
	return nil
}

// unsafeCard says why a card must not be passed on, or nothing. text is one of its lines, without the +; first says
// that it is the one with the card's name.
func unsafeCard(card, text string, first bool) string {
	text = withoutRemark(text)
	for _, r := range text {
		if r > '~' {
			return "has letters beyond ASCII outside of a comment"
		}
	}
	if strings.Contains(text, "`") {
		return "a backquote runs commands"
	}
	if fileWords.MatchString(text) {
		return "opens a file"
	}
	words := strings.Fields(strings.ToLower(text))
	for _, w := range words {
		if slices.Contains([]string{".control", ".include", ".inc", ".lib", ".endc", ".end", ".exec", ".write"}, w) {
			return w + " has no place in a circuit's description; copy the models themselves"
		}
	}
	switch {
	case card[0] == '.':
		return unsafeDot(card, words, first)
	case !strings.ContainsRune(elements, rune(card[0])):
		return "no element of a circuit that this program writes"
	case card == "shell" || !elementName.MatchString(card):
		return "no name of an element"
	}
	return ""
}

// withoutRemark returns a card's line up to what ngspice passes over: from ";" or "//", or "$" at a word's beginning.
func withoutRemark(text string) string {
	for i := range len(text) {
		switch {
		case text[i] == ';', strings.HasPrefix(text[i:], "//"),
			text[i] == '$' && (i == 0 || strings.IndexByte(" \t,", text[i-1]) >= 0):
			return text[:i]
		}
	}
	return text
}

func unsafeDot(card string, words []string, first bool) string {
	if !slices.Contains(cards, card) {
		hint := ""
		if card == ".include" || card == ".inc" || card == ".lib" {
			hint = "; copy the models themselves"
		}
		return card + " has no place in a circuit's description" + hint
	}
	switch card {
	case ".model":
		if !first {
			return ""
		}
		if len(words) < 3 {
			return "a model needs a name and a type"
		}
		kind, _, _ := strings.Cut(words[2], "(")
		if !slices.Contains(modelTypes, kind) {
			return fmt.Sprintf("models of type %q are not passed on; these are: %s", kind, strings.Join(modelTypes, ", "))
		}
	case ".option", ".options", ".opt":
		if first {
			words = words[1:]
		}
		for _, w := range strings.Fields(spacedEq.ReplaceAllString(strings.Join(words, " "), "=")) {
			key, value, _ := strings.Cut(w, "=")
			if !optionWord.MatchString(key) || !slices.Contains(options, key) || strings.ContainsAny(value, `"'$`) {
				return fmt.Sprintf("option %q is not passed on", key)
			}
		}
	}
	return ""
}

// SafeName says whether a name or value from elsewhere can stand in a line of a deck as one word: printable ASCII without
// blanks, line breaks and what else would end it or begin something (, = ( ) ; $ quotes braces ` \), not empty, not
// beginning with * + or a full stop. Package spice makes such names of any; this is for those that go in as they are.
func SafeName(name string) error {
	for i, r := range name {
		if r <= ' ' || r > '~' || strings.ContainsRune(",=();$\"'{}`\\", r) {
			return fmt.Errorf("name %q: %q, its character %d, would not stay within the name in a deck; take another", shorten(name, 80), r, i+1)
		}
	}
	if name == "" || strings.ContainsRune("*+.", rune(name[0])) || strings.Contains(name, "//") {
		return fmt.Errorf("name %q: would be no name in a deck; take another", shorten(name, 80))
	}
	return nil
}

// printable says whether s has no control character but tab, and no other that would not show or would end a line.
func printable(s string) bool {
	for _, r := range s {
		if r != '\t' && !strconv.IsPrint(r) {
			return false
		}
	}
	return true
}

// shorten returns at most n letters of s.
func shorten(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}
