package question

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/check"
	"undermetal/netlist/extract"
)

// draft is a question before it is weighed: what it is about, and what was seen.
type draft struct {
	kind    string
	at      geom.Point
	layer   layout.Layer
	path    string
	devices []int
	nets    []netlist.Net
	count   int // 0 counts as 1
	saw     map[string]seen
	note    string
	always  bool               // it is a question whatever the odds
	box     geom.Rect          // a verdict anywhere in it answers; zero: near the place
	about   []extract.RegionID // what a verdict in the box answers it for; none: whatever it is for
	answers map[string]string  // Question.Answers
	verdict string
	by      int           // Question.By where verdict is not empty
	plate   *plate        // whose facts are still to be told
	likes   []int         // of a size out of family: devices that have the usual one
	sides   []netlist.Net // of a gap: the nets on both, where the circuit has both
	plates  []int32       // in view.plates, of those that are the same: what places are made of once somebody asks (view.placesOf)
	places  []Place
	form    struct { // what formOf looks at where there is no plate
		channels    []int
		gates, rims []extract.RegionID
	}
}

// Ask returns the questions of a circuit, the worst first: those that are most uncertain and touch the most devices.
// Questions that were answered come last. res should hold Facts (extract.Options.Facts); without them only what the circuit
// and its warnings tell is asked. checks are findings of netlist/check; nil where nobody has looked. Once ctx has ended its error is all
// that is returned.
func Ask(ctx context.Context, res *extract.Result, st *stack.Stack, checks []check.Finding, opt Options) ([]Question, error) {
	return newView(res, st, checks, opt).until(ctx).ask()
}

func (v *view) ask() ([]Question, error) {
	out, err := v.askAll()
	if err != nil {
		return nil, err
	}
	if !v.opt.All {
		out = slices.DeleteFunc(out, func(q Question) bool { return !q.Listed() })
	}
	sortQuestions(out)
	return out, nil
}

// askAll returns all questions of the kinds that are asked for, those that the evidence has decided, too.
func (v *view) askAll() ([]Question, error) {
	var lists [][]draft
	for _, k := range []struct {
		kind string
		ask  func() []draft
	}{
		{TransistorOrCapacitor, v.askPlates}, {Polarity, v.askPolarity}, {Photodiode, v.askPhotodiodes}, {FloatingGate, v.askFloating},
		{Contact, v.askContacts}, {NearMiss, v.askNearMisses}, {SuppliesShorted, v.askShorts}, {SoftTie, v.askSoftTies}, {Bulk, v.askBulks},
		{OutOfFamily, v.askFamilies}, {Asymmetry, v.askPairs}, {WireOrResistor, v.askStrips},
	} {
		if v.asks(k.kind) {
			lists = append(lists, k.ask())
		}
		if err := v.stopped(); err != nil {
			return nil, err
		}
	}
	for _, drafts := range lists {
		for i := range drafts {
			drafts[i].verdict, drafts[i].by = v.answer(&drafts[i])
		}
	}
	drafts := v.fold(append(lists, v.settled())...)
	out := make([]Question, 0, len(drafts))
	for i, d := range drafts {
		out = append(out, v.question(d))
		if err := v.stopped(); err != nil {
			return nil, err
		}
		if v.opt.Progress != nil {
			v.opt.Progress(i+1, len(drafts))
		}
	}
	number(out) // in the order of place, and before any is left out: ids do not hang on odds, nor on what is listed
	return out, nil
}

// until gives a view the context that may end its work.
func (v *view) until(ctx context.Context) *view {
	v.ctx = ctx
	return v
}

// stopped returns why nothing more is to be asked: the context has ended, or recognition has failed.
func (v *view) stopped() error {
	if v.around != nil && v.around.err != nil {
		return v.around.err
	}
	return v.ctx.Err()
}

// asks reports whether a kind is to be asked.
func (v *view) asks(kind string) bool {
	return len(v.opt.Kinds) == 0 || slices.Contains(v.opt.Kinds, kind)
}

