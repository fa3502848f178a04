package plots

import (
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sealworthy/compare/blink"
)

// draw lays the picture out: title, legend, readings with the fit, lanes, caption.
func (d BlinkersData) draw(c *canvas) error {
	margin := c.TextPt
	top := c.h - margin - c.leading(c.head())*0.8
	c.text(c.head(), margin, top, left, c.fit(c.head(), d.Title, c.w-2*margin))
	top -= c.leading(c.body()) * 1.15
	d.legend(c, margin, top)
	top -= 0.7 * c.TextPt
	bottom := margin * 0.8
	caption := d.caption()
	for i := len(caption) - 1; i >= 0; i-- {
		t := c.small()
		if i == 1 && d.Simulated || d.Poor && i == len(caption)-1-len(d.Notes) {
			t.bold, t.ink = true, c.Colours.Bad
		}
		c.text(t, margin, bottom, left, c.fit(t, caption[i], c.w-2*margin))
		bottom += c.leading(t)
	}
	lanes := bottom + margin/2
	bottom = lanes + float64(len(d.Lanes))*laneHeight*c.TextPt + 0.6*c.TextPt
	p, err := d.plot(c)
	if err != nil {
		return err
	}
	area := draw.Crop(c.Canvas, vg.Length(margin), -vg.Length(1.5*margin), vg.Length(bottom), -vg.Length(c.h-top))
	p.Draw(area)
	data := p.DataCanvas(area)
	for i, l := range d.Lanes {
		y := lanes + (float64(len(d.Lanes)-1-i)+0.5)*laneHeight*c.TextPt
		d.lane(c, l, y, data.Min.X.Points(), data.Max.X.Points())
	}
	return nil
}

func (d BlinkersData) legend(c *canvas, x, y float64) {
	t := c.small()
	swatch := 1.8 * c.TextPt
	mid := y + 0.32*c.TextPt*t.size
	c.circle(c.Colours.Ink, x+swatch/2, mid, 1.8, true)
	c.text(t, x+swatch+4, y, left, "reading")
	x += swatch + 4 + c.width(t, "reading") + 1.6*c.TextPt
	c.line(c.Colours.Good, 1.2, x, mid, x+swatch, mid)
	c.text(t, x+swatch+4, y, left, "fitted, as the meter would read it")
	x += swatch + 4 + c.width(t, "fitted, as the meter would read it") + 1.6*c.TextPt
	if d.BaseOpen {
		c.text(t, x, y, left, d.baseWords())
		return
	}
	c.dashed(c.Colours.Faint, 1, x, mid, x+swatch, mid)
	c.text(t, x+swatch+4, y, left, d.baseWords())
}

// fitPoints is how many points the fitted line has.
const fitPoints = 600

func (d BlinkersData) plot(c *canvas) (*plot.Plot, error) {
	g := c.graph("seconds since the first reading", "draw in mA")
	g.grid()
	from, to := d.span()
	low, high := d.Samples[0].A, d.Samples[0].A
	line := make(plotter.XYs, fitPoints+1)
	for i := range line {
		s := from + (to-from)*float64(i)/fitPoints
		a := d.Fitted(s)
		low, high = min(low, a), max(high, a)
		line[i] = plotter.XY{X: s, Y: 1e3 * a}
	}
	var dots plotter.XYs
	for _, x := range d.Samples {
		if x.S <= to {
			low, high = min(low, x.A), max(high, x.A)
			dots = append(dots, plotter.XY{X: x.S, Y: 1e3 * x.A})
		}
	}
	if !d.BaseOpen {
		low = min(low, d.BaseA)
		g.line(plotter.XYs{{X: from, Y: 1e3 * d.BaseA}, {X: to, Y: 1e3 * d.BaseA}}, c.Colours.Faint, 1, 4, 3)
	}
	g.line(line, c.Colours.Good, 1.2)
	g.dots(dots, 1.6)
	room := max(0.08*(high-low), 2e-4)
	g.X.Min, g.X.Max, g.Y.Min, g.Y.Max = from, to, 1e3*(low-room), 1e3*(high+room)
	return g.Plot, g.err
}

// lane draws one blinker: a bar where it is lit, a line where it is dark, and
// its name and word above.
func (d BlinkersData) lane(c *canvas, l Lane, y, x0, x1 float64) {
	from, to := d.span()
	at := func(s float64) float64 { return x0 + (x1-x0)*min(1, max(0, (s-from)/(to-from))) }
	ink := c.Colours.Good
	switch l.State {
	case blink.Running:
	case blink.Unsettled:
		ink = c.Colours.Open
	default:
		ink = c.Colours.Bad
	}
	bar := 0.75 * c.TextPt
	below := y - 0.95*c.TextPt
	t := c.body()
	name := c.fit(t, l.Name+":", (x1-x0)/2)
	c.text(t, x0, y+0.1*c.TextPt, left, name)
	said := c.body()
	said.ink, said.bold = ink, l.State != blink.Running
	say := x0 + c.width(t, name) + 0.6*c.TextPt
	c.text(said, say, y+0.1*c.TextPt, left, c.fit(said, l.words(), x1-say))
	switch l.State {
	case blink.Running:
		c.line(c.Colours.Faint, 0.8, x0, below, x1, below)
		for _, s := range l.Lit {
			if s[0] < to && s[1] > from {
				c.rect(ink, at(s[0]), below, at(s[1])-at(s[0]), bar)
			}
		}
	case blink.StaysLit:
		c.rect(ink, x0, below, x1-x0, bar)
	case blink.StaysDark:
		c.line(ink, 1.6, x0, below, x1, below)
	default:
		c.dashed(ink, 1.2, x0, below+bar/2, x1, below+bar/2)
		c.text(said, (x0+x1)/2, below-0.05*c.TextPt, centre, "?")
	}
}
