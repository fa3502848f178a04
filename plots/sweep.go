package plots

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sealworthy/compare/fault"
	"sealworthy/compare/returns"
	"sealworthy/compare/words"
)

// SweepData is the sweep of a return against the signature.
type SweepData struct {
	Title     string    // of the picture
	Volts     []float64 // V, at the model, rising
	MeasuredA []float64
	// HealthyA is what it would draw if nothing were wrong: the signature with
	// what was fitted along.
	HealthyA []float64
	NoiseA   []float64 // standard deviation of each point
	// Explained are the best explanations, the likeliest first.
	Explained []Explained
	Simulated bool // the picture says so
}

// Explained is one explanation of the difference.
type Explained struct {
	Name   string
	P      float64 // its probability, 0 to 1
	DeltaA []float64
}

// drawnExplanations is how many lines are told apart in grey print.
const drawnExplanations = 3

// SweepOf takes the picture's data from a diagnosis.
func SweepOf(d *returns.Diagnosis) SweepData {
	s := SweepData{Title: d.Build + ": sweep at the jack against its signature", Volts: d.Volts,
		MeasuredA: d.MeasuredA,
		HealthyA:  d.HealthyA, NoiseA: d.NoiseA, Simulated: d.Simulated}
	for _, c := range d.Ranked {
		if len(c.DeltaA) != len(d.Volts) || c.Place == string(fault.Nothing) ||
			len(s.Explained) == drawnExplanations || c.P < 0.02 {
			continue
		}
		name := c.Place
		if c.Second != "" {
			name += " and " + c.Second
		}
		if b := c.Best(); c.Second == "" && string(b.Class) != c.Place {
			name += ", " + fault.AboutKind(b.Class).Short
		}
		s.Explained = append(s.Explained, Explained{name, c.P, c.DeltaA})
	}
	return s
}

func (d SweepData) check() error {
	n := len(d.Volts)
	if n < 2 {
		return errors.New("a sweep of fewer than two voltages can't be drawn")
	}
	for _, x := range [][]float64{d.MeasuredA, d.HealthyA, d.NoiseA} {
		if len(x) != n || !finite(x...) {
			return fmt.Errorf("the sweep %q has no draw for each of its %d voltages", d.Title, n)
		}
	}
	for _, e := range d.Explained {
		if len(e.DeltaA) != n || !finite(e.DeltaA...) {
			return fmt.Errorf("the explanation %q of %q has no draw for each voltage", e.Name, d.Title)
		}
	}
	return nil
}

// Sweep draws the draw over voltage, and below it the difference with the best
// explanations.
func Sweep(w io.Writer, f Format, s Style, d SweepData) error {
	if err := d.check(); err != nil {
		return err
	}
	return s.paint(w, f, 1.75*s.HeightMM*ptPerMM, spoken{d.Title, d.say()}, func(c *canvas) error { return d.draw(c) })
}

// say describes the picture in words.
func (d SweepData) say() string {
	most, at := 0.0, 0.0
	for i := range d.Volts {
		if x := d.MeasuredA[i] - d.HealthyA[i]; math.Abs(x) > math.Abs(most) {
			most, at = x, d.Volts[i]
		}
	}
	var names []string
	for _, e := range d.Explained {
		names = append(names, fmt.Sprintf("%s (%s)", e.Name, words.Sureness(e.P)))
	}
	return fmt.Sprintf("The largest difference is %.1f mA at %.1f V. Explanations: %s.", 1e3*most, at,
		strings.Join(names, "; "))
}

var explainedDashes = [][]vg.Length{{10, 2}, {5, 3}, {2, 2}}

