package desk

import (
	"math"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
)

// pageText is all of the page that is open, a line each.
func (b *bench) pageText() (lines []string) {
	b.t.Helper()
	p := b.Page()
	if p == nil {
		b.t.Fatal("no page is open")
	}
	for _, l := range p.Lines {
		lines = append(lines, line(l))
	}
	return lines
}

// TestKeyPage: ? shows what holds at this station, a second one all; what is typed is looked for among all keys and commands, each word of
// it; Esc gives up first the search, then the page.
func TestKeyPage(t *testing.T) {
	b := open(t, create(t, "stripped"), Options{Verbs: []Verb{{Words: "trace import", Short: "bring drawings in"}}})
	defer b.close()
	has := func(what string) bool {
		return slices.ContainsFunc(b.pageText(), func(l string) bool { return strings.Contains(l, what) })
	}
	b.keys("3", "?")
	if n := len(b.pageText()); n > 110 || !has("rectangle along the die's axes") || !has("magnify or reduce") || !has("drag from nothing") || has("another kind of map") {
		t.Errorf("%d lines: %v", n, b.pageText())
	}
	b.keys("?")
	if !has("another kind of map") || !has(":trace import") {
		t.Error("not all is shown")
	}
	b.keys("?", "m", "i", "r", "Space", "l", "e", "f", "t")
	if got := b.pageText(); len(got) != 3 || got[0] != "3 trace" || !strings.HasPrefix(got[1], "  h ") {
		t.Errorf("“mir left” finds %q", got)
	}
	if !strings.Contains(b.Page().Title, "“mir left”: 1") {
		t.Errorf("titled %q", b.Page().Title)
	}
	b.keys("x")
	if got := b.pageText(); len(got) != 1 || !strings.Contains(got[0], "nothing has these words") {
		t.Errorf("“mir leftx” finds %q", got)
	}
	b.keys("Backspace")
	if got := b.pageText(); len(got) != 3 {
		t.Errorf("a letter less finds %q", got)
	}
	b.keys("Esc")
	if !has("rectangle along the die's axes") {
		t.Error("Esc did not give up the search alone")
	}
	b.keys("Esc")
	if b.Page() != nil {
		t.Error("Esc did not close the page")
	}
	b.keys("?", "d", "r", "a", "w", "i", "n", "g", "s", "Esc", "Backspace")
	if b.Page() != nil {
		t.Error("Backspace did not close the page")
	}
}

// TestKeyOverPage: a letter or F key that a page has no use for closes it, and does what it does beside it; on the page of keys a letter is
// looked for.
func TestKeyOverPage(t *testing.T) {
	b := open(t, create(t, "stripped"), Options{})
	defer b.close()
	b.keys(":calibrate 16.5 0.03")
	for key, done := range map[string]func() bool{
		":":  func() bool { return b.Prompt() != nil },
		"3":  func() bool { return b.station == tracing },
		"F4": func() bool { return b.list != nil && b.list.kind == "nets" },
	} {
		b.page = &page{Text: Text{Title: "a result"}}
		if b.keys(key); b.Page() != nil || !done() {
			t.Errorf("%s over a page: open %v, done %v", key, b.Page() != nil, done())
		}
		b.line = nil
	}
	b.keys("?", "F5")
	if b.Page() != nil || b.list == nil || b.list.kind != "checks" {
		t.Error("F5 over the page of keys does not show the checks")
	}
}

// TestToolSizes: the tools that draw what has a width say it, and how to change it, where one reads what to do.
func TestToolSizes(t *testing.T) {
	b := open(t, create(t, "stripped"), Options{})
	defer b.close()
	b.keys(":calibrate 16.5 0.03", "3", ":width 0.8", "w")
	if s := footText(b); !strings.Contains(s, "0.8 µm wide: W") {
		t.Errorf("a wire: %q", s)
	}
	b.keys(":size 0.5,0.6", "c")
	if s := footText(b); !strings.Contains(s, "0.5 × 0.6 µm: C") {
		t.Errorf("a stamp: %q", s)
	}
}

// TestToolWithoutScale: a tool that draws is not taken up over a photograph without a scale, and what gives it one is said; the ruler is.
func TestToolWithoutScale(t *testing.T) {
	b := open(t, create(t, "stripped"), Options{})
	defer b.close()
	b.keys("3")
	for _, key := range []string{"r", "p", "w", "c"} {
		if b.keys(key); b.tool != nil || !strings.Contains(b.said.text, ":length UM SIGMA") {
			t.Errorf("%s: tool %v, said %q", key, b.tool, b.said.text)
		}
	}
	if b.keys("1", "r"); b.tool == nil || b.tool.name != "ruler" {
		t.Error("the ruler is not taken up")
	}
}

