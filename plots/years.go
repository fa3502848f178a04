package plots

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"sealworthy/compare"
	"sealworthy/compare/words"
)

// YearsData is what groups or reels drew again and again, against one value.
type YearsData struct {
	Title     string     // of the picture
	Against   string     // what 0 % is
	Rows      []YearsRow // from top to bottom
	Simulated bool       // some of it is: the picture says so
}

// YearsRow is one group, or one reel, with what is said of it.
type YearsRow struct {
	Name, Words string      // of the group or reel, and what is said of it
	Bad         bool        // what is said is that something is wrong
	Marks       []YearsMark // in the order of time
	Notes       []string    // what the maker noted of it, in the order of time
	more        int         // marks after the first that aren't drawn
	before      int         // notes that aren't drawn
}

// YearsMark is one measurement: by how much it lies off, a fraction, with its standard
// uncertainty.
type YearsMark struct {
	Label  string  // what tells it from the others: the date, or the build
	Rel, U float64 // a fraction, 0 is as expected; U its standard uncertainty
	Bad    bool    // it differs for sure, or its group failed
}

// YearsOf draws what groups drew each time that they were measured.
func YearsOf(build string, groups []compare.GroupYears, where *time.Location) YearsData {
	d := YearsData{Title: build + ": draw over stages and years", Against: "the first reading"}
	for _, g := range groups {
		r := YearsRow{Name: g.Group, Words: "as it was"}
		if g.Pace != "" {
			r.Name += ", " + g.Pace
		}
		if len(g.Points) == 1 {
			r.Words = "measured once"
		}
		for _, p := range g.Points {
			d.Simulated = d.Simulated || p.Simulated
			r.Bad = r.Bad || p.Changed
			r.Marks = append(r.Marks, YearsMark{Label: words.Day(p.At, where) + " " + p.Stage, Rel: p.Rel - 1,
				U: p.RelU, Bad: p.Changed})
		}
		if r.Bad {
			r.Words = "changed"
		}
		d.Rows = append(d.Rows, r)
	}
	return d
}

// ReelsOf draws what reels draw against the part book, build by build.
func ReelsOf(folder string, reels []compare.ReelYears, where *time.Location) YearsData {
	d := YearsData{Title: folder + ": reels, build by build", Against: "as the part book says"}
	for _, x := range reels {
		r := YearsRow{Name: x.Reel, Words: strings.Join(x.Says(), ", "), Bad: len(x.Says()) > 0}
		if !r.Bad {
			r.Words = "as the book says"
		}
		for _, p := range x.Points {
			d.Simulated = d.Simulated || p.Simulated
			r.Marks = append(r.Marks, YearsMark{Label: words.Day(p.At, where) + " " + p.Build, Rel: p.Rel,
				U: p.U, Bad: len(p.Failed) > 0 || p.Beyond})
		}
		d.Rows = append(d.Rows, r)
	}
	return d
}

// A page has room for so many rows, for so many measurements in all of them, and for so
// many notes, three of a row at most.
const (
	mostYears    = 36
	mostMarks    = 120
	mostNotes    = 40
	mostRowNotes = 3
)

func (d YearsData) check() error {
	n := 0
	for _, r := range d.Rows {
		for _, m := range r.Marks {
			if n++; !finite(m.Rel, m.U) || m.U < 0 {
				return fmt.Errorf("%q has a draw that is no finite number", r.Name)
			}
		}
	}
	if n == 0 {
		return errors.New("nothing was measured: there is nothing to draw")
	}
	return nil
}

// notes are the lines of what was noted.
func (r YearsRow) notes() (out []string) {
	switch {
	case r.before == 1:
		out = append(out, "(1 earlier note isn't drawn)")
	case r.before > 1:
		out = append(out, fmt.Sprintf("(%d earlier notes aren't drawn)", r.before))
	}
	for _, x := range r.Notes {
		out = append(out, "note: "+x)
	}
	return out
}

// drawn is what a page has room for. Of too many rows those are the last that say nothing is
// wrong, of too many measurements those go between the first, against which the others
// stand, and the latest, of notes the earlier ones; what goes is counted.
func (d YearsData) drawn() (rows []YearsRow, away int) {
	rows = slices.Clone(d.Rows)
	if away = len(rows) - mostYears; away > 0 {
		slices.SortStableFunc(rows, func(a, b YearsRow) int {
			switch {
			case a.Bad == b.Bad:
				return 0
			case a.Bad:
				return -1
			}
			return 1
		})
		rows = rows[:mostYears]
	}
	n := 0
	for _, r := range rows {
		n += len(r.Marks)
	}
	each := max(2, mostMarks/len(rows))
	notes := min(mostRowNotes, max(1, mostNotes/len(rows)))
	for i, r := range rows {
		if earlier := len(r.Notes) - notes; earlier > 0 {
			rows[i].Notes, rows[i].before = r.Notes[earlier:], earlier
		}
		if more := len(r.Marks) - each; n > mostMarks && more > 0 {
			rows[i].Marks = slices.Concat(r.Marks[:1], r.Marks[1+more:])
			rows[i].more = more
		}
	}
	return rows, max(0, away)
}

