package plots

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"sealworthy/compare"
	"sealworthy/compare/words"
)

// whiskerU is how many standard uncertainties a whisker spans on each side:
// about 95 % of a normal distribution (JCGM 100:2008, 6.2.2 and G.1.3).
const whiskerU = 2

// Closure draws measured against expected for each group of a closure, in the
// order of the findings, which is the plan's.
func Closure(w io.Writer, f Format, s Style, x compare.ClosureFinding) error {
	chart, err := closureChart(s, x)
	if err != nil {
		return err
	}
	return s.paint(w, f, chart.height(s), chart.say, chart.draw)
}

func closureChart(s Style, x compare.ClosureFinding) (rowChart, error) {
	if len(x.Groups) == 0 {
		return rowChart{}, fmt.Errorf("closure %q has no group to draw", x.Closure)
	}
	chart := rowChart{
		head:    x.Closure + ": " + string(x.Verdict),
		columns: []string{"measured", "expected, mA", "verdict"},
	}
	var told []string
	var coverages []float64
	simulated, changed := x.Simulated, false
	seen := map[compare.Verdict]bool{}
	for _, g := range x.Groups {
		r, err := findingRow(s.Colours, g)
		if err != nil {
			return rowChart{}, err
		}
		chart.rows = append(chart.rows, r)
		told = append(told, fmt.Sprintf("%s: %s, measured %s, expected %s", r.name, r.text[2],
			cmp.Or(r.text[0], "nothing"), cmp.Or(r.text[1], "not known")))
		simulated, changed = simulated || g.Simulated, changed || g.PlanChanged
		if hasBand(g.Band) {
			coverages = append(coverages, g.Band.Coverage)
		}
		seen[g.Verdict] = true
	}
	chart.legend = []legendEntry{bandSwatch(coverages)}
	chart.legend = append(chart.legend,
		legendEntry{"measured, with its uncertainty (about 95 %)", func(c *canvas, x, y, w float64) {
			c.line(c.Colours.Ink, 1, x, y, x+w, y)
			c.line(c.Colours.Ink, 1, x, y-3, x, y+3)
			c.line(c.Colours.Ink, 1, x+w, y-3, x+w, y+3)
			c.mark(disc, c.Colours.Ink, x+w/2, y, 0.35*c.TextPt)
		}})
	if changed {
		chart.foot = append(chart.foot, "The plan changed after a reading; expected is by the plan as it is now.")
	}
	if simulated {
		chart.warn = SimulatedBench
	}
	chart.say = spoken{"Measured against expected, closure " + x.Closure,
		fmt.Sprintf("Verdict: %s. %s. %s", x.Verdict, strings.Join(told, "; "), chart.warn)}
	return chart, nil
}

// findingRow is the row of one group at one pace.
func findingRow(ink Colours, g compare.Finding) (row, error) {
	if !finite(g.MeasuredA, g.MeasuredU, g.ExpectedA, g.Band.LowA, g.Band.HighA) {
		return row{}, errors.New("group " + g.Group + " has a draw that is no finite number")
	}
	r := row{name: rowName(g), low: math.NaN(), high: math.NaN(), at: math.NaN(), from: math.NaN(), to: math.NaN(),
		tick: math.NaN()}
	r.mark, r.ink = ink.markOf(g.Verdict)
	var measured, expected string
	if isMeasured(g) {
		measured = words.Milliamps(g.MeasuredA, g.MeasuredU)
		r.at = percentOf(g.MeasuredA, g.ExpectedA)
		if g.MeasuredU > 0 {
			r.from, r.to = percentOf(g.MeasuredA-whiskerU*g.MeasuredU, g.ExpectedA),
				percentOf(g.MeasuredA+whiskerU*g.MeasuredU, g.ExpectedA)
		}
	}
	switch {
	case hasBand(g.Band) && g.ExpectedA > 0:
		expected = strings.TrimSuffix(words.MilliampBand(g.Band.LowA, g.Band.HighA), " mA")
		r.low, r.high = percentOf(g.Band.LowA, g.ExpectedA), percentOf(g.Band.HighA, g.ExpectedA)
	case isMeasured(g):
		r.bare = "nothing to compare with: built as found"
	default:
		r.bare = "not measured"
	}
	r.text = []string{measured, expected, g.Word()}
	if r.text[2] == "" {
		r.text[2] = string(compare.NotMeasured)
	}
	return r, nil
}

// isMeasured tells a draw of zero from none: the zero finding has no reading.
func isMeasured(g compare.Finding) bool {
	return g.Verdict != compare.NotMeasured && g.Verdict != "" && (g.Readings > 0 || g.MeasuredA != 0)
}

func rowName(g compare.Finding) string {
	if g.Pace != "" {
		return g.Group + " (" + g.Pace + ")"
	}
	return g.Group
}