func (d SweepData) draw(c *canvas) error {
	margin := c.TextPt
	top := c.h - margin - c.leading(c.head())*0.8
	c.text(c.head(), margin, top, left, c.fit(c.head(), d.Title, c.w-2*margin))
	top -= c.leading(c.body())
	inks := []colour{c.Colours.Bad, c.Colours.Open, c.Colours.Good}
	t := c.small()
	swatch := 2.4 * c.TextPt
	mid := func(y float64) float64 { return y + 0.3*c.TextPt*t.size }
	c.circle(c.Colours.Ink, margin+swatch/2, mid(top), 1.8, true)
	c.text(t, margin+swatch+4, top, left, "measured now")
	x := margin + swatch + 4 + c.width(t, "measured now") + 2*c.TextPt
	c.line(c.Colours.Good, 1.4, x, mid(top), x+swatch, mid(top))
	c.text(t, x+swatch+4, top, left, "as it left (temperature, meter, voltage and plug allowed for)")
	for i, e := range d.Explained {
		top -= c.leading(t)
		c.StrokeLines(draw.LineStyle{Color: inks[i], Width: 1.3, Dashes: explainedDashes[i]},
			points([]float64{margin, mid(top), margin + swatch, mid(top)}))
		c.text(t, margin+swatch+4, top, left, c.fit(t, fmt.Sprintf("%s: %s", e.Name, words.Sureness(e.P)),
			c.w-2*margin-swatch))
	}
	top -= 0.6 * c.TextPt
	bottom := margin * 0.8
	if d.Simulated {
		c.simulated(margin, bottom)
		bottom += c.leading(c.small())
	}
	say := c.small()
	note := c.lines(say, "In the lower part, 95 of 100 points lie in the shaded band by chance alone; one near the "+
		"lowest voltage of a board has no band and decides nothing.", c.w-2*margin)
	for i := len(note) - 1; i >= 0; i-- {
		c.text(say, margin, bottom, left, note[i])
		bottom += c.leading(say)
	}
	bottom += margin / 2
	upper, err := d.upper(c)
	if err != nil {
		return err
	}
	lower, err := d.lower(c, inks)
	if err != nil {
		return err
	}
	crop := func(from, to float64) draw.Canvas {
		return draw.Crop(c.Canvas, vg.Length(margin), -vg.Length(1.5*margin), vg.Length(from), -vg.Length(c.h-to))
	}
	// One width of the axis' numbers for both, so that the voltages stand in line.
	plots := [][]*plot.Plot{{upper}, {lower}}
	tiles := draw.Tiles{Rows: 2, Cols: 1, PadY: vg.Length(0.8 * margin)}
	cs := plot.Align(plots, tiles, crop(bottom, top))
	upper.Draw(cs[0][0])
	lower.Draw(cs[1][0])
	return nil
}

const voltsAtJack = "volts at the jack"

func (d SweepData) milliamps(a []float64) plotter.XYs {
	out := make(plotter.XYs, len(a))
	for i := range a {
		out[i] = plotter.XY{X: d.Volts[i], Y: 1e3 * a[i]}
	}
	return out
}

// used lists the points that decide something: where a board may run or not,
// near its lowest voltage, its noise is far above that of the others.
func (d SweepData) used() []int {
	sorted := slices.Sorted(slices.Values(d.NoiseA))
	usual := sorted[len(sorted)/2]
	var out []int
	for i, u := range d.NoiseA {
		if u <= 10*usual {
			out = append(out, i)
		}
	}
	return out
}

func (d SweepData) upper(c *canvas) (*plot.Plot, error) {
	g := c.graph(voltsAtJack, "draw in mA")
	g.grid()
	g.line(d.milliamps(d.HealthyA), c.Colours.Good, 1.4)
	g.dots(d.milliamps(d.MeasuredA), 2)
	g.X.Min, g.X.Max, g.Y.Min = d.Volts[0]-0.2, d.Volts[len(d.Volts)-1]+0.2, 0
	return g.Plot, g.err
}

func (d SweepData) lower(c *canvas, inks []colour) (*plot.Plot, error) {
	g := c.graph(voltsAtJack, "difference in mA")
	n := len(d.Volts)
	band := make(plotter.XYs, 0, 2*n)
	diff := make([]float64, n)
	low, high := 0.0, 0.0
	for i := range d.Volts {
		diff[i] = d.MeasuredA[i] - d.HealthyA[i]
		low, high = math.Min(low, diff[i]), math.Max(high, diff[i])
		for _, e := range d.Explained {
			low, high = math.Min(low, e.DeltaA[i]), math.Max(high, e.DeltaA[i])
		}
	}
	room := math.Max(0.12*(high-low), 2e-4)
	low, high = low-room, high+room
	clip := func(x float64) float64 { return 1e3 * math.Min(high, math.Max(low, x)) }
	used := d.used()
	for _, i := range used {
		band = append(band, plotter.XY{X: d.Volts[i], Y: clip(2 * d.NoiseA[i])})
	}
	for _, i := range slices.Backward(used) {
		band = append(band, plotter.XY{X: d.Volts[i], Y: clip(-2 * d.NoiseA[i])})
	}
	g.shade(band, c.Colours.Band, draw.LineStyle{})
	g.grid()
	for i, e := range d.Explained {
		g.line(d.milliamps(e.DeltaA), inks[i], 1.3, explainedDashes[i]...)
	}
	g.dots(d.milliamps(diff), 2)
	g.X.Min, g.X.Max, g.Y.Min, g.Y.Max = d.Volts[0]-0.2, d.Volts[n-1]+0.2, 1e3*low, 1e3*high
	return g.Plot, g.err
}
