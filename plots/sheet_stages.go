package plots

import (
	"html/template"
	"io"
	"slices"

	"sealworthy/compare/stages"
)

// sheetChange is the whole model against the stage before, in words.
type sheetChange struct {
	Stage, Pace, Verdict, Class string
	Mark                        template.HTML
	Text                        string
	More                        []string
}

// changes puts the changes of the whole model into words, with the trend.
func (d SheetData) changes() (rows []sheetChange, trend template.HTML, err error) {
	for _, c := range d.Changes {
		x := sheetChange{Stage: c.Stage, Pace: c.Pace, Verdict: string(c.Verdict), Text: c.Text}
		s := ring
		switch c.Verdict {
		case stages.Unchanged:
			s, x.Class = disc, "good"
		case stages.Changed:
			s, x.Class = diamond, "bad"
		default:
			x.Class = "open"
		}
		x.Mark = d.inline(s, x.Class)
		if c.Why != "" {
			x.More = append(x.More, c.Why)
		}
		x.More = append(slices.Concat(x.More, c.Settle), c.Notes...)
		rows = append(rows, x)
	}
	if d.Trend != nil && d.Trend.check() == nil {
		trend, err = d.svg(func(w io.Writer, s Style) error { return Trend(w, SVG, s, *d.Trend) })
	}
	return rows, trend, err
}
