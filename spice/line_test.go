package spice

import "testing"

// TestComments: where a comment begins.
func TestComments(t *testing.T) {
	for text, want := range map[string]string{
		"R1 a b 1k":               "R1 a b 1k",
		"  R1 a b 1k  ":           "R1 a b 1k  ",
		"R1 a b 1k;x":             "R1 a b 1k",
		"R1 a b 1k //x":           "R1 a b 1k",
		"R1 a b 1k//x":            "R1 a b 1k",
		"R1 a / b":                "R1 a / b",
		"R1 a b 1k $ x":           "R1 a b 1k",
		"R1 a b 1k,$x":            "R1 a b 1k,",
		"R1 a b 1k $x y=1":        "R1 a b 1k",
		"R1 a b 1k $m=2 $ y":      "R1 a b 1k $m=2",
		"R1 a b$1 1k":             "R1 a b$1 1k",
		"R1 a b 1k $":             "R1 a b 1k",
		"R1 a b 1k $2=3":          "R1 a b 1k",
		"\t* x":                   "",
		"$ x":                     "",
		"; x":                     "",
		"":                        "",
		"R1 a b 1k * no\tcomment": "R1 a b 1k * no\tcomment",
	} {
		if got, bad := content(text); got != want || bad >= 0 {
			t.Errorf("%q: %q (%d), want %q", text, got, bad, want)
		}
	}
}

// TestTitle: a first line is the title unless it is a comment or a dot card, or there is none.
func TestTitle(t *testing.T) {
	for text, want := range map[string]int{
		"Rail to rail\nR2 a b 1\n":        1,
		"m7 of 8\nR2 a b 1\n":             1,
		"* c\nR1 a b 1\nR2 a b 1\n":       2,
		"\nR1 a b 1\nR2 a b 1\n":          2,
		".param x=1\nR1 a b x\nR2 a b 1":  2,
		"title\n+ goes on\nR2 a b 1\n":    1,
		"+----+\nR1 a b 1\n":              1,
		"\ufeff* c\r\nR1 a b 1\r\n":       1,
		"title\n.end\nR1 a b 1":           0,
		"":                                0,
		"title {with ( = odd 'characters": 0,
	} {
		n := 0
		for _, c := range read(t, text).Circuits {
			n += len(c.Devices)
		}
		if n != want {
			t.Errorf("%q: %d devices, want %d", text, n, want)
		}
	}
}
