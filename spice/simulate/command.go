package simulate

import (
	"fmt"
	"regexp"
	"strings"
)

// Commands are written by this project, but with names in them that came from elsewhere. So they, too, pass a gate: the
// verbs below, and only characters that mean nothing to the simulator's shell ("<", ">", "$", "!", ";", "`", quotes …
// do).
var (
	analysisName = regexp.MustCompile(`^[A-Za-z0-9_-]{1,64}$`)
	plainCommand = regexp.MustCompile(`^[A-Za-z0-9_ .,=+*/@:#()\[\]-]*$`)
	// A node may have any character that is printed, save those that end a word or a card, and quotes.
	saveVector  = regexp.MustCompile("^(?:[vViI]\\([^\\s,=();$\"'{}`\\\\]+\\)|@[^\\s,=();$\"'{}`\\\\\\[\\]]+\\[[A-Za-z0-9_]+\\]|[A-Za-z_][A-Za-z0-9_]*)$")
	beforeVerbs = map[string]bool{"alter": true, "altermod": true, "alterparam": true, "set": true, "unset": true, "option": true, "reset": true}
	settings    = map[string]bool{"temp": true, "tnom": true, "filetype": true, "numdgt": true, "num_threads": true, "nopadding": true}
)

// check is the last gate before a deck is run.
func (d *Deck) check() error {
	if len(d.Analyses) == 0 {
		return fmt.Errorf("%w: it has no analysis", ErrDeck)
	}
	seen := map[string]bool{}
	for i := range d.Analyses {
		a := &d.Analyses[i]
		key := strings.ToLower(a.Name)
		switch {
		case !analysisName.MatchString(a.Name):
			return fmt.Errorf("%w: an analysis is called %q; letters, digits, _ and - will do", ErrDeck, a.Name)
		case key == "deck" || seen[key]:
			return fmt.Errorf("%w: the name %q of an analysis is taken", ErrDeck, a.Name)
		case len(a.Save) == 0:
			return fmt.Errorf("%w: analysis %s gives no vector", ErrDeck, a.Name)
		}
		seen[key] = true
		if kinds[firstWord(a.Command)] == "" || !plainCommand.MatchString(a.Command) {
			return fmt.Errorf("%w: analysis %s: %q is none of op, tran, dc, ac, noise in plain characters", ErrDeck, a.Name, a.Command)
		}
		for _, c := range a.Before {
			if err := checkBefore(c); err != nil {
				return fmt.Errorf("%w: analysis %s: %v", ErrDeck, a.Name, err)
			}
		}
		for _, s := range a.Save {
			if !saveVector.MatchString(s) || !printable(s) {
				return fmt.Errorf("%w: analysis %s: %q is no vector; v(node), i(source), @device[parameter] are", ErrDeck, a.Name, s)
			}
		}
	}
	if err := Safe(d.Body); err != nil {
		return fmt.Errorf("%w: %w", ErrDeck, err)
	}
	return nil
}

func checkBefore(c string) error {
	verb := firstWord(c)
	if !beforeVerbs[verb] || !plainCommand.MatchString(c) {
		return fmt.Errorf("%q is none of alter, altermod, alterparam, set, unset, option, reset in plain characters", c)
	}
	if verb == "set" || verb == "unset" {
		f := strings.FieldsFunc(c, func(r rune) bool { return r == ' ' || r == '=' })
		if len(f) < 2 || !settings[strings.ToLower(f[1])] {
			return fmt.Errorf("%q: only temp, tnom, filetype, numdgt, num_threads and nopadding can be set", c)
		}
	}
	return nil
}
