package main

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// TestReportOfPixel: the page of the README's pixel holds its photographs, plain and traced, its devices as the netlist calls them,
// and its photographs' places; and the block map in the photographs' pixels.
func TestReportOfPixel(t *testing.T) {
	walked(t)
	must(t, "blocks set pixel.dossier photodiode --rect 0,0,5,3.5 --document KL-1 --status seen")
	must(t, "report pixel.dossier --out pixel.html")
	data, err := os.ReadFile("pixel.html")
	if err != nil {
		t.Fatal(err)
	}
	page := string(data)
	if n := len(regexp.MustCompile(`<img src="data:image/(png|jpeg);base64,`).FindAllString(page, -1)); n != 5 {
		t.Errorf("%d pictures, want two of each photograph and that of the block map", n)
	}
	for _, want := range []string{"0.016488 ± 0.000063 µm/px", "similarity by control points", "<td class=\"figure\">1.618 ± 0.024 µm</td>", "17.5 µm²", "KL-1", "Looked at: contact 64 µm²"} {
		if !strings.Contains(page, want) {
			t.Errorf("%q is not in the page", want)
		}
	}
	_, list, _ := strings.Cut(page, `<pre class="scroll"`)
	rows := regexp.MustCompile(`<tr><td class="word">([MDCR]\d+)</td>`).FindAllStringSubmatch(page, -1)
	if len(rows) != 4 {
		t.Errorf("%d devices are listed", len(rows))
	}
	for _, r := range rows {
		if !regexp.MustCompile(`(?m)^` + r[1] + ` `).MatchString(list) {
			t.Errorf("the netlist has no %s", r[1])
		}
	}
}

// TestReportOfQuestions: what is asked is told with its evidence, and with a picture of the place.
func TestReportOfQuestions(t *testing.T) {
	asInClone(t)
	must(t, "new bank.dossier --stack testdata/ambiguous/bank.stack.toml")
	must(t, "trace import bank.dossier testdata/ambiguous/bank.gds")
	must(t, "report bank.dossier --out bank.html")
	data, err := os.ReadFile("bank.html")
	if err != nil {
		t.Fatal(err)
	}
	page := string(data)
	asked := strings.Count(page, `<section class="question">`)
	if asked == 0 || strings.Count(page, `alt="The place of the question `) != asked || !strings.Contains(page, "Transistor or capacitor?") || !strings.Contains(page, "Speaks for the first") {
		t.Errorf("%d questions, %d pictures", asked, strings.Count(page, `alt="The place of the question `))
	}
}
