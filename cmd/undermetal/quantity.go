package main

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// quantity is the value of a flag that takes a number, of a length in its usual unit or with a unit behind it.
type quantity struct {
	value *float64
	unit  string // "nm" or "µm", of a number without one and of what is kept; empty: a number without a unit
}

func (q quantity) String() string {
	if q.value == nil {
		return "0"
	}
	return strconv.FormatFloat(*q.value, 'g', -1, 64)
}

func (q quantity) Type() string {
	if q.unit == "" {
		return "number"
	}
	return "length"
}

func (q quantity) Set(text string) error {
	v, err := parseQuantity(text, q.unit)
	if err == nil {
		*q.value = v
	}
	return err
}

// unitNm is how long the units are that lengths may be given in; µ is a sign of its own, and a Greek letter too.
var unitNm = map[string]float64{"nm": 1, "um": 1e3, "µm": 1e3, "μm": 1e3, "mm": 1e6}

// parseQuantity reads a finite number, with a unit behind it or without, and returns it in a unit.
func parseQuantity(text, unit string) (float64, error) {
	number, from := strings.TrimSpace(text), unit
	for name := range unitNm {
		if rest, ok := strings.CutSuffix(number, name); ok && unit != "" {
			number, from = strings.TrimSpace(rest), name
			break
		}
	}
	v, err := finite(number)
	if err != nil {
		return 0, quantityError(number, unit)
	}
	if to := unitNm[unit]; from != unit && unitNm[from] < to {
		v /= to / unitNm[from]
	} else if from != unit {
		v *= unitNm[from] / to
	}
	return v, nil
}

func finite(text string) (float64, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
		err = strconv.ErrRange
	}
	return v, err
}

// quantityError says what would be right.
func quantityError(number, unit string) error {
	if point := strings.Replace(number, ",", ".", 1); point != number {
		if _, err := finite(point); err == nil {
			return fmt.Errorf("write a decimal point, as in %s", point)
		}
	}
	switch unit {
	case "nm":
		return errors.New("give a number of nm, as in 550, or one with nm, um or mm behind it, as in 0.55um")
	case "µm":
		return errors.New("give a number of µm, as in 3.45, or one with nm, um or mm behind it, as in 3450nm")
	}
	return errors.New("give a number, as in 0.9")
}

// flagError says which flag is wrong, and why.
func flagError(c *cobra.Command, err error) error {
	var bad *pflag.InvalidValueError
	if errors.As(err, &bad) {
		err = fmt.Errorf("--%s %s: %w", bad.GetFlag().Name, bad.GetValue(), valueError(bad.Unwrap()))
	}
	return usagef("%w\n    %s --help shows what there is", err, c.CommandPath())
}

func valueError(err error) error {
	var number *strconv.NumError
	switch {
	case !errors.As(err, &number):
		return err
	case errors.Is(number.Err, strconv.ErrRange):
		return errors.New("that is out of range")
	case number.Func == "ParseBool":
		return errors.New("give true or false")
	case number.Func == "ParseFloat":
		return errors.New("not a number")
	}
	return errors.New("not a whole number")
}

// parsePlace reads X,Y: two lengths in µm or with units, or, px, two numbers of pixels.
func parsePlace(text string) (x, y float64, px bool, err error) {
	parts := strings.Split(text, ",")
	if len(parts) != 2 {
		return 0, 0, false, fmt.Errorf("%s, not 2", counted(len(parts), "number"))
	}
	var v [2]float64
	if _, px = strings.CutSuffix(text, "px"); px {
		for i, p := range parts {
			if v[i], err = finite(strings.TrimSpace(strings.TrimSuffix(p, "px"))); err != nil {
				return 0, 0, true, fmt.Errorf("%q is no number", p)
			}
		}
		return v[0], v[1], true, nil
	}
	for i, p := range parts {
		if v[i], err = parseQuantity(p, "µm"); err != nil {
			return 0, 0, false, fmt.Errorf("%q is no length", p)
		}
	}
	return v[0], v[1], false, nil
}

// numbers reads n finite numbers with commas between them.
func numbers(text string, n int) ([]float64, error) {
	parts := strings.Split(text, ",")
	if len(parts) != n {
		return nil, fmt.Errorf("%s, not %d", counted(len(parts), "number"), n)
	}
	v := make([]float64, n)
	for i, p := range parts {
		var err error
		if v[i], err = finite(strings.TrimSpace(p)); err != nil {
			return nil, fmt.Errorf("%q is no number", p)
		}
	}
	return v, nil
}