// TestMarkOf: the list of layers says of a mark what is taken for what where it lies, as the stack does.
func TestMarkOf(t *testing.T) {
	b := open(t, create(t, "stripped"), Options{})
	defer b.close()
	b.keys(":calibrate 16.5 0.03")
	i := len(b.stack.Layers)
	b.stack.Layers = append(b.stack.Layers, stack.Layer{Name: "photo", Role: stack.Mark}, stack.Layer{Name: "other", Role: stack.Mark})
	b.stack.Diodes = append(b.stack.Diodes, stack.DiodeRule{Model: "photodiode", Where: []stack.Condition{{Layer: layout.Layer(i)}}})
	b.stack.MOS = append(b.stack.MOS, stack.MOSRule{Model: "thick", Where: []stack.Condition{{Layer: layout.Layer(i), Not: true}}})
	if got := b.roleText(i); got != "mark of photodiode" {
		t.Errorf("a mark with a rule is said to be a %q", got)
	}
	if got := b.roleText(i + 1); got != "mark" {
		t.Errorf("a mark without one is said to be a %q", got)
	}
}

// TestLength: the ruler along what has a known length gives the scale. By hand: from (100, 300) to (500, 600) px are 500 px; 8 µm along
// them make a pixel 16 nm. Marks good to a px in each coordinate, at both ends, make 500 ± √2 px of it, 0.02 µm of 8 are 1/400 as much
// again: 16·√(2/500² + 1/400²) nm.
func TestLength(t *testing.T) {
	b := open(t, create(t, "stripped"), Options{})
	defer b.close()
	if text := line(b.Foot()); !strings.Contains(text, "stripped has no scale: r, Space at both ends") {
		t.Errorf("the foot says %q", text)
	}
	b.keys(":length 8 0.02")
	if !strings.Contains(b.said.text, "lay the ruler") {
		t.Errorf("said: %s", b.said.text)
	}
	b.keys("r", ":at 100,300px", "Space", ":at 500,600px", "Space", ":length 8 0.02")
	b.failing("length")
	s := b.photos[0].l.Scale
	if want := 16 * math.Sqrt(2.0/500/500+1.0/400/400); math.Abs(s.NmPerPx-16) > 1e-9 || math.Abs(s.Sigma-want) > 1e-9 {
		t.Errorf("%v ± %v, not 16 ± %v", s.NmPerPx, s.Sigma, want)
	}
	b.settle()
	b.keys(":at 0,640px") // the lower left corner is the frame's origin now
	if at := b.where(); at != (geom.Vec{}) {
		t.Errorf("it lies at %v", at)
	}
	b.keys(":at 700,0px")
	if !strings.Contains(b.said.text, "stripped has 680 × 640 pixels: that lies beside it") {
		t.Errorf("said: %s", b.said.text)
	}
	b.keys("r", ":at 100,300px", "Space", ":at 500,600px", "Space", ":length 8")
	if !strings.Contains(b.said.text, "taken as exact") {
		t.Errorf("said: %s", b.said.text)
	}
}

// TestHowWell: the photograph that fixes the frame has no residual, and none is told; nor is one of two points, which any similarity
// goes through. A third point leaves one.
func TestHowWell(t *testing.T) {
	b := open(t, create(t, "stripped", "metal"), Options{})
	defer b.close()
	b.keys(":calibrate 16.5 0.03", "2", "Tab", ":at 117.6,104.8px", "Space", ":at 161,103.4px", "Space")
	b.keys("Tab", ":at 498.7,81.9px", "Space", ":at 646,117px", "Space", "a")
	b.failing("accept")
	note := func(i int) string { return b.photoRows()[i].Note }
	if note(0) != "fixes the frame" || note(1) != "registered, 2 control points, none of which is left over to tell how well it fits" {
		t.Errorf("%q, %q", note(0), note(1))
	}
	b.keys("Tab", ":at 140,484.8px", "Space", ":at 147.1,587.6px", "Space", "a")
	b.failing("accept")
	if !strings.HasPrefix(note(1), "registered, 3 control points, rms 0.") {
		t.Errorf("%q", note(1))
	}
}

// TestKeysGoToThePicture: a tool that is taken up while a list has the keys wants them, and so does another station.
func TestKeysGoToThePicture(t *testing.T) {
	b := bare(t)
	for _, take := range []string{"r", "4"} {
		b.keys("3", "F2")
		if !b.Side().Focus {
			t.Fatal("the list has not got the keys")
		}
		if b.keys(take); b.Side() == nil || b.Side().Focus {
			t.Errorf("after %s the list still has the keys", take)
		}
		b.keys("F2", "F2")
	}
}

// TestPixelsTyped: places may be pixels of the photograph. By hand: 16 nm a pixel, 640 rows: (100, 540) px is (1.6, 1.6) µm.
func TestPixelsTyped(t *testing.T) {
	b := open(t, create(t, "stripped"), Options{})
	defer b.close()
	b.keys(":rectangle 100,540px 200,500px")
	if !strings.Contains(b.said.text, "no scale yet") {
		t.Errorf("said: %s", b.said.text)
	}
	b.keys(":calibrate 16 0.03", "3", ":rectangle 100,540px 200,500px")
	b.failing("rectangle")
	b.want("drawn", "diffusion 1600,1600 3200,2240 area 1024000")
	b.keys(":rectangle 100,540px 700,500px")
	if !strings.Contains(b.said.text, "700,500px lies beside it") {
		t.Errorf("said: %s", b.said.text)
	}
	b.settle()
}
