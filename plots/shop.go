package plots

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"sealworthy/compare"
	"sealworthy/compare/words"
)

// ShopData is every build of a shop with its state.
type ShopData struct {
	Title string    // of the picture
	Rows  []ShopRow // from top to bottom
}

// ShopRow is one build.
type ShopRow struct {
	Build string
	// Verdict is that of its gravest closure; empty where it has none.
	Verdict  compare.ClosureVerdict
	Closures []compare.ClosureVerdict // of each, in the order of a test
	Left     []string                 // what is left to do, a phrase for each closure
	LeftAt   time.Time                // when it left the bench; zero: it's here
	Serial   string                   // empty: none is kept
	// Problem is why it couldn't be read: nothing else of it is known then.
	Problem   string
	Simulated bool // some of it was read by a simulated bench: the picture says so
}

// mostBuilds are drawn: as many as can be read on one page.
const mostBuilds = 60

// Shop draws a row for each build: its state, a mark for each closure, what is left, when
// it left and its serial number. Where there are more than a page holds, some are counted
// instead: first those that left, longest ago first, then those that are fine.
func Shop(w io.Writer, f Format, s Style, d ShopData) error {
	if len(d.Rows) == 0 {
		return errors.New("a shop without a build can't be drawn")
	}
	rows, away := d.drawn()
	lines := 6.4
	for _, r := range rows {
		lines += r.lines()
	}
	return s.paint(w, f, (lines*1.35+2)*s.TextPt, spoken{d.Title, d.say()}, func(c *canvas) error {
		d.draw(c, rows, away)
		return nil
	})
}

// lines is how high a row is.
func (r ShopRow) lines() float64 {
	if r.below() == "" {
		return 1.5
	}
	return 2.5
}

// drawn are the rows that are drawn, in their order, and how many aren't.
func (d ShopData) drawn() (rows []ShopRow, away int) {
	if len(d.Rows) <= mostBuilds {
		return d.Rows, 0
	}
	byNeed := slices.Clone(d.Rows)
	slices.SortStableFunc(byNeed, func(a, b ShopRow) int {
		return cmp.Or(cmp.Compare(a.need(), b.need()), b.LeftAt.Compare(a.LeftAt))
	})
	return byNeed[:mostBuilds], len(byNeed) - mostBuilds
}

// need is how much a build needs somebody who looks at it, the smaller the more.
func (r ShopRow) need() int {
	fine := r.Problem == "" && (r.Verdict == compare.ReadyToClose || r.Verdict == compare.ClosedByChoice)
	switch {
	case !r.LeftAt.IsZero():
		return 3
	case fine:
		return 2
	case r.Problem != "" || r.Verdict == compare.KeepOpen:
		return 0
	}
	return 1
}

func (d ShopData) say() string {
	var out []string
	for _, r := range d.Rows {
		out = append(out, strings.Join(slices.DeleteFunc([]string{r.Build + ": " + r.words(), r.closed(), r.gone(),
			r.serial(), r.below()}, func(s string) bool { return s == "" }), ", "))
	}
	return strings.Join(out, "; ")
}

func (r ShopRow) words() string {
	switch {
	case r.Problem != "":
		return "not read"
	case r.Verdict == "":
		return "no closure"
	}
	return string(r.Verdict)
}

// closed says how many closures are ready, or closed by choice.
func (r ShopRow) closed() string {
	if r.Problem != "" {
		return ""
	}
	n := 0
	for _, v := range r.Closures {
		if v == compare.ReadyToClose || v == compare.ClosedByChoice {
			n++
		}
	}
	return fmt.Sprintf("%d of %d", n, len(r.Closures))
}

func (r ShopRow) gone() string {
	if r.LeftAt.IsZero() {
		return ""
	}
	return "left " + words.Day(r.LeftAt, r.LeftAt.Location())
}

func (r ShopRow) serial() string {
	if r.Serial == "" {
		return ""
	}
	return "serial " + r.Serial
}

// below is the second line: what is wrong, or left.
func (r ShopRow) below() string {
	if r.Problem != "" {
		return r.Problem
	}
	s := strings.Join(r.Left, "; ")
	if r.Simulated {
		s = strings.TrimSuffix("simulated bench; "+s, "; ")
	}
	return s
}