// question weighs a draft.
func (v *view) question(d *draft) Question {
	if d.plate != nil {
		d.saw, d.note = v.lookAtPlate(d.plate), v.plateNote(d.plate)
	}
	k := theTable()[d.kind]
	if _, told := d.saw["repeat"]; !told && k.observation("repeat") != nil {
		d.saw["repeat"] = repeated(d.count)
	}
	if d.verdict != "" {
		v.sayWho(d)
	}
	// Recognition is asked where it may matter: by the table's prior, and whatever was answered, so that odds hang on neither.
	q, prior := newQuestion(d.kind, nil, d.saw), v.opt.Prior[d.kind]
	told := false
	if d.always || q.Readings[0].OddsDb < PlausibleDb {
		var s seen
		if s, told = v.lookAround(d); told {
			d.saw[knownAround] = s
		}
	}
	if told || len(prior) > 0 {
		q = newQuestion(d.kind, prior, d.saw)
	}
	q.At, q.Path, q.Devices, q.Nets, q.Count, q.Note = d.at, d.path, d.devices, d.nets, max(d.count, 1), d.note
	q.layer, q.always, q.Answers, q.Box, q.By = d.layer, d.always, d.answers, d.box, -1
	if d.box == (geom.Rect{}) {
		q.Box = geom.Rect{Min: d.at, Max: d.at}
	}
	if d.verdict != "" {
		q.Verdict, q.By = q.readingOf(d.verdict), d.by
	}
	if int(d.layer) < len(v.st.Layers) {
		q.Layer = v.st.Layers[d.layer].Name
	}
	if d.plates == nil || v.opt.All || q.Listed() { // nobody asks where a thousand other plates are
		q.Places = v.placesOf(d)
	}
	q.ID = id(d.kind, d.path, d.at)
	return q
}

// manyPlaces is from how many places of one cell on a thing counts as repeated.
const manyPlaces = 3

func repeated(count int) seen {
	if count >= manyPlaces {
		return seen{"many", plural(count, "place", "places")}
	}
	return seen{"once", plural(max(count, 1), "place", "places")}
}

// id names a question after its kind, its instance and its place in µm.
func id(kind, path string, at geom.Point) string {
	where := string(geom.AppendUm(nil, at.X)) + "," + string(geom.AppendUm(nil, at.Y))
	if path == "" {
		return kind + ":" + where
	}
	return kind + ":" + strings.ReplaceAll(path, " ", "_") + ":" + where
}

// number makes ids differ where several questions of one kind lie in one place. They come by kind and layer.
func number(qs []Question) {
	taken := map[string]int{}
	for i := range qs {
		taken[qs[i].ID]++
		if n := taken[qs[i].ID]; n > 1 {
			qs[i].ID = fmt.Sprintf("%s#%d", qs[i].ID, n)
		}
	}
}

// worth is how much a question asks for an answer: its uncertainty in bits, times the devices that it touches.
func (q *Question) worth() float64 {
	if q.Verdict != "" {
		return -1
	}
	p := make([]float64, len(q.Readings))
	for i := range p {
		p[i] = q.Readings[i].Probability
	}
	return Entropy(p) * float64(max(len(q.Devices), q.Count, 1))
}

func sortQuestions(qs []Question) {
	type ranked struct {
		worth float64
		q     *Question
	}
	order := make([]ranked, len(qs))
	for i := range qs {
		order[i] = ranked{qs[i].worth(), &qs[i]}
	}
	slices.SortStableFunc(order, func(a, b ranked) int {
		return cmp.Or(cmp.Compare(b.worth, a.worth), cmp.Compare(a.q.Kind, b.q.Kind), cmp.Compare(a.q.layer, b.q.layer), cmp.Compare(a.q.At.Y, b.q.At.Y), cmp.Compare(a.q.At.X, b.q.At.X), cmp.Compare(a.q.Path, b.q.Path))
	})
	sorted := make([]Question, len(qs))
	for i := range order {
		sorted[i] = *order[i].q
	}
	copy(qs, sorted)
}
