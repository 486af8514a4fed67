package simulate

// Analysis is one analysis of a deck and what it must give.
type Analysis struct {
	// Name is that of its plot in the result, e.g. "reset": letters, digits, "_" and "-", unique in the deck when case is
	// ignored. It also names the file that Deck.Text writes: reset.raw.
	Name string
	// Before are commands that come before it (alter, altermod, set, option), written by this project only. What they
	// change stays changed for the analyses after it.
	Before []string
	// Command is the analysis: "op", "tran 1n 1u uic", "dc v1 0 3.3 0.01", "ac dec 20 1 1g", "noise v(out) vin dec 10 1 1g".
	Command string
	// Save are the vectors that have to come out: "v(node)", "i(source)", "@m1[gm]", of noise "onoise_spectrum" and the
	// like. The sweep's own scale comes with them. Of noise, what ends in "_total" comes in a plot of its own, Name + ".total".
	Save []string
}

// Deck is a circuit to simulate.
type Deck struct {
	Title    string // one line; what cannot be printed is left out
	Body     string // elements, models, subcircuits, options; no control section, no .end. See Safe
	Analyses []Analysis
	// Places tells of a simulator's lower-case name of an element or a node ("m1", "x1.m1" for what ngspice calls
	// m.x1.m1, "x1.out") which recovered device it is, and where: "nmos at 12.3, 4.5 µm".
	Places map[string]string
}
