package spice

import (
	"context"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"undermetal/spice/simulate"
	"undermetal/spice/simulate/simulatetest"
)

// run lets ngspice read a deck, with the commands behind it, and returns everything it says, in lower case. err is what
// is wrong with the run: how it ended, or a word that ngspice complains with (it often exits with 0 all the same).
func run(t testing.TB, deck, commands string) (string, error) {
	t.Helper()
	r := simulate.Runner{Program: simulatetest.Path(t), Limit: 30 * time.Second}
	said, complaints, err := r.Batch(context.Background(), deck+"\n.control\n"+commands+"\nquit 0\n.endc\n.end\n")
	said = strings.ToLower(said)
	if err == nil && len(complaints) > 0 {
		err = fmt.Errorf("ngspice says: %v", complaints[0])
	}
	if err == nil { // what is no complaint to those who only want figures is one here
		for _, word := range []string{"error", "aborted", "failed", "warning", "can't find"} {
			if strings.Contains(said, word) {
				err = fmt.Errorf("ngspice says %q", word)
				break
			}
		}
	}
	return said, err
}

// accept runs a deck that ngspice must not complain about.
func accept(t testing.TB, deck, commands string) string {
	t.Helper()
	said, err := run(t, deck, commands)
	if err != nil {
		t.Fatalf("%v\n%s\n--- the deck:\n%s", err, said, deck)
	}
	return said
}

// printed returns the value that ngspice printed for name.
func printed(t testing.TB, said, name string) float64 {
	t.Helper()
	m := regexp.MustCompile(`(?m)^` + regexp.QuoteMeta(strings.ToLower(name)) + ` = ([-+.0-9e]+)`).FindStringSubmatch(said)
	if m == nil {
		t.Fatalf("ngspice printed no %s:\n%s", name, said)
	}
	v, err := strconv.ParseFloat(m[1], 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func near(a, b, relative float64) bool { return math.Abs(a-b) <= relative*math.Abs(b) }

// TestRunSeesErrors: the helper is worth something only if it notices.
func TestRunSeesErrors(t *testing.T) {
	for name, deck := range map[string]string{
		"a name twice":          "t\nR1 a 0 1k\nR1 a 0 1k",
		"an unknown parameter":  "t\nM1 a a 0 0 n ng=2\n.model n nmos",
		"a missing model":       "t\nM1 a a 0 0 n",
		"a missing subcircuit":  "t\nX1 a b none",
		"three nodes":           "t\nM1 a a 0 n\n.model n nmos",
		"a resistor of nothing": "t\nV1 a 0 1\nR1 a",
		"a code model":          "t\nA1 a 0 1k",
		"a net named as model":  "t\n.subckt s n\nM1 n n 0 0 n\n.ends\n.model n nmos\nX1 n s\nV1 n 0 1",
	} {
		if said, err := run(t, deck, "op"); err == nil {
			t.Errorf("%s: nothing noticed\n%s", name, said)
		}
	}
}
