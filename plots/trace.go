package plots

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/words"
	"sealworthy/instruments"
)

// TraceData is the draw of one feed during one step.
type TraceData struct {
	Title string // of the picture
	// Samples are in order of time; seconds since the step began.
	Samples []Sample
	// Thinned: of a long trace only the first, the last, the least and the most of each
	// of many stretches are there, more than a picture has columns. Read is how many
	// readings it had from SettledS on; Pauses are where nothing was read.
	Thinned bool
	Read    int
	Pauses  []Pause
	// Overloads are the times of replies that were an overload or no number.
	Overloads []float64
	// SettledS is when the trace begins that is judged; NaN: it never settled.
	SettledS float64
	// FromS is where the picture begins: of a model that warms up for minutes
	// nothing before it had settled is drawn.
	FromS float64
	// TrippedS is when it was switched off by limit, ramp or watch; NaN: it wasn't.
	TrippedS float64
	// Levels are where a healthy draw lies: one for steady lights, lit and dark
	// for a blinker, more for a board with several outputs. None: no expectation.
	Levels []Level

	SetVolts  float64
	LimitA    float64   // 0: not said
	Began     time.Time // zero: not said
	Simulated bool      // the picture says so
	Notes     []string  // more lines for the caption
}

// Sample is one reading.
type Sample struct {
	S float64 // seconds since the step began
	A float64 // A
}

// Level is one level of draw with its band.
type Level struct {
	Name string // "lit", "dark"; empty for steady lights
	Band compare.Band
}

// TraceOf makes the data of a step from its readings of current by one
// instrument; "" takes the one that read current most often. It fails where
// there is none.
func TraceOf(r capture.StepRecord, instrument string, levels []Level) (TraceData, error) {
	if instrument == "" {
		instrument = busiest(r)
	}
	title := strings.Join(r.Step.Groups, ", ")
	if title == "" {
		title = r.Step.Feed
	}
	whole := r.Step.Kind == capture.Whole
	if whole {
		title = "the whole model at jack " + r.Step.Feed
	}
	if r.Step.Pace != "" {
		title += " (" + r.Step.Pace + ")"
	}
	d := TraceData{Title: title, SettledS: math.NaN(), TrippedS: math.NaN(), Levels: levels, SetVolts: r.Step.Volts,
		LimitA: r.Step.LimitA(), Began: r.Began, Simulated: r.Simulated}
	since := func(t time.Time) float64 { return t.Sub(r.Began).Seconds() }
	if !r.Settled.IsZero() {
		d.SettledS = since(r.Settled)
	}
	if whole && finite(d.SettledS) {
		d.FromS = d.SettledS
	}
	if r.Outcome == capture.Tripped {
		d.TrippedS = since(r.Ended)
		d.SetVolts = r.TripVolts
		d.Notes = append(d.Notes, "tripped: "+r.Reason)
	}
	if r.Outcome == capture.Interrupted {
		d.Notes = append(d.Notes, "interrupted, not the whole step")
	}
	read, long := r.Drawn(instrument)
	d.take(long, func(yield func(reply) bool) {
		for x := range r.Outline() {
			if x.Instrument != instrument || x.Quantity != instruments.Current {
				continue
			}
			if whole && x.At.Before(r.Settled) {
				continue // ten minutes of warming up say nothing more
			}
			if len(r.Points) > 0 && x.At.After(r.Points[0].At) {
				continue // the sweep is a picture of its own
			}
			if a, ok := x.Float(); !yield(reply{Sample{since(x.At), a}, ok}) {
				return
			}
		}
	})
	if len(d.Samples)+len(d.Overloads) == 0 {
		return d, fmt.Errorf("%s: no reading of current to draw", title)
	}
	if s, _ := r.Sums(instrument, instruments.Current); long && finite(d.SettledS) {
		read = s.N
	}
	if long {
		d.Read = read
	}
	return d, nil
}

// busiest names the instrument with most readings of current.
func busiest(r capture.StepRecord) string {
	count := map[string]int{}
	for x := range r.Outline() {
		if x.Quantity == instruments.Current {
			count[x.Instrument]++
		}
	}
	best := ""
	for x, n := range count {
		if all, long := r.Drawn(x); long {
			n = all
			count[x] = n
		}
		if best == "" || n > count[best] || n == count[best] && x < best {
			best = x
		}
	}
	return best
}

func (d TraceData) check() error {
	if len(d.Samples)+len(d.Overloads) == 0 {
		return errors.New("a trace without readings can't be drawn")
	}
	for i, x := range d.Samples {
		if !finite(x.S, x.A) {
			return fmt.Errorf("reading %d of %q is no finite number", i+1, d.Title)
		}
		if i > 0 && x.S < d.Samples[i-1].S {
			return fmt.Errorf("reading %d of %q comes before the one above it", i+1, d.Title)
		}
	}
	for _, l := range d.Levels {
		if !finite(l.Band.LowA, l.Band.HighA) || l.Band.HighA < l.Band.LowA {
			return fmt.Errorf("the band of %q is no band: %g to %g A", d.Title, l.Band.LowA, l.Band.HighA)
		}
	}
	return nil
}