// closureMark gives shape and ink of a verdict on a closure; what isn't known looks like
// what couldn't be read.
func (c Colours) closureMark(v compare.ClosureVerdict) (shape, colour) {
	switch v {
	case compare.ReadyToClose:
		return disc, c.Good
	case compare.ClosedByChoice:
		return square, c.Good
	case compare.KeepOpen:
		return crossing, c.Bad
	case compare.LookFirst, compare.NotSettled:
		return ring, c.Open
	}
	return diamond, c.Bad
}

// shopColumns are where the columns begin.
type shopColumns struct{ marks, count, words, gone float64 }

func (d ShopData) draw(c *canvas, rows []ShopRow, away int) {
	margin, step := c.TextPt, c.leading(c.body())
	at := shopColumns{0.31 * c.w, 0.50 * c.w, 0.58 * c.w, 0.74 * c.w}
	y := c.h - margin - 1.1*c.TextPt
	c.text(c.head(), margin, y, left, c.fit(c.head(), d.Title, c.w-2*margin))
	y -= 1.4 * step
	y = d.legend(c, y) - 1.3*step
	for _, h := range []struct {
		x   float64
		say string
	}{{margin, "build"}, {at.marks, "its closures"}, {at.count, "closed"}, {at.words, "state"},
		{at.gone, "left the bench"}} {
		c.text(c.small(), h.x, y, left, h.say)
	}
	c.text(c.small(), c.w-margin, y, right, "serial number")
	y -= 0.35 * step
	simulated := false
	for _, r := range rows {
		c.line(c.Colours.Grid, 0.5, margin, y, c.w-margin, y)
		r.draw(c, y-1.05*step, at)
		c.text(c.small(), 2*margin, y-2.05*step, left, c.fit(c.small(), r.below(), c.w-3*margin))
		y -= r.lines() * step
		simulated = simulated || r.Simulated
	}
	y = margin
	if away > 0 {
		c.text(c.small(), margin, y, left, fmt.Sprintf("%d more aren't drawn.", away))
		y += step
	}
	if simulated {
		c.simulated(margin, y)
	}
}

func (d ShopData) legend(c *canvas, y float64) float64 {
	x, t := c.TextPt, c.small()
	for _, e := range []struct {
		v   compare.ClosureVerdict
		say string
	}{{compare.ReadyToClose, "ready to close"}, {compare.ClosedByChoice, "closed by choice"},
		{compare.NotSettled, "not settled, or look first"}, {compare.KeepOpen, "keep open"}, {"", "not read"}} {
		s, ink := c.Colours.closureMark(e.v)
		c.mark(s, ink, x+0.4*c.TextPt, y+0.3*c.TextPt, 0.36*c.TextPt)
		c.text(t, x+1.2*c.TextPt, y, left, e.say)
		x += 2.6*c.TextPt + c.width(t, e.say)
	}
	return y
}

// draw draws the first line of a build.
func (r ShopRow) draw(c *canvas, y float64, at shopColumns) {
	margin, mid := c.TextPt, y+0.3*c.TextPt
	bold := c.body()
	bold.bold = true
	c.text(bold, margin, y, left, c.fit(bold, r.Build, at.marks-2*margin))
	marks := r.Closures
	if r.Problem != "" {
		marks = []compare.ClosureVerdict{""}
	}
	pitch := min(1.1*c.TextPt, (at.count-at.marks-margin)/float64(max(1, len(marks))))
	for i, v := range marks {
		s, ink := c.Colours.closureMark(v)
		c.mark(s, ink, at.marks+(float64(i)+0.5)*pitch, mid, min(0.36*c.TextPt, 0.4*pitch))
	}
	c.text(c.body(), at.count, y, left, r.closed())
	_, bold.ink = c.Colours.closureMark(r.Verdict)
	c.text(bold, at.words, y, left, c.fit(bold, r.words(), at.gone-at.words-0.5*margin))
	when := "here"
	if !r.LeftAt.IsZero() {
		when = words.Day(r.LeftAt, r.LeftAt.Location())
	}
	if r.Problem != "" {
		when = ""
	}
	c.text(c.body(), at.gone, y, left, when)
	from := at.gone + c.width(c.body(), "2026-12-31") + margin
	c.text(c.body(), c.w-margin, y, right, c.fit(c.body(), r.Serial, c.w-margin-from))
}
