//go:build unix

package workbench

import (
	"strings"
	"testing"
)

// TestLongPage: nothing is left of a page that covered all of the picture, neither when it is closed nor when a shorter one follows.
func TestLongPage(t *testing.T) {
	u := underTest(t, 80, 24, answersPlain)
	u.shows("▙▄▄") // the picture
	before := u.picture()
	for _, then := range []string{"c", "p"} {
		u.types("P")
		u.shows("over all")
		u.types(then)
		u.until("the picture without the page", func() bool {
			return !strings.Contains(u.screen(), "over all") && !strings.Contains(u.screen(), "long page")
		})
		if then == "c" {
			u.until("the picture as it was", func() bool { return u.picture() == before })
		}
	}
	u.shows("with a line")
	u.types("q")
	u.ends()
}

// picture is what is shown between head and foot.
func (u *terminalUnder) picture() string {
	rows := strings.Split(u.screen(), "\n")
	return strings.Join(rows[1:len(rows)-1], "\n")
}
