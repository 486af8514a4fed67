package main

import (
	"bytes"
	"compress/gzip"
	"errors"
	"os"
	"strings"
	"testing"
)

// TestPackedDrawing: a drawing that gzip compressed is an SVG drawing to all commands; what else is compressed is none.
func TestPackedDrawing(t *testing.T) {
	t.Chdir(t.TempDir())
	for name, text := range map[string]string{"d.svgz": `<svg viewBox="0 0 9 9"><rect id="metal1" width="4" height="2"/></svg>`, "d.gds.gz": "\x00\x06\x00\x02"} {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		_, err := z.Write([]byte(text))
		if err := errors.Join(err, z.Close(), os.WriteFile(name, b.Bytes(), 0o600)); err != nil {
			t.Fatal(err)
		}
	}
	must(t, "new k.dossier --stack cmos-1p2m")
	if out := must(t, "trace import k.dossier d.svgz --um-per-unit 1"); !strings.Contains(out, "1 shape stored") {
		t.Error(out)
	}
	if errs := fails(t, "trace import k.dossier d.gds.gz"); !strings.HasSuffix(errs, "d.gds.gz: no drawing: GDSII, SVG, GeoJSON and masks (PNG, TIFF) are read, compressed only SVG (.svgz)\n") {
		t.Error(errs)
	}
}
