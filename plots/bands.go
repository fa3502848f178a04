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

// BandsData is what a plan expects of each group.
type BandsData struct {
	Title string    // of the picture
	Rows  []BandRow // in the order of the plan
	Notes []string  // below it, a line each
}

// BandRow is the budget of one group.
type BandRow struct {
	Group     string
	ExpectedA float64
	Band      compare.Band // zero: built as found, no expectation
	// SmallestA is by how much the draw falls when the least branch goes dark; 0: not known.
	SmallestA float64
	// SeenFromA is the least fall that the meter can tell from a healthy group; 0:
	// not known, the edge of the band then decides.
	SeenFromA float64
}

// Bands draws the band of each group of a budget, and where its draw would be
// with its least branch dark: where that lies within the band, current alone
// can't show the loss.
func Bands(w io.Writer, f Format, s Style, d BandsData) error {
	chart, err := bandChart(d)
	if err != nil {
		return err
	}
	return s.paint(w, f, chart.height(s), chart.say, chart.draw)
}

func bandChart(d BandsData) (rowChart, error) {
	if len(d.Rows) == 0 {
		return rowChart{}, errors.New("a budget without groups can't be drawn")
	}
	chart := rowChart{head: d.Title, columns: []string{"expected", "band, mA", "one branch dark"}, foot: d.Notes}
	var told []string
	var coverages []float64
	for _, b := range d.Rows {
		if !finite(b.ExpectedA, b.Band.LowA, b.Band.HighA, b.SmallestA) {
			return rowChart{}, fmt.Errorf("group %q has a draw that is no finite number", b.Group)
		}
		r := row{name: b.Group, low: math.NaN(), high: math.NaN(), at: math.NaN(), from: math.NaN(), to: math.NaN(),
			tick: math.NaN(),
			text: []string{"", "", ""}}
		if !hasBand(b.Band) || b.ExpectedA <= 0 {
			r.bare = "no plan of it: built as found"
		} else {
			coverages = append(coverages, b.Band.Coverage)
			r.text[0] = words.Milliamps(b.ExpectedA, (b.Band.HighA-b.Band.LowA)/4)
			r.text[1] = strings.TrimSuffix(words.MilliampBand(b.Band.LowA, b.Band.HighA), " mA")
			r.low, r.high = percentOf(b.Band.LowA, b.ExpectedA), percentOf(b.Band.HighA, b.ExpectedA)
			if b.SmallestA > 0 {
				r.tick = percentOf(b.ExpectedA-b.SmallestA, b.ExpectedA)
				r.text[2] = seenOrNot(b)
			}
		}
		chart.rows = append(chart.rows, r)
		told = append(told, fmt.Sprintf("%s: expected %s, band %s mA, one branch dark: %s", r.name,
			cmp.Or(r.text[0], "not known"), cmp.Or(r.text[1], "not known"), cmp.Or(r.text[2], "not known")))
	}
	chart.legend = []legendEntry{bandSwatch(coverages),
		{"with its least branch dark", func(c *canvas, x, y, w float64) {
			c.line(c.Colours.Bad, 1.3, x+w/2, y-0.5*c.TextPt, x+w/2, y+0.5*c.TextPt)
		}}}
	chart.say = spoken{d.Title, strings.Join(told, "; ")}
	return chart, nil
}

// seenOrNot says whether the loss of the least branch shows. Leaving the band is
// not enough: the group that lost it has a spread of its own.
func seenOrNot(b BandRow) string {
	out := b.ExpectedA-b.SmallestA < b.Band.LowA
	switch {
	case !out:
		return "hides in it: look"
	case b.SeenFromA > b.SmallestA:
		return "too near: look"
	}
	return "shows"
}
