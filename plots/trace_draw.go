package plots

import (
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// draw lays the picture out: title and legend above, caption below, axes
// between. The library's legend would lie over the readings.
func (d TraceData) draw(c *canvas) error {
	margin := c.TextPt
	top := c.h - margin - c.leading(c.head())*0.8
	c.text(c.head(), margin, top, left, c.fit(c.head(), d.Title, c.w-2*margin))
	top -= c.leading(c.body()) * 1.15
	top = d.legend(c, margin, top)
	bottom := margin * 0.8
	caption := d.caption()
	for i := len(caption) - 1; i >= 0; i-- {
		t := c.small()
		if i == 1 && d.Simulated {
			t.bold, t.ink = true, c.Colours.Bad
		}
		c.text(t, margin, bottom, left, c.fit(t, caption[i], c.w-2*margin))
		bottom += c.leading(t)
	}
	p, err := d.plot(c)
	if err != nil {
		return err
	}
	area := draw.Crop(c.Canvas, vg.Length(margin), -vg.Length(1.5*margin), vg.Length(bottom+margin/2),
		-vg.Length(c.h-top))
	p.Draw(area)
	return nil
}

// legend writes what is what, in as many lines as it takes; it gives where the rest may begin.
func (d TraceData) legend(c *canvas, margin, y float64) float64 {
	t := c.small()
	x := margin
	swatch := 1.6 * c.TextPt
	entry := func(s string, paint func(x, y float64)) {
		wide := swatch + 4 + c.width(t, s)
		if x > margin && x+wide > c.w-margin {
			x, y = margin, y-c.leading(t)
		}
		paint(x, y+0.32*c.TextPt*t.size)
		c.text(t, x+swatch+4, y, left, s)
		x += wide + 1.6*c.TextPt
	}
	entry("reading", func(x, y float64) {
		c.line(c.Colours.Ink, 1, x, y, x+swatch, y)
		c.circle(c.Colours.Ink, x+swatch/2, y, 1.8, true)
	})
	for _, l := range d.Levels {
		entry(l.say(), func(x, y float64) {
			c.rect(d.bandInk(c, l), x, y-0.4*c.TextPt, swatch, 0.8*c.TextPt)
			if l.Name == "dark" {
				for _, edge := range []float64{-0.4, 0.4} {
					c.StrokeLines(draw.LineStyle{Color: c.Colours.Faint, Width: 0.6, Dashes: darkDashes()},
						points([]float64{x, y + edge*c.TextPt, x + swatch, y + edge*c.TextPt}))
				}
			}
		})
	}
	if len(d.Levels) == 0 {
		entry("no expected band", func(x, y float64) { c.line(c.Colours.Grid, 1, x, y, x+swatch, y) })
	}
	if len(d.Overloads) > 0 {
		entry("reply without a value (overload)", func(x, y float64) { c.mark(up, c.Colours.Bad, x+swatch/2, y, 3) })
	}
	return y - 0.8*c.TextPt
}

// darkDashes edge the band of what is dark.
func darkDashes() []vg.Length { return []vg.Length{3, 2} }

func (d TraceData) bandInk(c *canvas, l Level) (ink colour) {
	if l.Name == "dark" {
		return c.Colours.DarkBand
	}
	return c.Colours.Band
}

func percent(x float64) string { return strconv.FormatFloat(100*x, 'g', 4, 64) + " %" }

// overloadWide is how wide the mark of a reply without a value is, points.
const overloadWide = 6

// plot makes the axes and what lies between them, in mA.
func (d TraceData) plot(c *canvas) (*plot.Plot, error) {
	toS, lowA, highA := d.limits()
	g := c.graph("seconds since the step began", "draw in mA")
	for _, l := range d.Levels {
		lo, hi := 1e3*l.Band.LowA, 1e3*l.Band.HighA
		if least := (highA - lowA) * 1e3 / 300; hi-lo < least { // else nothing would be seen of it
			lo, hi = (lo+hi-least)/2, (lo+hi+least)/2
		}
		var edge draw.LineStyle
		if l.Name == "dark" { // to be told from the others in grey print
			edge = draw.LineStyle{Color: c.Colours.Faint, Width: 0.6, Dashes: darkDashes()}
		}
		g.shade(plotter.XYs{{X: d.FromS, Y: lo}, {X: toS, Y: lo}, {X: toS, Y: hi}, {X: d.FromS, Y: hi}},
			d.bandInk(c, l), edge)
	}
	g.grid()
	d.lines(g, toS)
	g.Add(upright{c: c, at: d.SettledS, say: "settled", ink: c.Colours.Good},
		upright{c: c, at: d.TrippedS, say: "tripped", ink: c.Colours.Bad})
	if len(d.Overloads) > 0 {
		var at plotter.XYs
		for _, s := range apart(d.Overloads, d.FromS, toS, int(c.w)/overloadWide) {
			at = append(at, plotter.XY{X: s, Y: 1e3 * highA * 0.98})
		}
		g.marks(at, c.Colours.Bad, overloadWide/2, draw.PyramidGlyph{})
	}
	// After the last Add, which would widen them.
	g.X.Min, g.X.Max, g.Y.Min, g.Y.Max = d.FromS, toS, 1e3*lowA, 1e3*highA
	return g.Plot, g.err
}

// lines adds a line for each segment, and each reading as a point where there is room.
func (d TraceData) lines(g *graph, toS float64) {
	columns := int(g.c.w)
	dots := len(d.Samples) <= columns/2
	for _, seg := range joined(d.segments(), d.FromS, toS, columns) {
		seg = thin(seg, d.FromS, toS, columns)
		at := make(plotter.XYs, len(seg))
		for i, x := range seg {
			at[i] = plotter.XY{X: x.S, Y: 1e3 * x.A}
		}
		if len(at) > 1 {
			g.line(at, g.c.Colours.Ink, 0.8)
		}
		if dots || len(at) == 1 {
			g.dots(at, 1.5)
		}
	}
}

// upright is a line over the whole height with a word at its top.
type upright struct {
	c   *canvas
	at  float64 // NaN: none
	say string
	ink colour
}

// Plot implements plot.Plotter.
func (u upright) Plot(a draw.Canvas, p *plot.Plot) {
	if !finite(u.at) {
		return
	}
	tx, _ := p.Transforms(&a)
	x := tx(u.at).Points()
	u.c.dashed(u.ink, 1, x, a.Min.Y.Points(), x, a.Max.Y.Points())
	t := u.c.small()
	t.ink, t.bold = u.ink, true
	side := left
	if x+4+u.c.width(t, u.say) > a.Max.X.Points() {
		side, x = right, x-8
	}
	u.c.text(t, x+4, a.Max.Y.Points()-u.c.TextPt, side, u.say)
}

// ticks puts at most seven marks at 1, 2 or 5 times a power of ten, each with
// as many digits as its step needs.
type ticks struct{}

// Ticks implements plot.Ticker.
func (ticks) Ticks(low, high float64) []plot.Tick {
	if !(high > low) {
		return nil
	}
	step := math.Pow(10, math.Floor(math.Log10((high-low)/7)))
	for _, m := range []float64{1, 2, 5, 10} {
		if (high-low)/(m*step) <= 7 {
			step *= m
			break
		}
	}
	places := max(0, int(-math.Floor(math.Log10(step)+1e-9)))
	var out []plot.Tick
	for i := math.Ceil(low/step - 1e-9); i*step <= high*(1+1e-12); i++ {
		out = append(out, plot.Tick{Value: i * step, Label: strconv.FormatFloat(i*step+0, 'f', places, 64)})
	}
	return out
}
