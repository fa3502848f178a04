package plots

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/words"
)

// trendRow is the height of a lane in sizes of text.
const trendRow = 3.0

// trendLayout says where things stand.
type trendLayout struct {
	names, from, to, words float64 // x: where names end, lanes, where words begin
	scale                  float64 // half a lane is worth so much of the first value
}

func (d TrendData) layout(c *canvas) trendLayout {
	margin := c.TextPt
	var l trendLayout
	wide := 0.0
	bold := c.body()
	bold.bold = true
	for _, s := range d.Series {
		l.names = max(l.names, c.width(bold, s.Name))
		wide = max(wide, c.width(bold, d.words(s)))
	}
	l.names = margin + min(l.names, 0.25*c.w)
	l.from = l.names + 1.2*c.TextPt
	l.words = c.w - margin - min(wide, 0.35*c.w)
	l.to = l.words - 1.6*c.TextPt
	l.scale = d.scale()
	return l
}

// scale is the largest move but those of marked steps, which may leave their
// lane: a step of one group must not flatten all the others.
func (d TrendData) scale() float64 {
	most := 0.0
	for _, s := range d.Series {
		for i, p := range s.Points {
			if i > 0 && !p.Step {
				most = max(most, math.Abs(p.Rel-1)+2*p.U)
			}
		}
	}
	for _, nice := range []float64{0.005, 0.01, 0.02, 0.05, 0.1} {
		if most <= nice {
			return nice
		}
	}
	return 0.2
}

func (d TrendData) x(l trendLayout, stage string) float64 {
	i := slices.IndexFunc(d.Stages, func(s TrendStage) bool { return s.Name == stage })
	return l.from + (l.to-l.from)*(float64(i)+0.5)/float64(len(d.Stages))
}

func (d TrendData) draw(c *canvas) {
	margin := c.TextPt
	y := c.h - margin - 1.1*c.TextPt
	c.text(c.head(), margin, y, left, c.fit(c.head(), d.Title, c.w-2*margin))
	y -= 1.5 * c.leading(c.body())
	y = d.legend(c, margin, y)
	l := d.layout(c)
	for _, s := range d.Stages {
		t := c.body()
		t.bold = true
		c.text(t, d.x(l, s.Name), y, centre, s.Name)
		if !s.At.IsZero() {
			c.text(c.small(), d.x(l, s.Name), y-c.leading(c.small()), centre, words.Day(s.At, s.At.Location()))
		}
	}
	top := y - c.leading(c.small()) - 0.6*c.TextPt
	row := trendRow * c.TextPt
	bottom := top - float64(len(d.Series))*row
	for _, s := range d.Stages {
		c.line(c.Colours.Grid, 0.5, d.x(l, s.Name), top, d.x(l, s.Name), bottom)
	}
	for i, s := range d.Series {
		mid := top - (float64(i)+0.5)*row
		c.line(c.Colours.Grid, 0.5, margin, mid+row/2, c.w-margin, mid+row/2)
		d.lane(c, l, s, mid, row)
	}
	c.line(c.Colours.Grid, 0.5, margin, bottom, c.w-margin, bottom)
	y = bottom - 1.3*c.leading(c.small())
	c.text(c.small(), margin, y, left,
		fmt.Sprintf(
			"A lane is ±%g %% of the first value high; what another voltage, room or bench does is taken off.",
			100*l.scale))
	for _, n := range d.Notes {
		for _, line := range c.lines(c.small(), n, c.w-2*margin) {
			y -= c.leading(c.small())
			c.text(c.small(), margin, y, left, line)
		}
	}
	if d.Simulated {
		c.simulated(margin, y-c.leading(c.small()))
	}
}

