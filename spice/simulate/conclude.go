package simulate

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// consequence are fatal complaints that say no more than that there was another.
var consequence = regexp.MustCompile(`(?i)^simulation interrupted|^error: fatal error in|simulation\(s\) aborted$|solution failed -$|` +
	`the simulator wrote (nothing|a plot "constants")|^cannot compute substitute|^error: transient op failed`)

// memory is what the simulator says where it does not get any.
var memory = regexp.MustCompile(`(?i)can't allocate|out of memory|not enough memory`)

// conclude makes the error of a run out of how it ended and what was complained of. Complaints that name a recovered
// device come first, also those that would not be fatal alone: they are most likely the reason.
func conclude(err error, result *Result) error {
	if err != nil && !errors.Is(err, ErrFailed) {
		return err
	}
	if err == nil && !slices.ContainsFunc(result.Complaints, func(c Complaint) bool { return c.Fatal }) {
		return nil
	}
	if err == nil {
		err = ErrFailed
	}
	if slices.ContainsFunc(result.Complaints, func(c Complaint) bool { return memory.MatchString(c.Text) }) {
		err = fmt.Errorf("%w: the simulator needs more memory than it may have; take larger steps or a shorter time", ErrSize)
	}
	var said []string
	for _, take := range []func(Complaint) bool{
		func(c Complaint) bool { return c.Fatal && c.What != "" },
		func(c Complaint) bool { return c.Fatal && c.What == "" && !consequence.MatchString(c.Text) },
		func(c Complaint) bool { return !c.Fatal && c.What != "" },
	} {
		for _, c := range result.Complaints {
			if take(c) {
				said = append(said, c.String())
			}
		}
	}
	if len(said) == 0 {
		for _, c := range result.Complaints {
			said = append(said, c.String())
		}
	}
	const most = 5
	if len(said) > most {
		said = append(said[:most], fmt.Sprintf("and %d more", len(said)-most))
	}
	if len(said) == 0 {
		return err
	}
	return fmt.Errorf("%w\n    %s", err, strings.Join(said, "\n    "))
}

// String returns the complaint in one line, with what it is about.
func (c Complaint) String() string {
	if c.What == "" {
		return c.Text
	}
	return c.Text + " [" + c.What + "]"
}
