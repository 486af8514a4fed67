package desk

import (
	"strings"
	"testing"
)

// footText is all that the lines below say.
func footText(b *bench) string {
	var s strings.Builder
	for _, p := range append(b.Walk(), b.Foot()...) {
		s.WriteString(p.Text)
	}
	return s.String()
}

// TestWalkFromPhotographs: of a dossier that holds two photographs as they came, the walk leads through scale and pairs to drawing,
// and leaves none of its steps out.
func TestWalkFromPhotographs(t *testing.T) {
	b := open(t, create(t, "stripped", "metal"), Options{})
	defer b.close()
	b.keys("F1")
	for _, step := range [][]string{
		{"Left"}, {"+"}, {"0"}, {"b"}, {"D"}, {":calibrate 16.5 0.03"}, {"2"},
		{"Space", "Space", "Tab", "Shift+Right", "Space", "Shift+Right", "Space"},
		{"a"}, {"3"}, {")"}, {"r"}, {"Space", "Shift+Right", "Shift+Up", "Space"}, {"u"}, {"F4"}, {"F6"}, {"?"},
	} {
		before := b.walk
		b.keys(step...)
		if b.walk != before+1 && !(b.walk == 0 && before == len(walkSteps)) {
			t.Fatalf("%q leads from step %d to step %d: %s", step, before, b.walk, footText(b))
		}
	}
}

// TestWalkShowsTrouble: what went wrong is seen during the walk too, and what was said besides the step.
func TestWalkShowsTrouble(t *testing.T) {
	b := open(t, create(t, "stripped", "metal"), Options{})
	defer b.close()
	b.keys("F1", ":quux")
	if s := footText(b); !strings.Contains(s, `no verb "quux"`) || !strings.Contains(s, "walk 1") {
		t.Errorf("the foot says %q", s)
	}
	b.keys("2")
	if s := footText(b); !strings.Contains(s, ":calibrate NM SIGMA") {
		t.Errorf("at a station that wants a scale the foot says %q", s)
	}
	b.keys("g")
	if s := footText(b); !strings.Contains(s, "snapping is") {
		t.Errorf("the foot says %q", s)
	}
}

// TestWalkEnds: F1 passes over a step, and Esc ends the walk with a word.
func TestWalkEnds(t *testing.T) {
	b := open(t, create(t, "stripped"), Options{})
	defer b.close()
	b.keys("F1", "F1")
	if b.walk != 2 {
		t.Errorf("F1 leads from step 1 to step %d", b.walk)
	}
	b.keys("Esc")
	if s := footText(b); b.walk != 0 || !strings.Contains(s, "the walk is over") {
		t.Errorf("step %d, and the foot says %q", b.walk, s)
	}
	b.keys("F1")
	for n := 0; b.walk > 0; n++ {
		if b.keys("F1"); n == len(walkSteps) {
			t.Fatalf("passing over all leads to step %d", b.walk)
		}
	}
}

// TestHalfPair: the foot names the photograph that the keys went to, and does not send them back.
func TestHalfPair(t *testing.T) {
	b := open(t, create(t, "stripped", "metal"), Options{})
	defer b.close()
	b.keys("2")
	if s := footText(b); !strings.Contains(s, ":calibrate NM SIGMA") {
		t.Errorf("without a scale the foot says %q", s)
	}
	b.keys(":calibrate 16.5 0.03", "Space")
	if s := footText(b); b.eye != 1 || !strings.Contains(s, "in metal") || strings.Contains(s, "Tab goes") {
		t.Errorf("the foot says %q", s)
	}
}

// TestExactPairs: two pairs fix a similarity, and rounding errors are not said to be residuals.
func TestExactPairs(t *testing.T) {
	b := open(t, create(t, "stripped", "metal"), Options{})
	defer b.close()
	b.keys(":calibrate 16.5 0.03", "2", "Space", "Space", "Tab", "Shift+Right", "Shift+Up", "Space", "Shift+Right", "Alt+Up", "Space", "l")
	if s := footText(b); b.pairs.fit == nil {
		t.Fatalf("no fit: %s", s)
	}
	text := b.said.text
	for _, r := range b.pairRows() {
		text += "\n" + r.Note
	}
	if strings.Contains(text, "e-") || strings.Contains(text, "-0.00") {
		t.Error(text)
	}
	b.keys("a")
	if strings.Contains(b.said.text, "e-") {
		t.Error(b.said.text)
	}
}
