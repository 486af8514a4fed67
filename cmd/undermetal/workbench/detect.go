package workbench

import (
	"bytes"
	"os"
	"regexp"
	"strconv"
	"time"

	"golang.org/x/term"

	"undermetal/cmd/undermetal/workbench/glyph"
	"undermetal/cmd/undermetal/workbench/graphics"
)

// Pixels says how the picture is put on the terminal.
type Pixels int

// The ways of a picture.
const (
	Auto   Pixels = iota // the best that the terminal says it has
	Kitty                // real pixels, by the kitty protocol
	Sixel                // real pixels, by sixels
	Glyphs               // block characters
)

// answerTime is how long a terminal may take to say what it can show. Every terminal answers the last question (see
// graphics.Query); far away, over several hosts, it takes some tenths of a second.
const answerTime = time.Second

// queryLimits asks how many colours sixels have, wants 256, asks again, as the terminal may not allow it, and asks how large they
// may be: XTSMGRAPHICS, items 1 and 2 (ctlseqs of xterm, from memory). A VT340 has 16 colours, and so has an xterm that is
// one. It comes before graphics.Query, whose last answer ends all.
const queryLimits = "\x1b[?1;1;0S\x1b[?1;3;256S\x1b[?1;1;0S\x1b[?2;1;0S"

// sixelSide is how many px a sixel picture has at most, in each direction, where the terminal does not say: xterm's limit.
const sixelSide = 1000

// abilities are what a terminal said that it can do.
type abilities struct {
	graphics.Capabilities
	SixelWidth, SixelHeight int // px; 0: it did not say
	Colours, ColoursBefore  int // of sixels, now and before they were asked for; 0: it did not say
}

// ask puts questions to a terminal in raw mode; what was typed meanwhile is left in Rest.
func ask(tty *os.File, limit time.Duration) (abilities, error) {
	before, err := term.MakeRaw(int(tty.Fd()))
	if err != nil {
		return abilities{}, err
	}
	defer term.Restore(int(tty.Fd()), before)
	if _, err := tty.WriteString(queryLimits + graphics.Query); err != nil {
		return abilities{}, err
	}
	end := time.Now().Add(limit)
	var answer []byte
	b := make([]byte, 4096)
	for {
		a := parseAnswer(answer)
		if a.Done || !time.Now().Before(end) {
			return a, nil
		}
		n, err := readBefore(tty, b, end)
		answer = append(answer, b[:n]...)
		if err != nil {
			return parseAnswer(answer), nil // that it says nothing is an answer, too
		}
	}
}

var limitAnswer = regexp.MustCompile("\x1b\\[\\?([12]);0;([0-9]{1,6})(?:;([0-9]{1,6}))?S")
var limitRefused = regexp.MustCompile("\x1b\\[\\?[12];[123](?:;[0-9]*)*S")

// parseAnswer is graphics.Parse with the limits of sixels.
func parseAnswer(answer []byte) abilities {
	a := abilities{Capabilities: graphics.Parse(answer)}
	for _, m := range limitAnswer.FindAllSubmatch(a.Rest, -1) {
		first, _ := strconv.Atoi(string(m[2]))
		second, _ := strconv.Atoi(string(m[3]))
		switch {
		case string(m[1]) == "1" && first > 1:
			if a.Colours == 0 {
				a.ColoursBefore = first
			}
			a.Colours = first
		case string(m[1]) == "2" && first > 0 && second > 0:
			a.SixelWidth, a.SixelHeight = first, second
		}
	}
	if bytes.Contains(a.Rest, []byte("\x1b[?")) {
		a.Rest = limitRefused.ReplaceAll(limitAnswer.ReplaceAll(a.Rest, nil), nil)
	}
	return a
}

// choose returns how the picture is shown, by what the terminal can do and the user wants.
func (a abilities) choose(want Pixels) Pixels {
	switch {
	case want != Auto:
		return want
	case a.Kitty:
		return Kitty
	case a.Sixel:
		return Sixel
	}
	return Glyphs
}

// coloursOf says how many colours a terminal has, by the number that tcell knows of it, and whether it can show more than ASCII.
func coloursOf(n int, utf8 bool) glyph.Style {
	s := glyph.Style{ASCII: !utf8}
	switch {
	case n >= 1<<24:
		s.Colours = glyph.True
	case n >= 256:
		s.Colours = glyph.Indexed
	default:
		s.Colours = glyph.Mono
	}
	return s
}
