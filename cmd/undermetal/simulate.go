package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"undermetal/recognise"
	"undermetal/spice"
	"undermetal/spice/bench"
	"undermetal/spice/simulate"
)

// simulateFlags are the flags of undermetal simulate.
type simulateFlags struct {
	inputFlags
	top, bench, preset, modelFile string
	ports                         []string
	plot, csv, deck, simulator    string
	either                        string
	supply                        float64 // in V; 0: as the process has it
	traceFlags                            // with a tolerance for questions of gaps and contacts
	limit                         time.Duration
	list, json                    bool
}

func newSimulate() *cobra.Command {
	var f simulateFlags
	c := &cobra.Command{
		Use:   "simulate INPUT",
		Short: "drive a circuit in a test bench, with a SPICE simulator",
		Long: `simulate puts the circuit of a dossier, of a drawing with --stack, or of a SPICE file into a test bench, runs ngspice on it, and
prints what was measured beside what is expected, by which formula and from where, with a plot.

A bench knows its ports: a pixel's reset, an inverter's input. They are found by how the circuit is joined, and by usual names, else by
what undermetal recognise finds, of several the first; --port P=NET says it where that fails, vdd and vss are ports, too. --list tells which benches fit, why, and which ports they
have. Without --bench the first one that fits is taken.

Models are level-1 cards from a preset (` + strings.Join(spice.PresetNames(), ", ") + `; that whose shortest gate is nearest to the circuit's, unless --preset
says which); what the stack states of its process (gate_oxide_nm, supply_v, sheet_ohm) comes first. --preset show lists every figure
with its source. Nothing of them is about the die but what the stack states. --model-file takes your own models instead: .model cards and
subcircuits; anything else in it is refused.

Of what has more than one plausible reading, --either ID runs a bench on each and prints the figures side by side; ID is that of an open
question, as undermetal questions lists it, and may be cut short. --either M7,M8 reads these devices as transistors, and as
capacitors. The bench readings does so with a device by itself.

Supply and stimuli go by the preset: --supply sets the voltage, in V, and with it the levels of all inputs. For other stimuli take
the deck and change it, or write your own around the netlist of undermetal extract --preset nearest.

--deck writes the deck, so that another program can run it; without a simulator that is as far as it goes.`,
		Example: `  undermetal simulate pixel.dossier --list
  undermetal simulate pixel.dossier --plot pixel.svg
  undermetal simulate cell.gds --stack process.stack.toml --bench gate --preset 0.5um
  undermetal simulate ring.sp --bench oscillator --port out=n3 --model-file my.lib --csv ring.csv
  undermetal simulate pump.dossier --bench pump --either kqxw
  undermetal simulate pump.sp --bench pump --either M7,M8
  undermetal simulate mirror.sp --bench mirror --deck mirror.deck.sp`,
		Args: func(c *cobra.Command, args []string) error {
			if f.preset == "show" && len(args) == 0 {
				return nil
			}
			return exactly(1, "one dossier, drawing or SPICE netlist")(c, args)
		},
		RunE: func(c *cobra.Command, args []string) error {
			if f.preset == "show" {
				return printPresets(c.OutOrStdout())
			}
			return doSimulate(c, args[0], &f)
		},
	}
	f.inputFlags.flags(c)
	p := c.Flags()
	p.StringVar(&f.stackName, "stack", "", "stack file, or the name of a built-in stack")
	p.StringVar(&f.top, "top", "", "the cell or circuit; must be given where several are placed by no other")
	p.StringVar(&f.bench, "bench", "", "the test bench; --list tells which fit")
	p.StringArrayVar(&f.ports, "port", nil, "P=NET: the bench's port P is that net; may be given several times")
	p.StringVar(&f.modelFile, "model-file", "", "your own models in place of the preset's")
	p.StringVar(&f.preset, "preset", "", "figures of the process: "+strings.Join(spice.PresetNames(), ", ")+"; show lists them")
	p.Var(quantity{&f.supply, ""}, "supply", "the supply in V; by default what the stack states, or the preset's")
	p.StringVar(&f.plot, "plot", "", "draw the waveforms to this file, SVG or PNG by its ending")
	p.StringVar(&f.csv, "csv", "", "write the waveforms to this file, - for standard output")
	p.StringVar(&f.deck, "deck", "", "write the deck to this file, - for standard output")
	p.StringVar(&f.simulator, "simulator", "", "the simulator's program; by default ngspice on PATH")
	p.DurationVar(&f.limit, "limit", 2*time.Minute, "how long the simulator may take")
	p.StringVar(&f.either, "either", "", "a question, or devices: run the bench once for each reading, side by side")
	p.Var(quantity{&f.tolerance, "µm"}, "tolerance", "with --either: gaps up to this are asked about, in µm; by default as for trace check")
	p.BoolVar(&f.list, "list", false, "say which benches fit, and why; simulate nothing")
	p.BoolVar(&f.json, "json", false, "print the figures as JSON")
	return c
}

