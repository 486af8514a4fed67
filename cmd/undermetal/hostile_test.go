package main

import (
	"bytes"
	"strings"
	"testing"

	"undermetal/layout/dossier"
)

// TestTerminalObeysNobody: what a dossier from elsewhere says reaches the terminal as text.
func TestTerminalObeysNobody(t *testing.T) {
	t.Chdir(t.TempDir())
	var out bytes.Buffer
	if status := run([]string{"new", "k.dossier"}, &out, &out); status != exitDone {
		t.Fatal(out.String())
	}
	d, err := dossier.Open(t.Context(), "k.dossier")
	if err != nil {
		t.Fatal(err)
	}
	err = d.Edit(t.Context(), "clear \x1b[2J\nthe screen", func(tx *dossier.Tx) error { return tx.AddNote(&dossier.Note{Cell: dossier.Frame, Text: "x"}) })
	if err != nil {
		t.Fatal(err)
	}
	d.Close()
	out.Reset()
	for _, args := range [][]string{{"history", "k.dossier"}, {"info", "k.dossier"}, {"undo", "k.dossier"}, {"shot", "show", "k.dossier", "\x1b[2J", "--out", "x.png"}} {
		run(args, &out, &out)
	}
	if text := out.String(); strings.Contains(text, "\x1b") || strings.Count(text, "clear \ufffd[2J\ufffdthe screen") != 3 {
		t.Errorf("%q", text)
	}
}