// scale is what half the width stands for.
func (d YearsData) scale() float64 {
	most := 0.0
	for _, r := range d.Rows {
		for _, m := range r.Marks {
			most = max(most, math.Abs(m.Rel)+whiskerU*m.U)
		}
	}
	for _, nice := range []float64{0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5} {
		if most <= nice {
			return nice
		}
	}
	return 1
}

// Years draws every measurement as a mark with its whisker, below the name of its
// group or reel.
func Years(w io.Writer, f Format, s Style, d YearsData) error {
	if err := d.check(); err != nil {
		return err
	}
	rows, away := d.drawn()
	lines := 4.5
	for _, r := range rows {
		if lines += 1.5 + float64(len(r.notes())+len(r.Marks)); r.more > 0 {
			lines++
		}
	}
	if d.Simulated {
		lines++
	}
	if away > 0 {
		lines++
	}
	return s.paint(w, f, (lines*1.35+2)*s.TextPt, spoken{d.Title, d.say()}, func(c *canvas) error {
		d.draw(c, rows, away)
		return nil
	})
}

func (d YearsData) say() string {
	var out []string
	for _, r := range d.Rows {
		out = append(out, fmt.Sprintf("%s: %s, %d measurements, %d notes", r.Name, r.Words, len(r.Marks),
			len(r.Notes)))
	}
	return strings.Join(out, "; ")
}

func (d YearsData) draw(c *canvas, rows []YearsRow, away int) {
	margin, step := c.TextPt, c.leading(c.body())
	y := c.h - margin - 1.1*c.TextPt
	c.text(c.head(), margin, y, left, c.fit(c.head(), d.Title, c.w-2*margin))
	y -= 1.4 * step
	scale := d.scale()
	from, to := 0.42*c.w, 0.80*c.w
	mid, half := (from+to)/2, (to-from)/2
	top := y - 0.4*step
	c.text(c.small(), mid, y, centre, "0 %: "+d.Against)
	c.text(c.small(), from, y, centre, fmt.Sprintf("-%g %%", 100*scale))
	c.text(c.small(), to, y, centre, fmt.Sprintf("+%g %%", 100*scale))
	bottom := margin + step
	if d.Simulated {
		bottom += step
	}
	if away > 0 {
		bottom += step
	}
	for _, x := range []float64{from, mid, to} {
		c.line(c.Colours.Grid, 0.6, x, top, x, bottom)
	}
	for _, r := range rows {
		y -= 1.5 * step
		t := c.body()
		t.bold = true
		c.text(t, margin, y, left, c.fit(t, r.Name, from-2*margin))
		if t.ink = c.Colours.Good; r.Bad {
			t.ink = c.Colours.Bad
		}
		c.text(t, c.w-margin, y, right, c.fit(t, r.Words, c.w-to-margin))
		for _, n := range r.notes() {
			y -= step
			c.text(c.small(), 2*margin, y, left, c.fit(c.small(), n, c.w-3*margin))
		}
		for i, m := range r.Marks {
			y -= step
			if i == 1 && r.more > 0 {
				c.text(c.small(), 2*margin, y, left, fmt.Sprintf("(%d between aren't drawn)", r.more))
				y -= step
			}
			d.mark(c, m, y, mid, half/scale, from, to)
		}
	}
	c.text(c.small(), margin, margin, left,
		"A whisker holds about 95 of 100; a diamond is what changed, failed, or lies beyond its tolerance.")
	if d.Simulated {
		c.simulated(margin, margin+step)
	}
	if away > 0 {
		c.text(c.small(), margin, bottom-step, left, fmt.Sprintf("%d more aren't drawn; the list has them.", away))
	}
}

// mark draws one measurement; perUnit is how many points a deviation of 1 is wide.
func (d YearsData) mark(c *canvas, m YearsMark, y, mid, perUnit, from, to float64) {
	margin := c.TextPt
	c.text(c.small(), 2*margin, y, left, c.fit(c.small(), m.Label, from-4*margin))
	c.text(c.small(), c.w-margin, y, right, fmt.Sprintf("%+.1f %% ±%.1f", 100*m.Rel, 100*whiskerU*m.U))
	s, ink := disc, c.Colours.Good
	if m.Bad {
		s, ink = diamond, c.Colours.Bad
	}
	at := func(rel float64) float64 { return min(to, max(from, mid+rel*perUnit)) }
	line := y + 0.3*c.TextPt
	c.line(ink, 1, at(m.Rel-whiskerU*m.U), line, at(m.Rel+whiskerU*m.U), line)
	c.mark(s, ink, at(m.Rel), line, 0.28*c.TextPt)
}
