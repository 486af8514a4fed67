package desk

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// transistor draws one by lines: W 2 µm, L 0.5 µm, its gate on G, with a wire to a contact on its drain, on D.
func transistor(b *bench) {
	b.t.Helper()
	b.keys(":snap off", "3", ":layer diffusion", ":rectangle 0,0 6,2", ":layer poly", ":rectangle 2.75,-1 3.25,3", ":layer contact", ":rectangle 0.5,0.75 1,1.25",
		":layer metal1", ":rectangle 0.25,0.5 1.25,8", ":at 0.75,7", ":label D", ":layer poly", ":at 3,2.5", ":label G")
	b.failing("draw")
	b.settle()
}

func (b *bench) rowTexts() (out []string) {
	for _, r := range b.Side().Rows {
		out = append(out, r.Text)
	}
	return out
}

// TestLists: each list leads to its places and back, and says what is so.
func TestLists(t *testing.T) {
	b := open(t, create(t), Options{})
	defer b.close()
	transistor(b)
	b.keys(":at 5,5", "F3")
	if rows := b.Side().Rows; len(rows) != 1 || !strings.Contains(rows[0].Text, "g G") || !strings.Contains(rows[0].Text, "D") || !strings.HasPrefix(rows[0].Note, "W 2 µm, L 0.5 µm") {
		t.Fatalf("%+v", rows)
	}
	b.keys("Enter")
	if v := b.where(); v.X < 2.75 || v.X > 3.25 || v.Y < 0 || v.Y > 2 {
		t.Errorf("the device lies at %v", v)
	}
	if !slices.ContainsFunc(b.Foot(), func(s Span) bool { return strings.HasPrefix(s.Text, "nmos nfet W 2 µm, L 0.5 µm") }) {
		t.Errorf("%+v", b.Foot())
	}
	b.keys("Esc", "Backspace")
	if v := b.where(); v.X != 5 || v.Y != 5 {
		t.Errorf("back at %v", v)
	}

	// The net of the drain is lit on metal, in the contact and on the diffusion left of the gate.
	b.keys(":find D")
	if b.Side().Title != "nets" || !strings.Contains(b.said.text, "net D") {
		t.Fatalf("%s, %q", b.Side().Title, b.said.text)
	}
	// From the diffusion's left side to the gate, from its lower side to the wire's end.
	if box := b.Scene().Net.Box(); box.Min.X != 0 || box.Max.X != 2750 || box.Min.Y != 0 || box.Max.Y != 8000 {
		t.Errorf("%v is lit", box)
	}
	b.keys("E")
	if got := b.rowTexts(); len(got) != 2 || !strings.Contains(got[0], "of nmos nfet") || got[1] != "label D" {
		t.Errorf("it ends at %q", got)
	}
	// An edit does not put it out; the wire cut in two, it ends earlier.
	b.keys("Esc", ":select none", ":at 0.75,5", "s", ":subtract 0,4 2,4 2,5 0,5")
	b.failing("subtract")
	b.settle()
	if box := b.Scene().Net.Box(); box.Max.Y != 8000 && box.Max.Y != 4000 {
		t.Errorf("%v is lit", box)
	}
	b.keys("u")
	b.settle()

	b.keys("F5")
	if got := b.rowTexts(); len(got) != 1 || !strings.HasPrefix(got[0], "nothing says how well") {
		t.Errorf("checks %q", got)
	}
	b.keys("F7")
	if got := b.rowTexts(); !slices.Equal(got, []string{"D", "G"}) {
		t.Errorf("labels %q", got)
	}
	b.keys("x")
	if got := b.rowTexts(); !slices.Equal(got, []string{"G"}) {
		t.Errorf("after one is removed %q", got)
	}
	b.keys("Esc", ":at 3,1", ":note odd thing", "F8")
	if got := b.rowTexts(); !slices.Equal(got, []string{"odd thing"}) {
		t.Errorf("notes %q", got)
	}
	b.keys("Esc", ":layer poly", ":area -10,-10 10,-10 10,10", "F12")
	b.settle()
	if got := b.Side().Rows; len(got) != 1 || got[0].Note != "20 × 20 µm" {
		t.Errorf("areas %+v", got)
	}
	n := len(b.Scene().Lines)
	b.keys("x")
	b.settle()
	if areas, err := b.dos.Areas(); err != nil || len(areas) != 0 || len(b.Scene().Lines) != n-1 {
		t.Errorf("%v, %v, %d lines of %d", areas, err, len(b.Scene().Lines), n)
	}

	// The list of edits leads back to any of them, and forth.
	b.keys("F10")
	all := b.rowTexts()
	if len(all) < 9 || !strings.HasPrefix(all[0], "remove area") {
		t.Fatalf("%q", all)
	}
	b.keys("End", "Enter") // the first edit is left
	if got := b.drawn(); len(got) != 1 {
		t.Errorf("%q", got)
	}
	b.keys("Home", "Enter")
	if got := b.drawn(); len(got) != 4 {
		t.Errorf("%q", got)
	}
}

