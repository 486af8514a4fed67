package main

import (
	"bytes"
	"errors"
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
	t.Parallel()
	dir := t.TempDir()
	if err := errors.Join(writeKiln(dir), writeAmbiguous(dir), writeBroken(dir+"/broken.dossier"), writePhotos(dir)); err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:   "testdata/script",
		Setup: func(env *testscript.Env) error { return os.CopyFS(env.Cd, os.DirFS(dir)) },
	})
}

// writeKiln writes the imager's drawing and its stack, kiln.gds and kiln.stack.toml, into a folder.
func writeKiln(dir string) error {
	st, err := kilnStack()
	if err != nil {
		return err
	}
	var drawn bytes.Buffer
	if err := writeKilnGDS(&drawn, kiln.Library(), st); err != nil {
		return err
	}
	return errors.Join(os.WriteFile(dir+"/kiln.stack.toml", kiln.Stack, 0o600), os.WriteFile(dir+"/kiln.gds", drawn.Bytes(), 0o600))
}

// drawnKiln makes a folder with these files.
func drawnKiln(t *testing.T, dir string) {
	t.Helper()
	if err := errors.Join(os.Mkdir(dir, 0o700), writeKiln(dir)); err != nil {
		t.Fatal(err)
	}
}

// onlyInFull passes a test over unless UNDERMETAL_FULL is set.
func onlyInFull(t *testing.T) {
	t.Helper()
	if os.Getenv("UNDERMETAL_FULL") == "" {
		t.Skip("UNDERMETAL_FULL is not set: what takes long is left out")
	}
}

// drawings is how many random drawings go through all formats.
func drawings() int {
	if os.Getenv("UNDERMETAL_FULL") != "" {
		return 8
	}
	return 4
}