func (d TrendData) legend(c *canvas, x, y float64) float64 {
	t := c.small()
	swatch := 1.8 * c.TextPt
	for _, e := range []legendEntry{
		{"draw against the first, with its uncertainty (about 95 %)",
			func(c *canvas, x, y, w float64) { d.point(c, x+w/2, y, 0.45*c.TextPt, false) }},
		{"what the groups have in common",
			func(c *canvas, x, y, w float64) { c.line(c.Colours.DarkBand, 3, x, y, x+w, y) }},
		{"step of one group", func(c *canvas, x, y, w float64) { d.point(c, x+w/2, y, 0.45*c.TextPt, true) }},
	} {
		wide := swatch + 4 + c.width(t, e.say)
		if x > c.TextPt && x+wide > c.w-c.TextPt {
			x, y = c.TextPt, y-c.leading(t)
		}
		e.paint(c, x, y+0.32*c.TextPt*t.size, swatch)
		c.text(t, x+swatch+4, y, left, e.say)
		x += wide + 1.4*c.TextPt
	}
	return y - 1.7*c.leading(t)
}

// point draws a mark with its whisker, half points long.
func (d TrendData) point(c *canvas, x, y, half float64, step bool) {
	s, ink := disc, c.Colours.Good
	if step {
		s, ink = diamond, c.Colours.Bad
	}
	cap := 0.22 * c.TextPt
	c.line(ink, 1, x, y-half, x, y+half)
	c.line(ink, 1, x-cap, y-half, x+cap, y-half)
	c.line(ink, 1, x-cap, y+half, x+cap, y+half)
	c.mark(s, ink, x, y, 0.3*c.TextPt)
}

func (d TrendData) lane(c *canvas, l trendLayout, s TrendSeries, mid, row float64) {
	base := mid - 0.35*c.TextPt
	t := c.body()
	t.bold = s.Whole
	d.name(c, t, s.Name, l.names-c.TextPt, mid)
	half := 0.42 * row
	at := func(rel float64) float64 { return mid + half*min(1, max(-1, (rel-1)/l.scale)) }
	c.dashed(c.Colours.Grid, 0.8, l.from, mid, l.to, mid)
	var drift []float64
	for _, p := range s.Points {
		if rel, ok := d.common(p.Stage); ok || p.Stage == s.Points[0].Stage {
			drift = append(drift, d.x(l, p.Stage), at(rel))
		}
	}
	if len(drift) >= 4 && !s.Whole {
		c.line(c.Colours.DarkBand, 3, drift...)
	}
	var line []float64
	for _, p := range s.Points {
		line = append(line, d.x(l, p.Stage), at(p.Rel))
	}
	if len(line) >= 4 {
		c.line(c.Colours.Ink, 0.9, line...)
	}
	stepped := false
	for _, p := range s.Points {
		stepped = stepped || p.Step
		x := d.x(l, p.Stage)
		if beyond := (p.Rel - 1) / l.scale; math.Abs(beyond) > 1 {
			way := math.Copysign(1, beyond)
			y := mid + way*half
			c.polygon(c.Colours.Bad, x, y+way*0.45*c.TextPt, x-0.45*c.TextPt, y-way*0.35*c.TextPt, x+0.45*c.TextPt,
				y-way*0.35*c.TextPt)
			continue
		}
		d.point(c, x, at(p.Rel), min(half, half*whiskerU*p.U/l.scale), p.Step)
	}
	say := c.body()
	if stepped {
		say.bold, say.ink = true, c.Colours.Bad
	}
	if len(s.Points) < 2 {
		say.ink = c.Colours.Faint
	}
	c.text(say, l.words, base, left, c.fit(say, d.words(s), c.w-c.TextPt-l.words))
}

// name writes a name in one line, or in two where it is long.
func (d TrendData) name(c *canvas, t typeface, s string, width, mid float64) {
	if c.width(t, s) <= width {
		c.text(t, c.TextPt, mid-0.35*c.TextPt, left, s)
		return
	}
	first, rest := s, ""
	for i, r := range s {
		if r == ' ' && c.width(t, s[:i]) <= width {
			first, rest = s[:i], s[i+1:]
		}
	}
	if rest == "" {
		c.text(t, c.TextPt, mid-0.35*c.TextPt, left, c.fit(t, s, width))
		return
	}
	c.text(t, c.TextPt, mid+0.25*c.TextPt, left, first)
	c.text(t, c.TextPt, mid-1.0*c.TextPt, left, c.fit(t, rest, width))
}
