package stack

import (
	"bufio"
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestCorpusStacks reads the stack files beside the published layouts.
func TestCorpusStacks(t *testing.T) {
	root := os.Getenv("UNDERMETAL_CORPUS")
	if root == "" {
		t.Skip("UNDERMETAL_CORPUS is not set: the published layouts are not here to check against")
	}
	for file, layers := range map[string]int{"gf180mcu/gf180mcu.stack.toml": 8, "ihp-sg13g2/ihp-sg13g2.stack.toml": 13} {
		s, err := Load(filepath.Join(root, file))
		if err != nil {
			t.Fatal(err)
		}
		if len(s.Layers) != layers || len(s.MOS) != 2 || len(s.Taps) != 2 || len(s.Diodes) != 2 {
			t.Errorf("%s: %d layers, %d mos, %d taps, %d diodes; want %d, 2, 2, 2 (counted in the file)", file,
				len(s.Layers), len(s.MOS), len(s.Taps), len(s.Diodes), layers)
		}
	}
}

// TestMistakes parses testdata/*.toml, in which a comment `# ERROR "text"` marks each line that is wrong; the message
// must stand at that line and hold the text, and there must be no others.
func TestMistakes(t *testing.T) {
	files, _ := filepath.Glob("testdata/*.toml")
	if len(files) < 3 {
		t.Fatalf("only %d test sources", len(files))
	}
	mark := regexp.MustCompile(`# ERROR "(.*)"`)
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		want := map[int][]string{}
		sc := bufio.NewScanner(bytes.NewReader(data))
		for n := 1; sc.Scan(); n++ {
			if m := mark.FindStringSubmatch(sc.Text()); m != nil {
				want[n] = strings.Split(m[1], "|")
			}
		}
		_, err = Parse(f, data)
		for _, e := range unjoin(err) {
			var p *Problem
			if !errors.As(e, &p) {
				t.Errorf("%s: %v is no Problem", f, e)
				continue
			}
			found := false
			for i, text := range want[p.Line] {
				if strings.Contains(p.Text+p.Remedy, text) {
					want[p.Line] = append(want[p.Line][:i:i], want[p.Line][i+1:]...)
					found = true
					break
				}
			}
			if !found {
				t.Errorf("%s: unexpected: %v", f, e)
			}
		}
		for n, texts := range want {
			for _, text := range texts {
				t.Errorf("%s:%d: no message with %q", f, n, text)
			}
		}
	}
}

func unjoin(err error) []error {
	if j, ok := err.(interface{ Unwrap() []error }); ok {
		return j.Unwrap()
	}
	if err == nil {
		return nil
	}
	return []error{err}
}

func TestMessage(t *testing.T) {
	_, err := Parse("kiln.stack.toml", []byte(`[[layer]]
name = "diffusion"
role = "diffusion"
[[layer]]
name = "metal1"
role = "metal"
[[layer]]
name  = "contact"
role  = "contact"
joins = ["metal1", "difusion"]
`))
	want := `kiln.stack.toml:10:20: layer "contact": joins "difusion", which is no layer
    did you mean "diffusion"? this stack has diffusion, metal1, contact`
	if err == nil || err.Error() != want {
		t.Errorf("got\n%v\nwant\n%s", err, want)
	}
}

func TestBuiltins(t *testing.T) {
	names := Builtins()
	if len(names) != 40 {
		t.Errorf("%d built-in stacks, want 5 metals × 2 polys × well or not × split or not = 40", len(names))
	}
	for _, n := range names {
		s, err := Load(n)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range s.Layers {
			for _, j := range l.Joins {
				if r := s.Layers[j].Role; r != Metal && r != Gate && r != Diffusion {
					t.Errorf("%s: %s joins %s", n, l.Name, s.Layers[j].Name)
				}
			}
		}
		if rules := len(s.MOS); (rules > 0) != (strings.Contains(n, "-well") || strings.Contains(n, "-split")) {
			t.Errorf("%s: %d [[mos]] rules; without a well and with one diffusion nothing tells polarity", n, rules)
		}
	}
	_, err := Load("cmos-9p")
	if err == nil || !strings.Contains(err.Error(), "cmos-2p3m-well") {
		t.Errorf("an unknown name must list the built-in stacks, got %v", err)
	}
}

func FuzzParse(f *testing.F) {
	files, _ := filepath.Glob("testdata/*.toml")
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Parse("fuzz", data)
		if err == nil && len(s.Layers) == 0 {
			t.Error("a stack without layers was accepted")
		}
	})
}
