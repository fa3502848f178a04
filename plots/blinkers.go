package plots

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"sealworthy/compare/blink"
	"sealworthy/compare/stages"
	"sealworthy/compare/words"
)

// BlinkersData is a trace of several feeds with what was fitted to it.
type BlinkersData struct {
	Title   string   // of the picture
	Samples []Sample // seconds from the first reading; A
	// Fitted is what the meter would read by the fit, at the end of its window.
	Fitted func(s float64) float64
	BaseA  float64 // what is always lit
	BaseU  float64 // the meter's own error among it
	Lanes  []Lane
	// Poor: base and blinkers don't account for the readings.
	Poor bool
	// BaseOpen: base and steps aren't determined one by one.
	BaseOpen  bool
	Began     time.Time // zero: not said
	Volts     float64   // V, at the model; 0: not said
	Simulated bool      // the picture says so
	Notes     []string  // below it, a line each
}

// Lane is one blinker over time.
type Lane struct {
	Name    string
	State   blink.State
	StepA   float64 // added while lit
	StepU   float64
	PeriodS float64
	// Lit are the times when it is lit, in seconds of the samples; of one that
	// doesn't run they are not drawn.
	Lit [][2]float64
}

// BlinkersOf takes the picture's data from a reading and its parts. The title
// says what was on.
func BlinkersOf(title string, x stages.Reading, a blink.Parted) BlinkersData {
	d := BlinkersData{Title: title, BaseA: a.BaseA, BaseU: math.Hypot(a.BaseU, x.HalfWidthA/math.Sqrt(3)),
		Poor: a.Poor, BaseOpen: !a.Known, Began: x.At, Simulated: x.Simulated, Fitted: a.At}
	if x.Volts != nil {
		d.Volts = *x.Volts
	}
	for _, s := range x.Trace {
		d.Samples = append(d.Samples, Sample{s.AtS, s.Amps})
	}
	if len(d.Samples) == 0 {
		return d
	}
	from, to := d.Samples[0].S-x.WindowS, d.Samples[len(d.Samples)-1].S
	for _, c := range a.Beats {
		for _, b := range c.Outputs {
			l := Lane{Name: b.Name, State: b.State, StepA: b.StepA, StepU: b.StepU, PeriodS: c.PeriodS}
			if b.State == blink.Running {
				l.Lit = litTimes(c, b, from, to)
			}
			d.Lanes = append(d.Lanes, l)
		}
	}
	return d
}

// litTimes lists when an output is lit between two times.
func litTimes(c blink.Beat, b blink.Blinking, from, to float64) [][2]float64 {
	var out [][2]float64
	if !(c.PeriodS > 0) || (to-from)/c.PeriodS > 1e4 {
		return nil
	}
	for n := math.Floor((from-c.StartS)/c.PeriodS) - 1; ; n++ {
		start := c.StartS + n*c.PeriodS
		if start > to {
			return out
		}
		for _, s := range b.Spans {
			lo, hi := max(from, start+s[0]*c.PeriodS), min(to, start+s[1]*c.PeriodS)
			if hi > lo {
				out = append(out, [2]float64{lo, hi})
			}
		}
	}
}

func (d BlinkersData) check() error {
	switch {
	case len(d.Samples) == 0:
		return errors.New("a trace without readings can't be drawn")
	case len(d.Lanes) == 0:
		return fmt.Errorf("nothing blinks in %q: its trace is the picture", d.Title)
	case d.Fitted == nil:
		return fmt.Errorf("%q has nothing fitted to draw in", d.Title)
	}
	for i, x := range d.Samples {
		if !finite(x.S, x.A, d.Fitted(x.S)) {
			return fmt.Errorf("reading %d of %q, or what was fitted to it, is no finite number", i+1, d.Title)
		}
		if i > 0 && x.S < d.Samples[i-1].S {
			return fmt.Errorf("reading %d of %q comes before the one above it", i+1, d.Title)
		}
	}
	return nil
}

// shownPeriods of the slowest blinker are drawn: more would be a comb.
const shownPeriods = 6

// span is what of the trace is drawn.
func (d BlinkersData) span() (from, to float64) {
	from, to = d.Samples[0].S, d.Samples[len(d.Samples)-1].S
	slowest := 0.0
	for _, l := range d.Lanes {
		slowest = max(slowest, l.PeriodS)
	}
	if most := max(8, shownPeriods*slowest); to-from > most {
		to = from + most
	}
	if !(to > from) {
		to = from + 1
	}
	return from, to
}

// Blinkers draws a trace with the fitted sum as the meter would read it, and
// below it a lane for each blinker with its on and off and a plain word.
func Blinkers(w io.Writer, f Format, s Style, d BlinkersData) error {
	if err := d.check(); err != nil {
		return err
	}
	height := s.HeightMM*ptPerMM + float64(len(d.Lanes))*laneHeight*s.TextPt
	return s.paint(w, f, height, spoken{d.Title + ": what blinks in it", d.say()},
		func(c *canvas) error { return d.draw(c) })
}

// laneHeight in sizes of text.
const laneHeight = 2.6

// say describes the picture in words.
func (d BlinkersData) say() string {
	told := []string{d.baseWords()}
	for _, l := range d.Lanes {
		told = append(told, l.Name+": "+l.words())
	}
	return strings.Join(told, "; ") + ". " + strings.Join(d.caption(), ". ")
}

func (d BlinkersData) baseWords() string {
	if d.BaseOpen {
		return "base and steps can't be told apart: the outputs take turns without a dark moment"
	}
	return "always lit: " + words.Milliamps(d.BaseA, d.BaseU)
}

// words say what a lane does.
func (l Lane) words() string {
	s := string(l.State)
	if l.State == blink.Running {
		s = fmt.Sprintf("runs, every %s s, adds %s", words.Number(l.PeriodS, 0.005),
			words.Milliamps(l.StepA, max(l.StepU, 5e-5)))
	}
	return s
}

func (d BlinkersData) caption() []string {
	first := fmt.Sprintf("%.2f V", d.Volts)
	if !d.Began.IsZero() {
		first += ", " + words.ToSecond(d.Began, d.Began.Location())
	}
	from, to := d.span()
	if last := d.Samples[len(d.Samples)-1].S; last > to+0.5 {
		first += fmt.Sprintf("; the first %.0f s of %.0f s", to-from, last-from)
	}
	out := []string{first}
	if d.Simulated {
		out = append(out, SimulatedBench)
	}
	if d.Poor {
		out = append(out, "Something else changes as well: what is drawn in doesn't account for the readings.")
	}
	return append(out, d.Notes...)
}
