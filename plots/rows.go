package plots

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/compare"
)

// A row chart has one row for each group: its name, a scale in percent of the
// expected draw, and columns of text. In percent all rows can be read, however
// far apart the draws are.
type rowChart struct {
	say     spoken
	head    string
	columns []string // headings of the columns of text
	rows    []row
	legend  []legendEntry
	foot    []string
	warn    string // a line that must not be missed
}

// row is one line of it. Positions are in percent of expected; NaN is not drawn.
type row struct {
	name      string
	text      []string // one for each column
	low, high float64  // the band
	at        float64  // the mark
	from, to  float64  // its whisker
	mark      shape
	ink       colour
	tick      float64 // one branch less
	bare      string  // said in place of a picture where there is nothing to compare
}

type legendEntry struct {
	say   string
	paint func(c *canvas, x, y, w float64)
}

// Percent of expected to which a scale may reach; what lies beyond its end is
// drawn as an arrow at the edge, and its numbers stand in the columns.
const scaleEnd = 200

// height in points grows with the rows.
func (r rowChart) height(s Style) float64 {
	line := s.TextPt * 1.35
	n := float64(len(r.rows))
	return s.TextPt*2 + line*1.7 + line*1.2 + n*s.TextPt*2.1 + line*2.6 + float64(len(r.foot))*line + line
}

func (r rowChart) draw(c *canvas) error {
	margin := c.TextPt
	x0 := margin
	y := c.h - margin - c.TextPt*1.1
	c.text(c.head(), x0, y, left, c.fit(c.head(), r.head, c.w-2*margin))
	y -= c.leading(c.body()) * 1.5
	y = r.drawLegend(c, x0, y)

	l := r.layout(c)
	for i, h := range r.columns {
		c.text(c.small(), l.columns[i], y, l.aligns[i], h)
	}
	rowHeight := 2.1 * c.TextPt
	top := y - 0.5*c.TextPt
	bottom := top - float64(len(r.rows))*rowHeight
	r.drawScale(c, l, top, bottom)
	for i, x := range r.rows {
		mid := top - (float64(i)+0.5)*rowHeight
		if i > 0 {
			c.line(c.Colours.Grid, 0.4, x0, mid+rowHeight/2, c.w-margin, mid+rowHeight/2)
		}
		x.draw(c, l, mid)
	}
	y = bottom - 1.1*c.leading(c.small())
	c.text(c.small(), (l.scaleFrom+l.scaleTo)/2, y-1.1*c.leading(c.small()), centre, "percent of the expected draw")
	y -= 1.25 * c.leading(c.small())
	for _, s := range r.foot {
		y -= c.leading(c.small())
		c.text(c.small(), x0, y, left, c.fit(c.small(), s, c.w-2*margin))
	}
	if r.warn != "" {
		t := c.small()
		t.bold, t.ink = true, c.Colours.Bad
		c.text(t, x0, y-c.leading(t), left, c.fit(t, r.warn, c.w-2*margin))
	}
	return nil
}

func (r rowChart) drawLegend(c *canvas, x0, y float64) float64 {
	x, t := x0, c.small()
	swatch := 1.6 * c.TextPt
	for _, e := range r.legend {
		wide := swatch + 4 + c.width(t, e.say)
		if x > x0 && x+wide > c.w-x0 {
			x, y = x0, y-c.leading(t)
		}
		e.paint(c, x, y+0.32*t.size*c.TextPt, swatch)
		c.text(t, x+swatch+4, y, left, e.say)
		x += wide + 1.4*c.TextPt
	}
	return y - 1.5*c.leading(t)
}

// rowLayout says where things stand: names, then the scale, then the columns.
type rowLayout struct {
	nameWidth          float64
	scaleFrom, scaleTo float64
	end                float64 // percent at scaleTo
	columns            []float64
	aligns             []align
}

func (r rowChart) layout(c *canvas) rowLayout {
	margin, gap := c.TextPt, 1.3*c.TextPt
	l := rowLayout{end: r.end()}
	for _, x := range r.rows {
		l.nameWidth = max(l.nameWidth, c.width(c.body(), x.name))
	}
	l.nameWidth = min(l.nameWidth, 0.26*c.w)
	widths := make([]float64, len(r.columns))
	for i, h := range r.columns {
		widths[i] = c.width(c.small(), h)
		for _, x := range r.rows {
			t := c.body()
			t.bold = x.mark != 0 && i == len(widths)-1
			widths[i] = max(widths[i], c.width(t, x.text[i]))
		}
	}
	x := c.w - margin
	for i := len(widths) - 1; i >= 0; i-- {
		// Numbers end at one line, the last column (words) begins at one.
		at, a := x, right
		if i == len(widths)-1 {
			at, a = x-widths[i], left
		}
		l.columns, l.aligns = append([]float64{at}, l.columns...), append([]align{a}, l.aligns...)
		x -= widths[i] + gap
		if i == len(widths)-1 {
			x -= gap // room for the mark
		}
	}
	l.scaleFrom, l.scaleTo = margin+l.nameWidth+gap, x-gap/2
	return l
}

