package desk

import (
	"context"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/layout/geom"
)

// TestTable: no key means two things in one place, every binding says what it does, and the key page shows each.
func TestTable(t *testing.T) {
	seen := map[string]bool{}
	b := open(t, create(t), Options{Verbs: []Verb{{Words: "trace label", Short: "labels", Dossier: true}}})
	defer b.close()
	b.keys("?")
	var page strings.Builder
	for _, l := range b.Page().Lines {
		for _, s := range l {
			page.WriteString(s.Text)
		}
		page.WriteByte('\n')
	}
	for _, x := range bindings {
		if x.what == "" || x.do == nil || len(x.keys) == 0 {
			t.Errorf("%+v", x)
		}
		for _, k := range x.keys {
			if id := fmt.Sprint(x.where, k); seen[id] {
				t.Errorf("%s means two things %s", k, whereWords[x.where])
			} else {
				seen[id] = true
			}
			if got := key(k).String(); got != k {
				t.Errorf("%q is written as %q", k, got)
			}
		}
		if !strings.Contains(page.String(), keyList(x.keys)) || !strings.Contains(page.String(), x.what) {
			t.Errorf("the key page lacks %v", x.keys)
		}
	}
	for _, v := range verbs {
		if !strings.Contains(page.String(), ":"+v.name) {
			t.Errorf("the key page lacks :%s", v.name)
		}
	}
	if !strings.Contains(page.String(), ":trace label") {
		t.Error("the key page lacks the command's verbs")
	}
	names := map[string]bool{}
	for _, v := range verbs {
		if names[v.name] {
			t.Errorf("two verbs %s", v.name)
		}
		names[v.name] = true
	}
}

// TestCommand: a verb of the command gets the dossier that is open, what it prints is shown, and what it changes is taken over.
func TestCommand(t *testing.T) {
	var got []string
	var b *bench
	run := func(ctx context.Context, args []string, out, errs io.Writer) int {
		got = args
		switch args[len(args)-1] {
		case "panic":
			panic("on purpose")
		case "fail":
			fmt.Fprint(errs, "undermetal: it failed\n    do it otherwise\n")
			return 1
		case "wait":
			<-ctx.Done()
			return 1
		}
		if Held(ctx) != b.dos {
			fmt.Fprint(errs, "another dossier\n")
		}
		fmt.Fprint(errs, "working 10 %\rworking 100 %\r\n")
		fmt.Fprint(out, "one\n\x1b[31mtwo\n")
		return 0
	}
	o := Options{Run: run, Verbs: []Verb{{Words: "trace label", Short: "labels", Dossier: true}, {Words: "trace area", Dossier: true}, {Words: "version"}},
		Complete: func(_ context.Context, args []string) []Candidate {
			return []Candidate{{Text: strings.Join(args, "+")}}
		}}
	b = open(t, create(t), o)
	defer b.close()
	b.keys(":trace label 'RST 1' --layer metal1")
	b.settle()
	if want := []string{"trace", "label", b.path, "RST 1", "--layer", "metal1"}; !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
	var lines []string
	for _, l := range b.Page().Lines {
		lines = append(lines, l[0].Text)
	}
	if want := []string{"working 100 %", "one", "\uFFFD[31mtwo"}; !slices.Equal(lines, want) {
		t.Errorf("%q", lines)
	}
	b.keys("Esc", ":version fail")
	b.settle()
	if b.said.tone != Failure || !strings.Contains(b.said.text, "it failed") || !slices.Equal(got, []string{"version", "fail"}) {
		t.Errorf("%+v after %q", b.said, got)
	}
	b.keys("Esc", ":version panic")
	b.settle()
	if b.said.tone != Failure || !strings.Contains(b.said.text, "on purpose") {
		t.Errorf("%+v", b.said)
	}
	b.keys(":version wait", ":version again")
	if !strings.Contains(b.said.text, ":stop") {
		t.Errorf("%+v", b.said)
	}
	b.keys(":stop")
	b.settle()
	if text, _ := b.Busy(); text != "" {
		t.Error(text)
	}

	// Completion: own verbs, words of the command's, and what it says itself.
	for _, c := range []struct {
		typed string
		want  []string
	}{
		{"tra", []string{"trace"}}, {"trace ", []string{"label", "area"}}, {"layer p", []string{"poly", "photo"}}, {"rect", []string{"rectangle"}},
		{"trace label x", []string{"trace+label+" + b.path + "+x"}}, {"show b", []string{"blend", "blink"}}, {"zzz", nil},
	} {
		b.keys("Esc", ":") // the page of the failure is open
		if b.Prompt() == nil {
			b.keys(":")
		}
		for _, r := range c.typed {
			b.Key(Key{Rune: r})
		}
		b.settle()
		var have []string
		for _, x := range b.Prompt().Candidates {
			have = append(have, x.Text)
		}
		slices.Sort(have)
		slices.Sort(c.want)
		if !slices.Equal(have, c.want) {
			t.Errorf("%q: %q, want %q", c.typed, have, c.want)
		}
		b.keys("Esc")
	}
	b.keys(":")
	for _, r := range "rec" {
		b.Key(Key{Rune: r})
	}
	b.keys("Tab")
	if text := string(b.Prompt().Text); text != "rectangle " {
		t.Errorf("%q", text)
	}
	b.keys("Esc")
	b.Paste("go 3,4\nquit\n")
	if text := string(b.Prompt().Text); text != "go 3,4" || b.Done() {
		t.Errorf("%q", text)
	}
	b.keys("Enter")
	if v := b.where(); v.X != 3 || v.Y != 4 {
		t.Errorf("%v", v)
	}
}

