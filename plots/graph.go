package plots

import (
	"cmp"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// graph is a pair of axes in the inks of a picture. What can't be drawn is kept as err, the
// first of it, and what comes after it is drawn all the same.
type graph struct {
	*plot.Plot
	c   *canvas
	err error
}

// graph makes empty axes.
func (c *canvas) graph(x, y string) *graph {
	p := plot.New()
	p.BackgroundColor = c.Colours.Paper
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Color, a.Tick.Color = c.Colours.Faint, c.Colours.Faint
		a.Label.TextStyle = c.style(c.small())
		a.Tick.Label.Font, a.Tick.Label.Handler, a.Tick.Label.Color = c.font(c.small()), c.style(c.small()).Handler,
			c.Colours.Faint
		a.Tick.Marker = ticks{}
		a.Padding = 0
	}
	p.X.Label.Text, p.Y.Label.Text = x, y
	return &graph{Plot: p, c: c}
}

func (g *graph) grid() {
	grid := plotter.NewGrid()
	grid.Vertical.Color, grid.Horizontal.Color = g.c.Colours.Grid, g.c.Colours.Grid
	g.Add(grid)
}

func (g *graph) add(p plot.Plotter, err error) {
	if g.err = cmp.Or(g.err, err); err == nil {
		g.Add(p)
	}
}

func (g *graph) line(at plotter.XYs, ink colour, width vg.Length, dashes ...vg.Length) {
	l, err := plotter.NewLine(at)
	if err == nil {
		l.LineStyle = draw.LineStyle{Color: ink, Width: width, Dashes: dashes}
	}
	g.add(l, err)
}

func (g *graph) marks(at plotter.XYs, ink colour, radius vg.Length, shape draw.GlyphDrawer) {
	m, err := plotter.NewScatter(at)
	if err == nil {
		m.GlyphStyle = draw.GlyphStyle{Color: ink, Radius: radius, Shape: shape}
	}
	g.add(m, err)
}

// dots are readings.
func (g *graph) dots(at plotter.XYs, radius vg.Length) {
	g.marks(at, g.c.Colours.Ink, radius, draw.CircleGlyph{})
}

// shade fills what lies between some points.
func (g *graph) shade(at plotter.XYs, ink colour, edge draw.LineStyle) {
	s, err := plotter.NewPolygon(at)
	if err == nil {
		s.Color, s.LineStyle = ink, edge
	}
	g.add(s, err)
}
