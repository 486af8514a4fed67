package desk

import (
	"strings"
	"testing"
)

// TestLeave: what is begun and no edit yet is not lost without a word; a second Ctrl+q leaves all the same.
func TestLeave(t *testing.T) {
	path := create(t, "stripped", "metal")
	for _, tc := range []struct {
		name  string
		begin []string
		says  string // empty: nothing would be lost
	}{
		{"nothing", nil, ""},
		{"pairs", []string{"2", "Space", "Space"}, "a in the station register accepts them"},
		{"half a pair, from another station", []string{"2", "Space", "1"}, "a in the station register accepts them"},
		{"corners", []string{"3", "p", "Space", "Shift+Right", "Space"}, "2 corners of a polygon: Enter ends it"},
		{"an edit", []string{"3", "r", "Space", "Shift+Right", "Shift+Up", "Space"}, ""},
		{"accepted", []string{"2", "Space", "Space", "Tab", "Shift+Right", "Shift+Up", "Space", "Shift+Right", "Space", "a"}, ""},
		{"looked at again", []string{"2"}, ""},
	} {
		t.Run(tc.name, func(t *testing.T) {
			b := open(t, path, Options{})
			defer b.close()
			if b.photos[b.base].l.ToFrame == nil {
				b.keys(":calibrate 16.5 0.03")
			}
			b.keys(tc.begin...)
			b.failing("beginning")
			b.keys("Ctrl+q")
			if tc.says == "" {
				if !b.Done() {
					t.Errorf("it does not leave: %s", footText(b))
				}
				return
			}
			if s := footText(b); b.Done() || !strings.Contains(s, tc.says) {
				t.Errorf("left: %v, and the foot says %q", b.Done(), s)
			}
			if b.keys("Ctrl+q"); !b.Done() {
				t.Error("a second Ctrl+q does not leave")
			}
		})
	}
}

// TestLeaveLater: who stayed after the warning is warned again of what he has begun since, though it is told by the same words.
func TestLeaveLater(t *testing.T) {
	b := bare(t)
	b.keys("p", ":at 0,0", "Space", ":at 1,0", "Space", "Ctrl+q")
	if b.Done() || !strings.Contains(b.said.text, "2 corners of a polygon") {
		t.Fatalf("said: %s", b.said.text)
	}
	b.keys(":at 1,1", "Space", "Enter", ":at 5,5", "Space", ":at 6,5", "Space", "Ctrl+q")
	if b.Done() || !strings.Contains(b.said.text, "2 corners of a polygon") {
		t.Errorf("left, and two other corners are lost; said: %s", b.said.text)
	}
	b.keys(":quit")
	if !b.Done() {
		t.Errorf("still there: %s", b.said.text)
	}
}