// TestFaults: a panic and an error in the background are messages; the desk goes on, and closes with work under way.
func TestFaults(t *testing.T) {
	b := open(t, create(t), Options{})
	b.settle()
	j := b.jobs["circuit"]
	do := j.do
	b.mu.Lock()
	j.do = func(*Desk, context.Context, *job) (func(*Desk), error) { panic("on purpose") }
	b.mu.Unlock()
	b.keys(":rectangle 0,0 1,1")
	b.settle()
	if b.said.tone != Failure || !strings.Contains(b.said.text, "on purpose") || !strings.Contains(b.said.text, "as it was") {
		t.Errorf("%+v", b.said)
	}
	b.mu.Lock()
	j.do = func(*Desk, context.Context, *job) (func(*Desk), error) { return nil, errors.New("it cannot be") }
	b.mu.Unlock()
	b.keys(":rectangle 2,0 3,1")
	b.settle()
	if !strings.Contains(b.said.text, "it cannot be") {
		t.Errorf("%+v", b.said)
	}
	b.mu.Lock()
	j.do = do
	b.mu.Unlock()
	b.keys(":rectangle 4,0 5,1")
	b.settle()
	if len(b.drawn()) != 3 || b.live == nil {
		t.Errorf("%q", b.drawn())
	}
	b.keys(":rectangle 6,0 7,1") // and closed while it is read
	b.close()
}

// TestWalk: the walk goes on as things are done, and passes over what the dossier has nothing for.
func TestWalk(t *testing.T) {
	b := open(t, create(t, "stripped"), Options{FirstRun: true})
	defer b.close()
	b.keys(":calibrate 16.5 0.03") // the walk has begun
	for i, keys := range [][]string{{"Left"}, {"+"}, {"0"}, {"D"}, {"3"}, {")"}, {"r"}, {"Space", "Shift+Right", "Shift+Up", "Space"}, {"u"}, {"F4"}, {"F6"}, {"?"}} {
		before := b.walk
		if foot := footText(b); !strings.Contains(foot, "walk") {
			t.Fatalf("step %d: %s", i, foot)
		}
		b.keys(keys...)
		if b.walk == before {
			t.Fatalf("%q does not end step %d: %s (%s)", keys, before, b.walkText(), b.said.text)
		}
	}
	if b.walk != 0 {
		t.Errorf("the walk goes on: %s", b.walkText())
	}
}

