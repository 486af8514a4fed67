package main

import (
	"crypto/sha256"
	"fmt"
	"math"
	"slices"
	"strings"

	"undermetal/netlist/extract"
	"undermetal/recognise/question"
)

// shortLetters are what short ids are made of: consonants, so that they are no words, and without those that look like digits.
const shortLetters = "bcdfghjkmnpqrstvwxyz"

const (
	shortest = 6  // letters that are shown
	longest  = 12 // letters that there are
)

// shortID returns twelve letters that stand for an id, the same wherever and whenever it is asked for.
func shortID(id string) string {
	sum := sha256.Sum256([]byte(id))
	letters := make([]byte, longest)
	for i := range letters {
		letters[i] = shortLetters[int(sum[i])%len(shortLetters)]
	}
	return string(letters)
}

// shortIDs returns what to call questions by: six letters, more where these are not enough to tell them apart.
func shortIDs(qs []question.Question) []string {
	ids := make([]string, len(qs))
	for i := range qs {
		ids[i] = qs[i].ID
	}
	return shortened(ids)
}

// shortened returns what to call things of these ids by.
func shortened(ids []string) []string {
	whole, taken := make([]string, len(ids)), map[string]int{}
	for i := range ids {
		whole[i] = shortID(ids[i])
		for n := shortest; n <= longest; n++ {
			taken[whole[i][:n]]++
		}
	}
	for i, id := range whole {
		n := shortest
		for n < longest && taken[id[:n]] > 1 {
			n++
		}
		whole[i] = id[:n]
	}
	return whole
}

// aboutDevice is what is doubtful about a device.
type aboutDevice struct {
	id       string // of its question; the code of its warning where none is asked
	text     string // for the netlist
	followed *followedReading
}

// followedReading is the leading reading that made a device what it is.
type followedReading struct {
	question, reading string
	oddsDb            float64
}

// ofDevices are the kinds of question that are about devices; the last two, which doubt sizes, extract does not ask.
var ofDevices = []string{question.TransistorOrCapacitor, question.Polarity, question.FloatingGate, question.SoftTie, question.Bulk, question.OutOfFamily, question.Asymmetry}

// aboutDevices returns, for each device of now, the question that asks most for an answer, and the reading that was followed. The
// questions are those of the drawing as it was extracted before any reading was followed.
func aboutDevices(drawn, now *extract.Result, qs []question.Question, short []string, leads []question.Lead) []aboutDevice {
	about := make([]aboutDevice, len(now.Circuit.Devices))
	by := question.Followed(leads, now)
	number := devicesNow(drawn, now, leads)
	text := func(k int) string {
		return fmt.Sprintf("question %s, %s: %s", short[k], inWords(qs[k].Kind), oddsOf(qs[k].Leading()))
	}
	of := make([]int, len(about)) // the question, and 1
	for k := range qs {
		if q := &qs[k]; q.Verdict == "" && q.Listed() {
			for _, i := range q.Devices {
				if a := &about[number[i]]; a.id == "" {
					*a, of[number[i]] = aboutDevice{id: q.ID, text: text(k)}, k+1
				}
			}
		}
	}
	for i, l := range by {
		k := leads[l].Question
		a := &about[i]
		a.followed = &followedReading{qs[k].ID, leads[l].Verdict.Reading, leads[l].OddsDb}
		switch of[i] {
		case k + 1:
			a.text += ", followed"
		case 0:
			a.id, a.text = qs[k].ID, text(k)+", followed"
		default:
			a.text += "; " + text(k) + ", followed"
		}
	}
	for i, code := range now.Questions {
		if code != "" {
			about[i].text = strings.TrimSuffix(code+"; "+about[i].text, "; ")
			if about[i].id == "" {
				about[i].id = code
			}
		}
	}
	return about
}

// inWords writes a kind of question or a reading without hyphens.
func inWords(s string) string { return strings.ReplaceAll(s, "-", " ") }

func oddsOf(r question.Reading) string { return r.Reading + " " + odds(r.OddsDb) }

// odds writes odds in decibans as people do, to one or two digits: 9:1, 1:350.
func odds(db float64) string {
	r := math.Pow(10, math.Abs(db)/10)
	text := fmt.Sprintf("%.1f", r)
	switch {
	case r >= 9950:
		text = "over 10000"
	case r >= 9.5:
		step := math.Pow(10, math.Floor(math.Log10(r))-1)
		text = fmt.Sprintf("%.0f", math.Round(r/step)*step)
	case r >= 2.95:
		text = fmt.Sprintf("%.0f", r)
	}
	text = strings.TrimSuffix(text, ".0")
	switch {
	case db >= 0:
		return text + ":1"
	case r >= 9950:
		return "under 1:10000"
	}
	return "1:" + text
}

// questionsCalled returns the questions that a text names: by the first letters of a short id, or of an id. Where those that are listed
// hold one that it names, only these count.
func questionsCalled(text string, qs []question.Question) (found []int) {
	for i := range qs {
		if qs[i].ID == text {
			return []int{i}
		}
		if strings.HasPrefix(shortID(qs[i].ID), text) || strings.HasPrefix(qs[i].ID, text) {
			found = append(found, i)
		}
	}
	if listed := slices.DeleteFunc(slices.Clone(found), func(i int) bool { return !qs[i].Listed() }); len(listed) > 0 {
		return listed
	}
	return found
}

// find returns the one question that a text names.
func (a *asking) find(flag, text string) (int, error) {
	found := questionsCalled(text, a.qs)
	switch {
	case text == "":
		return 0, usagef("%s: give the id of a question, as undermetal questions %s lists them", flag, word(a.name))
	case len(found) == 0 && a.missing != "":
		return 0, fmt.Errorf("%s: %s %s: there is no such question\n    undermetal questions %s --all lists them; gaps and contacts are asked about with --tolerance only, here, too", a.name, flag, harmless(text, ""), word(a.name))
	case len(found) == 0:
		return 0, fmt.Errorf("%s: %s %s: there is no such question\n    undermetal questions %s --all lists them", a.name, flag, harmless(text, ""), word(a.name))
	case len(found) > 1:
		var names []string
		for _, i := range found {
			names = append(names, fmt.Sprintf("%s (%s)", a.short[i], a.qs[i].ID))
		}
		return 0, fmt.Errorf("%s: %s %s is the beginning of %d questions\n    more letters tell them apart: %s", a.name, flag, harmless(text, ""), len(found), harmless(someNames(names), ""))
	}
	return found[0], nil
}
