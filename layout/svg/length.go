package svg

import (
	"fmt"
	"strings"
)

// unitPx are the units of CSS in px, by the definition of 96 px an inch (CSS Values 3 §5.2, from memory).
var unitPx = map[string]float64{"": 1, "px": 1, "in": 96, "cm": 96 / 2.54, "mm": 96 / 25.4, "q": 96 / 101.6, "pt": 96.0 / 72, "pc": 16}

// parseLength reads a length in user units; a percentage is one of whole.
func parseLength(text string, whole float64) (float64, error) {
	s := &scanner{s: strings.TrimSpace(text)}
	v, err := s.number()
	if err != nil {
		return 0, err
	}
	unit := strings.ToLower(s.s[s.at:])
	if unit == "%" {
		return v / 100 * whole, nil
	}
	px, ok := unitPx[unit]
	if !ok {
		return 0, fmt.Errorf("%.20q: lengths are numbers, or have one of the units px, mm, cm, in, pt, pc, Q and %%", text)
	}
	return v * px, nil
}

// Box is a rectangle in user units of the drawing, y downward.
type Box struct{ X, Y, Width, Height float64 }

// parseViewBox reads a viewBox; ok is false where it has no area.
func parseViewBox(text string) (b Box, ok bool, err error) {
	s := &scanner{s: text}
	v, err := s.list()
	if err == nil && (len(v) != 4 || v[2] < 0 || v[3] < 0) {
		err = fmt.Errorf("%.40q: a viewBox has four numbers, x, y, width and height", text)
	}
	if err != nil {
		return b, false, err
	}
	b = Box{v[0], v[1], v[2], v[3]}
	return b, b.Width > 0 && b.Height > 0, nil
}

// fit returns the map that lays from on to, as preserveAspectRatio says: scaled evenly unless it is none; meet keeps all
// of it inside, slice fills all. SVG 1.1 §7.8 (from memory).
func fit(from, to Box, aspect string) matrix {
	sx, sy := to.Width/from.Width, to.Height/from.Height
	words := strings.Fields(strings.TrimPrefix(strings.TrimSpace(aspect), "defer "))
	align := "xMidYMid"
	if len(words) > 0 {
		align = words[0]
	}
	fx, fy := 0.0, 0.0 // where what is left over goes
	if align != "none" {
		if s := min(sx, sy); len(words) > 1 && words[1] == "slice" {
			sx, sy = max(sx, sy), max(sx, sy)
		} else {
			sx, sy = s, s
		}
		share := map[string]float64{"Min": 0, "Mid": 0.5, "Max": 1}
		fx, fy = 0.5, 0.5
		if len(align) == 8 {
			if k, ok := share[align[1:4]]; ok {
				fx = k
			}
			if k, ok := share[align[5:]]; ok {
				fy = k
			}
		}
	}
	return matrix{a: sx, d: sy,
		e: to.X - sx*from.X + fx*(to.Width-sx*from.Width),
		f: to.Y - sy*from.Y + fy*(to.Height-sy*from.Height)}
}