// end is where the scale ends, in steps of 25 %: past all that is drawn, except
// what would squeeze the rest.
func (r rowChart) end() float64 {
	e := 125.0
	for _, x := range r.rows {
		for _, v := range []float64{x.high, x.to, x.at} {
			if finite(v) && v <= scaleEnd {
				e = max(e, 25*math.Ceil(v/25+0.2))
			}
		}
	}
	return min(e, scaleEnd)
}

func (l rowLayout) x(p float64) float64 {
	return l.scaleFrom + (l.scaleTo-l.scaleFrom)*min(max(p, 0), l.end)/l.end
}

func (r rowChart) drawScale(c *canvas, l rowLayout, top, bottom float64) {
	step := 25.0
	if l.end > 150 {
		step = 50
	}
	for p := 0.0; p <= l.end; p += step {
		ink, width := c.Colours.Grid, 0.5
		if p == 100 {
			ink, width = c.Colours.Faint, 0.8
		}
		c.line(ink, width, l.x(p), top, l.x(p), bottom-3)
		c.text(c.small(), l.x(p), bottom-c.leading(c.small()), centre, fmt.Sprintf("%g", p))
	}
}

func (x row) draw(c *canvas, l rowLayout, mid float64) {
	base := mid - 0.35*c.TextPt
	c.text(c.body(), c.TextPt, base, left, c.fit(c.body(), x.name, l.nameWidth))
	for i, s := range x.text {
		t := c.body()
		if i == len(x.text)-1 && x.mark != 0 {
			t.ink, t.bold = x.ink, true
			c.mark(x.mark, x.ink, l.columns[i]-1.1*c.TextPt, mid, 0.42*c.TextPt)
		}
		c.text(t, l.columns[i], base, l.aligns[i], s)
	}
	if x.bare != "" {
		say := c.fit(c.small(), x.bare, l.scaleTo-l.scaleFrom)
		wide := c.width(c.small(), say) + 6
		c.rect(c.Colours.Paper, (l.scaleFrom+l.scaleTo-wide)/2, mid-0.8*c.TextPt, wide, 1.6*c.TextPt)
		c.text(c.small(), (l.scaleFrom+l.scaleTo)/2, base, centre, say)
	}
	if finite(x.low, x.high) {
		from, to := l.x(x.low), l.x(x.high)
		c.rect(c.Colours.Band, from, mid-0.6*c.TextPt, max(to-from, 1), 1.2*c.TextPt)
	}
	if finite(x.tick) {
		at := l.x(x.tick)
		c.line(c.Colours.Bad, 1.3, at, mid-0.75*c.TextPt, at, mid+0.75*c.TextPt)
	}
	if !finite(x.at) {
		return
	}
	if x.at > l.end { // beyond the scale
		e := l.x(l.end)
		c.line(x.ink, 1.4, e-1.6*c.TextPt, mid, e, mid)
		c.polygon(x.ink, e+0.7*c.TextPt, mid, e-0.2*c.TextPt, mid+0.45*c.TextPt, e-0.2*c.TextPt, mid-0.45*c.TextPt)
		return
	}
	if finite(x.from, x.to) {
		from, to, cap := l.x(x.from), l.x(x.to), 0.3*c.TextPt
		c.line(x.ink, 1, from, mid, to, mid)
		c.line(x.ink, 1, from, mid-cap, from, mid+cap)
		c.line(x.ink, 1, to, mid-cap, to, mid+cap)
	}
	c.mark(x.mark, x.ink, l.x(x.at), mid, 0.42*c.TextPt)
}

// bandSwatch is in every legend of rows.
func bandSwatch(coverages []float64) legendEntry {
	say := "expected"
	slices.Sort(coverages)
	if u := slices.Compact(coverages); len(u) == 1 && u[0] > 0 {
		say = fmt.Sprintf("expected of %s of healthy groups", percent(u[0]))
	}
	return legendEntry{say, func(c *canvas, x, y, w float64) {
		c.rect(c.Colours.Band, x, y-0.4*c.TextPt, w,
			0.8*c.TextPt)
	}}
}

// percentOf gives 100 a/of; NaN where there is nothing to compare with.
func percentOf(a, of float64) float64 {
	if !(of > 0) || !finite(a) {
		return math.NaN()
	}
	return 100 * a / of
}

func hasBand(b compare.Band) bool { return b.HighA > 0 && b.HighA >= b.LowA }