// segments splits the samples at a reply without a value, and where a gap is
// longer than four times the typical spacing around it: what lies in a pause
// was not measured. Readings
// are spaced unevenly on purpose, by up to half.
func (d TraceData) segments() [][]Sample {
	if len(d.Samples) == 0 {
		return nil
	}
	if d.Thinned {
		return d.betweenPauses()
	}
	gaps := make([]float64, 0, len(d.Samples))
	for i := 1; i < len(d.Samples); i++ {
		gaps = append(gaps, d.Samples[i].S-d.Samples[i-1].S)
	}
	const around = 10
	var out [][]Sample
	from := 0
	for i, gap := range gaps {
		near := slices.Clone(gaps[max(0, i-around):min(len(gaps), i+around+1)])
		slices.Sort(near)
		typical := near[len(near)/2]
		if gap > 4*typical && gap > 0 || d.overloaded(d.Samples[i].S, d.Samples[i+1].S) {
			out = append(out, d.Samples[from:i+1])
			from = i + 1
		}
	}
	return append(out, d.Samples[from:])
}

// overloaded tells whether a reply without a value came between two times.
func (d TraceData) overloaded(from, to float64) bool {
	return slices.ContainsFunc(d.Overloads, func(s float64) bool { return s >= from && s <= to })
}

// headroom is how far the axis goes on above all readings and bands: "settled"
// and overloads stand there.
const headroom = 1.17

// limits are the axes: time over the whole step, draw from zero (or below, if
// it was) to a little above all that is drawn.
func (d TraceData) limits() (toS, lowA, highA float64) {
	for _, x := range d.Samples {
		toS, lowA, highA = max(toS, x.S), min(lowA, x.A), max(highA, x.A)
	}
	for _, s := range d.Overloads {
		toS = max(toS, s)
	}
	for _, s := range []float64{d.SettledS, d.TrippedS} {
		if finite(s) {
			toS = max(toS, s)
		}
	}
	for _, l := range d.Levels {
		highA = max(highA, l.Band.HighA)
	}
	if highA <= 0 {
		highA = max(1e-3, -lowA) // nothing drawn: a flat line at zero, on an axis of 1 mA
	}
	if toS <= d.FromS {
		toS = d.FromS + 1
	}
	return toS, lowA * 1.08, highA * headroom
}

// Trace draws the current of a group over the seconds of a step.
func Trace(w io.Writer, f Format, s Style, d TraceData) error {
	if err := d.check(); err != nil {
		return err
	}
	return s.paint(w, f, s.HeightMM*ptPerMM, spoken{d.Title + ": draw over time", d.say()}, func(c *canvas) error {
		return d.draw(c)
	})
}

// say describes the picture in words.
func (d TraceData) say() string {
	low, high := math.Inf(1), math.Inf(-1)
	n := 0
	for _, x := range d.Samples {
		if !finite(d.SettledS) || x.S >= d.SettledS {
			low, high, n = min(low, x.A), max(high, x.A), n+1
		}
	}
	if d.Thinned {
		n = d.Read
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%d readings", n)
	if n > 0 {
		fmt.Fprintf(&b, ", from %s to %s", words.Milliamps(low, 0), words.Milliamps(high, 0))
	}
	for _, l := range d.Levels {
		fmt.Fprintf(&b, "; %s", l.say())
	}
	if len(d.Overloads) > 0 {
		fmt.Fprintf(&b, "; %d replies without a value", len(d.Overloads))
	}
	return b.String() + ". " + strings.Join(d.caption(), ". ")
}

func (l Level) say() string {
	name := "expected"
	if l.Name != "" {
		name += ", " + l.Name
	}
	return name + ": " + words.MilliampBand(l.Band.LowA, l.Band.HighA)
}

// caption is said below the picture.
func (d TraceData) caption() []string {
	first := fmt.Sprintf("%.2f V set", d.SetVolts)
	if d.LimitA > 0 {
		first += ", limit " + words.Milliamps(d.LimitA, d.LimitA/20)
	}
	if !d.Began.IsZero() {
		first += ", begun " + words.ToSecond(d.Began, d.Began.Location())
	}
	if len(d.Levels) > 0 && d.Levels[0].Band.Coverage > 0 {
		first += "; a band holds " + percent(d.Levels[0].Band.Coverage) + " of healthy groups"
	}
	out := []string{first}
	if !finite(d.SettledS) {
		out[0] += ", never settled"
	}
	if d.Simulated {
		out = append(out, SimulatedBench)
	}
	return append(out, d.Notes...)
}
