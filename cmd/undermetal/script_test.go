package main

import (
	"os"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"undermetal/testdata/kiln"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"undermetal": func() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) },
	})
}

// TestScripts runs the command as a user would. Each script finds kiln.gds, the worked example's drawing, and its stack
// in its folder, broken.dossier (see trace_heal_test.go), and drawings of testdata/ambiguous (see questions_test.go).
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(env *testscript.Env) error {
			if err := os.WriteFile(env.Cd+"/kiln.stack.toml", kiln.Stack, 0o600); err != nil {
				return err
			}
			f, err := os.Create(env.Cd + "/kiln.gds")
			if err != nil {
				return err
			}
			defer f.Close()
			st, err := kilnStack()
			if err != nil {
				return err
			}
			if err := writeKilnGDS(f, kiln.Library(), st); err != nil {
				return err
			}
			if err := writeAmbiguous(env.Cd); err != nil {
				return err
			}
			if err := writeBroken(env.Cd + "/broken.dossier"); err != nil {
				return err
			}
			return writePhotos(env.Cd)
		},
	})
}
