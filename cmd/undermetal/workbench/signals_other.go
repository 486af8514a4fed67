//go:build !unix

package workbench

import "os"

var (
	hangupSignals = []os.Signal{os.Kill} // there is none
	guardIgnores  = []os.Signal{os.Interrupt}
)
