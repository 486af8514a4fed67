package main

import (
	"encoding/base64"
	"html"
	"image"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
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
	pictures := regexp.MustCompile(`<figure><img src="data:image/(?:png|jpeg);base64,([^"]+)"[^>]*>(<ul class="keys">.*?</ul>)?`).FindAllStringSubmatch(page, -1)
	if len(pictures) != 5 {
		t.Fatalf("%d pictures, want two of each photograph and that of the block map", len(pictures))
	}
	// The legend of a tracing covers nothing: nothing is traced in the corner at the upper right, which is as it was taken.
	if plain, traced := upperRight(t, pictures[0][1]), upperRight(t, pictures[1][1]); math.Abs(plain-traced) > 2 || pictures[0][2] != "" {
		t.Errorf("the corner is %.1f bright as it was taken, %.1f with the tracing", plain, traced)
	}
	if keys := pictures[1][2]; !strings.Contains(keys, "diffusion</li>") || !strings.Contains(keys, "poly</li>") {
		t.Errorf("the legend is %.300s", keys)
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

// upperRight is how bright a picture is on the mean, of 255, in its corner: a tenth of its width and a twentieth of its height.
func upperRight(t *testing.T, base string) float64 {
	t.Helper()
	img, _, err := image.Decode(base64.NewDecoder(base64.StdEncoding, strings.NewReader(html.UnescapeString(base))))
	if err != nil {
		t.Fatal(err)
	}
	sum, n, b := 0.0, 0.0, img.Bounds()
	for y := b.Min.Y; y < b.Min.Y+b.Dy()/20; y++ {
		for x := b.Max.X - b.Dx()/10; x < b.Max.X; x++ {
			sum, n = sum+float64(color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y), n+1
		}
	}
	return sum / n
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

// TestReportOfPartial: a pixel without one contact is told apart from the full fits, with what it lacks and the place of that contact.
func TestReportOfPartial(t *testing.T) {
	drawing, stack := brokenKiln(t)
	dos := filepath.Join(t.TempDir(), "broken.dossier")
	must(t, "new "+dos+" --stack "+stack)
	must(t, "trace import "+dos+" "+drawing)
	page := must(t, "report "+dos+" --out - --rows 0")
	_, part, ok := strings.Cut(page, `<section id="partial">`)
	if !ok {
		t.Fatal("the page tells no fit that lacks a piece")
	}
	part, _, _ = strings.Cut(part, "</section>")
	found := regexp.MustCompile(`lacks a connection between the (?:drain|source) of MSF and [^<]*: look near ([\d.]+), ([\d.]+) µm`).FindStringSubmatch(part)
	if found == nil || !strings.Contains(part, "Three-transistor active pixel") {
		t.Fatalf("the piece is not told: %s", part)
	}
	x, err1 := strconv.ParseFloat(found[1], 64)
	y, err2 := strconv.ParseFloat(found[2], 64)
	// The contact that brokenKiln takes away lies at 8.2, 7.5 µm of the pixel at column 4, row 7; half a pitch is as in TestRecogniseBrokenPixel.
	if err1 != nil || err2 != nil || math.Hypot(x-(4*12+8.2), y-(7*12+7.5)) > 6 {
		t.Errorf("it is looked for at %s, %s µm", found[1], found[2])
	}
	if groups, _, _ := strings.Cut(page[strings.Index(page, `<section id="groups">`):], `<section id="partial">`); strings.Contains(groups, "lacks a connection") || !strings.Contains(groups, "239 × Three-transistor active pixel") {
		t.Error("the full fits do not stand by themselves")
	}
}
