// Package report writes what was found out about a die as one HTML file that needs nothing else.
//
// In: a Report, a plain value that the command fills from a dossier. Out: HTML with its pictures as data URIs and its drawings as
// inline SVG; no script, no link that is fetched, nothing that is not in the file.
//
//  1. report.go    the value
//  2. write.go     the value through page.html and page.css, by html/template, which escapes every text
//  3. picture.go   photographs as data URIs: PNG or JPEG by their content, nothing else
//  4. svg.go       drawings: read as XML and written anew from what is on a list, so that no script, reference or style gets through
//  5. blockmap.go  the block map as a drawing beside its photograph
//
// Every text is a stranger's: a dossier comes by mail. A policy in the page (Content-Security-Policy) forbids what escaping might miss.
//
// The page reads from 360 px of width on; what is wider scrolls in a box of its own. It prints on A4 without cutting a figure, and is
// dark where the reader's system is; drawings stay on white.
package report
