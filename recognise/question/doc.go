// Package question asks where a drawing has more than one plausible reading.
package question