// simulation is a circuit in a bench, with how it came there.
type simulation struct {
	*loaded
	setup   bench.Setup
	bench   *bench.Bench
	why     string
	preset  string // which, and why that
	notes   []string
	benches []string // others that fit

	known      map[string]knownPorts // by bench: ports by what was recognised; nil until somebody asks
	recognised func() []recognise.Suggestion
}

func doSimulate(c *cobra.Command, name string, f *simulateFlags) error {
	if err := f.checkFiles(c, name); err != nil {
		return err
	}
	if f.json && (f.csv == "-" || f.deck == "-") || f.csv == "-" && f.deck == "-" {
		return usagef("only one of --json, --csv and --deck can go to standard output\n    give the others file names")
	}
	s, err := prepareSimulation(c, name, f)
	if err != nil {
		return err
	}
	if f.list {
		return printBenches(c.OutOrStdout(), s)
	}
	if f.either != "" {
		if f.plot != "" || f.csv != "" || f.deck != "" || f.json {
			return usagef("--either prints two readings side by side\n    leave --plot, --csv, --deck and --json out")
		}
		return doEither(c, s, f)
	}
	if err := s.choose(name, f.bench); err != nil {
		return err
	}
	deck, err := s.bench.Deck(s.setup)
	if err != nil {
		return fmt.Errorf("%s: bench %s: %w", name, s.bench.Name(), err)
	}
	if s.notes, err = s.bench.Notes(s.setup); err != nil {
		return fmt.Errorf("%s: bench %s: %w", name, s.bench.Name(), err)
	}
	if f.deck != "" {
		write := func(w io.Writer) error { _, err := io.WriteString(w, deck.Text()); return err }
		if err := writeTo(c, f.deck, write); err != nil || f.deck == "-" {
			return err
		}
	}
	if _, err := simulate.Find(f.simulator); errors.Is(err, simulate.ErrMissing) && f.deck != "" && f.plot == "" && f.csv == "" && !f.json {
		_, err := fmt.Fprintf(c.ErrOrStderr(), "%s: written; not simulated: %s\n", harmless(f.deck, ""), harmless(err.Error(), "\n"))
		return err
	}
	result, err := runDeck(c, f, deck)
	if err != nil {
		if result != nil {
			printComplaints(c.ErrOrStderr(), result.Complaints)
		}
		return fmt.Errorf("%s: bench %s: %w", name, s.bench.Name(), err)
	}
	return s.show(c, f, result)
}

// show prints and writes what came out.
func (s *simulation) show(c *cobra.Command, f *simulateFlags, result *simulate.Result) error {
	figures, err := s.bench.Figures(s.setup, result)
	if err != nil {
		return fmt.Errorf("%s: bench %s: %w", s.name, s.bench.Name(), err)
	}
	if err := printComplaints(c.ErrOrStderr(), result.Complaints); err != nil {
		return err
	}
	if err := writeWaves(c, f, s, result); err != nil || f.csv == "-" {
		return err
	}
	if f.json {
		return printSimulationJSON(c.OutOrStdout(), s, figures, result)
	}
	return printSimulation(c, s, figures, result)
}

// checkFiles refuses to write over what is read.
func (f *simulateFlags) checkFiles(c *cobra.Command, name string) error {
	outs := map[string]string{}
	for _, out := range []struct{ flag, file string }{{"plot", f.plot}, {"csv", f.csv}, {"deck", f.deck}} {
		if out.file == "" || out.file == "-" {
			continue
		}
		for _, in := range []string{name, f.stackName, f.modelFile} {
			if sameFile(out.file, in) {
				return usagef("%s would be overwritten by --%s\n    give another file name", out.file, out.flag)
			}
		}
		if other := outs[out.file]; other != "" {
			return usagef("--%s and --%s name the same file %s\n    give each its own", other, out.flag, out.file)
		}
		outs[out.file] = out.flag
	}
	if err := checkPlotName(f.plot); err != nil {
		return err
	}
	return f.check(c)
}

// runDeck lets the simulator run, with progress.
func runDeck(c *cobra.Command, f *simulateFlags, deck *simulate.Deck) (*simulate.Result, error) {
	b := newBar(c, "simulating")
	defer b.end()
	run := &simulate.Runner{Program: f.simulator, Limit: f.limit, Progress: func(done float64, _ string) { b.set(int(done*1000), 1000) }}
	result, err := run.Run(c.Context(), deck)
	if errors.Is(err, simulate.ErrTime) {
		err = fmt.Errorf("%w\n    --limit gives it longer, --top takes a part of the circuit", err)
	}
	return result, err
}

// readModelFile reads a user's models; nil where none are named.
func readModelFile(name string) (*spice.ModelFile, error) {
	if name == "" {
		return nil, nil
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, inputError(name, err)
	}
	defer f.Close()
	return spice.ReadModels(name, f)
}
