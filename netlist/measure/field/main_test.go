package field

import (
	"flag"
	"os"
	"testing"
)

// TestMain checks 30 random shapes of each property, 100 with UNDERMETAL_FULL, or as many as -rapid.checks says.
func TestMain(m *testing.M) {
	if os.Getenv("UNDERMETAL_FULL") == "" {
		if err := flag.Set("rapid.checks", "30"); err != nil {
			panic(err)
		}
	}
	os.Exit(m.Run())
}