// TestReadOnly: a dossier that somebody else edits can be looked at; what would change it says why not.
func TestReadOnly(t *testing.T) {
	path := create(t)
	first := open(t, path, Options{})
	defer first.close()
	transistor(first)
	b := &bench{t: t, path: path, notes: make(chan struct{}, 1), comp: first.comp}
	var err error
	if b.dos, err = dossier.OpenToRead(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	defer b.dos.Close()
	if b.Desk, err = Open(t.Context(), b.dos, b.comp, Options{Settle: -1, Notify: func() {
		select {
		case b.notes <- struct{}{}:
		default:
		}
	}}); err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	b.Resize(300, 200, 1, 50, 20)
	b.settle()
	if !slices.ContainsFunc(b.Head(), func(s Span) bool { return strings.Contains(s.Text, "read only") }) {
		t.Errorf("%+v", b.Head())
	}
	b.keys(":layer poly", ":rectangle 0,0 1,1")
	if b.said.tone != Failure || !strings.Contains(b.said.text, "can only be read") {
		t.Errorf("%+v", b.said)
	}
	b.keys("F3")
	if len(b.Side().Rows) != 1 {
		t.Error(fmt.Sprint(b.Side().Rows))
	}
}

// TestBlockList: the block map is listed in its order, leads to its regions, shows them, and loses what is removed.
func TestBlockList(t *testing.T) {
	b := open(t, create(t), Options{})
	defer b.close()
	box := func(x0, y0, x1, y1 int) geom.Polygon { return geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()} }
	if err := b.file.Edit(t.Context(), "blocks", func(tx *dossier.Tx) error {
		return errors.Join(tx.AddBlock(&dossier.Block{Name: "pump", Polygon: append(box(0, 0, 4000, 2000), box(6000, 0, 8000, 2000)...), Status: dossier.Seen}),
			tx.AddBlock(&dossier.Block{Name: "decoder", Document: "KL-1", Sign: "12"}))
	}); err != nil {
		t.Fatal(err)
	}
	b.keys(":note here") // an edit of the desk's own, after which it reads the drawing anew
	b.settle()
	b.keys("5", "m")
	want := []Row{{Text: "decoder", Note: "supposed, no region", Layer: -1}, {Text: "pump", Note: "seen, 12 µm²", Layer: -1, Place: true}}
	if got := b.Side().Rows; !slices.Equal(got, want) {
		t.Fatalf("%+v", got)
	}
	lines := len(b.Scene().Lines)
	b.keys("Enter")
	if !strings.Contains(b.said.text, "decoder lies nowhere") {
		t.Errorf("%q", b.said.text)
	}
	b.keys("Down", "Enter")
	if v := b.where(); v.X != 4 || v.Y != 1 {
		t.Errorf("the pump lies at %v", v)
	}
	b.keys("x")
	b.settle()
	if got := b.rowTexts(); !slices.Equal(got, []string{"decoder"}) {
		t.Errorf("%q", got)
	}
	if now := len(b.Scene().Lines); now != lines-2 {
		t.Errorf("%d lines, and %d with the two regions", now, lines)
	}
}

// TestListOfCircuit: the devices are listed once for each circuit, not at each edit and each Enter, and anew when there is another one.
func TestListOfCircuit(t *testing.T) {
	b := bare(t)
	transistor(b)
	b.keys("F3")
	first := b.Side().Rows
	if len(first) != 1 {
		t.Fatalf("%+v", first)
	}
	b.keys("Enter", ":select all", ":duplicate 20,0")
	b.failing("duplicate")
	if now := b.Side().Rows; len(now) != 1 || &now[0] != &first[0] { // what the background made since is not taken over yet
		t.Error("the same devices are listed anew")
	}
	b.settle()
	if now := b.Side().Rows; len(now) != 2 {
		t.Errorf("then listed are %+v", now)
	}
}
