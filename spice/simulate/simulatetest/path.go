// Package simulatetest finds the simulator for tests: without one they are skipped, and fail where CI is set.
package simulatetest

import (
	"os"
	"testing"

	"undermetal/spice/simulate"
)

// Path returns the path of ngspice. Without it the test is skipped, and fails where CI is set.
func Path(t testing.TB) string {
	t.Helper()
	path, err := simulate.Find("")
	if err == nil {
		return path
	}
	if os.Getenv("CI") != "" {
		t.Fatalf("CI is set, and what is written must be held against a simulator: %v", err)
	}
	t.Skipf("nothing is held against a simulator: %v", err)
	return ""
}