// TestLook: moving, magnifying, turning and coming back; two photographs; contrast, which is kept when asked for.
func TestLook(t *testing.T) {
	b := open(t, create(t, "stripped", "metal"), Options{})
	defer b.close()
	registerMetal(b)
	b.keys("1", ":go 5,4")
	if v := b.where(); v.X != 5 || v.Y != 4 {
		t.Errorf("%v", v)
	}
	scale := b.Scene().View.NmPerPx
	b.keys("+", "+")
	if k := scale / b.Scene().View.NmPerPx; k < 1.99 || k > 2.01 || b.where().X != 5 {
		t.Errorf("magnified by %g about %v", k, b.where())
	}
	b.keys(">", "Right") // turned clockwise, right is still right
	v := b.Scene().View
	x, y := v.ToScreen(b.at().cursor)
	if x < float64(v.Width)/2+0.9*16.5/v.NmPerPx || y < float64(v.Height)/2-0.01 || y > float64(v.Height)/2+0.01 {
		t.Errorf("the cursor is at %g, %g px", x, y)
	}
	b.keys("^", ":go 9,9", "Backspace")
	if v := b.where(); v.X < 5 || v.X > 5.1 {
		t.Errorf("%v", v)
	}
	for _, want := range []picture.Mode{picture.Blend, picture.Blink, picture.Split, picture.Alone} {
		b.keys("v")
		if s := b.Scene(); s.Mode != want || (s.Over.Photo != nil) != (want != picture.Alone) {
			t.Errorf("mode %v, want %v", s.Mode, want)
		}
		if want == picture.Blink {
			b.Tick(time.Unix(100, 0))
			first := b.Scene().Second
			if !b.Tick(time.Unix(101, 0)) || b.Scene().Second == first || !b.Ticking() {
				t.Error("nothing blinks")
			}
		}
	}
	b.keys("D", "W", "Y", "k")
	b.failing("keep")
	s, err := b.dos.Shot("stripped")
	if err != nil || s.Display.Low != 0.02 || s.Display.High != 0.98 || s.Display.Gamma != 1.1 {
		t.Errorf("%+v, %v", s.Display, err)
	}
	b.keys("r", ":at 1,1", "Space", ":at 4,5", "Space")
	if r := b.Scene().Ruler; r == nil || !strings.HasPrefix(r.Text, "5.0") && !strings.HasPrefix(r.Text, "4.99") || !strings.Contains(r.Text, "±") {
		t.Errorf("%+v", r)
	}
	b.keys("F2", "Down", "h")
	if !b.Scene().Layers[1].Hidden || b.Side().Rows[1].Mark != "×" {
		t.Errorf("%+v", b.Side().Rows)
	}
	b.keys("Enter")
	if b.layerName(b.layer) != "poly" || b.Scene().Layers[1].Hidden {
		t.Error("the layer that is drawn on is hidden")
	}
}

// TestRegisterViews: before the pairs are accepted, the photograph can be seen where they take it.
func TestRegisterViews(t *testing.T) {
	b := open(t, create(t, "stripped", "metal"), Options{})
	defer b.close()
	registerMetal(b)
	if n := len(b.pairs.points); n != 4 {
		t.Fatal(n)
	}
	b.keys("v")
	if len(b.Panes()) != 1 {
		t.Error("one photograph at a time")
	}
	one := b.Panes()[0].Title
	b.keys("Tab")
	if other := b.Panes()[0].Title; one+other != "strippedmetal" && one+other != "metalstripped" {
		t.Errorf("%q, then %q", one, other)
	}
	b.keys("v")
	s := b.Scene()
	if s.Mode != picture.Split || s.Over.Photo == nil || !s.Base.Photo.Registered || !s.Over.Photo.Registered {
		t.Errorf("%v", s.Mode)
	}
	b.keys("v", "t")
	if b.pairs.kind != "affine" || len(b.Panes()) != 2 {
		t.Error(b.pairs.kind)
	}
	b.keys("x", "x")
	if b.pairs.fit != nil || !strings.Contains(b.said.text, "wants 3") {
		t.Errorf("%+v", b.said)
	}
	b.keys("a")
	if b.said.tone != Failure {
		t.Errorf("%+v", b.said)
	}
	b.keys("u", "u") // the registration and the calibration
	b.settle()
	if b.located() != nil {
		t.Error("the stripped photograph is calibrated still")
	}
}

// TestScale: a scale that is wrong by far is refused where it would spoil what is drawn; one that is right shows the same place of the
// photograph, and takes the drawing along.
func TestScale(t *testing.T) {
	b := open(t, create(t, "stripped"), Options{})
	defer b.close()
	b.keys(":calibrate 16.5 0.03", ":snap off", "3", ":layer poly", ":polygon 1,1 2,1 2,2 1.5,2 1.49,2.01 1,2")
	b.failing("draw")
	before := all(t, b.dos)
	b.keys(":calibrate 0.2 0.01")
	if b.said.tone != Failure || !strings.Contains(b.said.text, "poly") {
		t.Errorf("%+v", b.said)
	}
	if after := all(t, b.dos); !reflect.DeepEqual(before, after) {
		t.Error("something was changed")
	}
	b.keys(":calibrate 33 0.1")
	b.failing("calibrate")
	shapes, err := b.dos.Shapes(1)
	// Twice as large about the lower left corner of the photograph, which is the frame's origin.
	if want := geom.Box(2000, 2000, 4000, 4020); err != nil || shapes[0].Polygon.Bounds() != want {
		t.Errorf("%v, %v", shapes, err)
	}
	if k := b.Scene().View.NmPerPx; k < 33*640./480 || k > 33*640./480*1.1 {
		t.Errorf("%g nm a px: not all of it is seen", k)
	}
}
