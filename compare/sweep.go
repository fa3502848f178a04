package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// Figures of a sweep. Of a steady group 14 voltages in at most 8 s with a meter of
// 100 ms, of a board three above its lowest, each over whole blink cycles. The
// supply's own reading says when it has come to a voltage; what settles after that
// takes sweepSettle.
const (
	sweepPoints  = 14
	boardPoints  = 3
	sweepSettle  = 100 * time.Millisecond
	sweepRead    = 250 * time.Millisecond
	boardRest    = 800 * time.Millisecond // until a board blinks evenly at a new voltage
	sweepBelow   = 0.3                    // V below the first knee
	sweepStep    = 0.5                    // V, of the whole model
	wholeFrom    = 2.0                    // V
	wholeTrace   = 30 * time.Second
	wholeRead    = 4 * time.Second // at least, of a model that blinks
	wholeCycles  = 10 * time.Second
	kneeFraction = 0.01 // of the draw at service voltage
	boardMargin  = 1.1  // of its lowest voltage
)

// groupSweep gives the voltages of a steady group, from service voltage down to
// below its first knee.
func (m maker) groupSweep(f budget.Feed, top float64) ([]capture.SweepPoint, error) {
	coarse, err := m.coarse(f.Feed, top)
	if err != nil {
		return nil, err
	}
	from := 1.5
	if !f.AsFound {
		work := coarse[len(coarse)-1].NominalA
		for _, c := range coarse {
			if c.NominalA > kneeFraction*work {
				from = c.Volts - 0.5 - sweepBelow
				break
			}
		}
	}
	from = math.Min(math.Max(0.5, from), top/2)
	var out []capture.SweepPoint
	for i := range sweepPoints {
		v := math.Round((top-(top-from)*float64(i)/(sweepPoints-1))*100) / 100
		out = append(out, m.sweepPoint(v, coarse, f.AsFound, m.ceiling(f), sweepSettle, m.sweepReads()))
	}
	return out, nil
}

// sweepReads is how long a voltage of a sweep is read: two readings or more.
func (m maker) sweepReads() time.Duration { return max(sweepRead, m.o.MeterWindow*5/2) }

// steadyPoint is how long a voltage of a steady board is read: as often as a trace wants to be judged,
// one reading to begin with and one that is cut off.
func (m maker) steadyPoint() time.Duration {
	return max(m.sweepReads(), (minReadings+2)*m.o.MeterWindow)
}

// coarse is the expected draw over the whole range, for limits.
func (m maker) coarse(feed string, top float64) ([]budget.RampPoint, error) {
	var vs []float64
	for v := 1.0; v < top-0.25; v += 0.5 {
		vs = append(vs, v)
	}
	c, err := m.b.Curve(feed, append(vs, top)...)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", feed, err)
	}
	return c, nil
}

// sweepPoint takes its limit from the next voltage above it.
func (m maker) sweepPoint(v float64, coarse []budget.RampPoint, unknown bool, ceiling float64, settle,
	read time.Duration) capture.SweepPoint {
	at := coarse[len(coarse)-1]
	for _, c := range coarse {
		if c.Volts >= v-1e-9 {
			at = c
			break
		}
	}
	p := m.point(at, limitFactor, ceiling, unknown)
	return capture.SweepPoint{Volts: v, LimitA: p.LimitA, MaxA: p.MaxA, Settle: settle, For: read}
}

// boardSweep gives three voltages above a board's lowest, at a pace.
func (m maker) boardSweep(b plan.Board, pace plan.Pace, top float64, work capture.RampPoint) []capture.SweepPoint {
	low := b.LowVolts * boardMargin
	if low <= 0 {
		low = 0.6 * top
	}
	if low >= top {
		return nil
	}
	read := max(wholeRead, time.Duration(slowPeriods*pace.PeriodS*float64(time.Second)))
	if pace.Steady() {
		read = m.steadyPoint()
	}
	var out []capture.SweepPoint
	for i := range boardPoints {
		v := math.Round((top-(top-low)*float64(i)/(boardPoints-1))*100) / 100
		out = append(out, capture.SweepPoint{Volts: v, LimitA: work.LimitA, MaxA: work.MaxA, Settle: boardRest,
			For: read})
	}
	return out
}

// WholeOptions is what measuring the whole model at its jack depends on.
type WholeOptions struct {
	Stage         string
	Jack          string        // empty: the first
	Warm          time.Duration // on before the trace; 0: only until it has settled
	JackFuseAmps  float64       // of the meter; 0: unknown
	SupplyMaxAmps float64       // 0: unknown
	MeterWindow   time.Duration // over which the meter averages one reading; 0: unknown
	// AllPaces measures every pace that a button reaches, too.
	AllPaces bool
	// NoSweep leaves the sweep out: a trace alone.
	NoSweep bool
	// For is how long the trace is; 0: 30 s or what the slowest pace needs.
	For time.Duration
	// Spacing of the readings of the trace; 0: as fast as the meter.
	Spacing time.Duration
	// Allowed are the checks that were accepted by name.
	Allowed Allowed
	// ResistorOhm is that of a resistor to be read in the model's place, last; 0: none.
	ResistorOhm float64
	// ResistorAgain: it's the one that was read when the model left.
	ResistorAgain bool
}

// WholeSteps makes the steps that measure a whole model at its jack: for each
// pace a trace at service voltage, then a sweep down to 2 V. Its ramp is the
// limited current that a model of which nothing is known is met with.
func WholeSteps(p *plan.Plan, b *budget.Budget, o WholeOptions) ([]capture.Step, error) {
	jack, ok := p.Jack(o.Jack)
	if !ok {
		jack = p.Jacks[0]
	}
	m := maker{p: p, b: b, o: StepOptions{Stage: o.Stage, JackFuseAmps: o.JackFuseAmps, SupplyMaxAmps: o.SupplyMaxAmps,
		MeterWindow: o.MeterWindow}}
	var feeds []budget.Feed
	var on []string
	for _, t := range wiring.Terminals(p.InService()) {
		if f, ok := b.FeedNamed(t.Name); ok && f.Jack == jack.Name {
			feeds, on = append(feeds, f), append(on, t.Name)
		}
	}
	if len(feeds) == 0 {
		return nil, fmt.Errorf("nothing hangs on jack %q", jack.Name)
	}
	total, err := m.totals(feeds, jack.Volts)
	if err != nil {
		return nil, err
	}
	var out []capture.Step
	for _, c := range wholePaces(p, jack.Name, b, o.AllPaces) {
		s := capture.Step{
			ID: "whole/" + jack.Name + "/" + c.name, Kind: capture.Whole, Way: capture.Joined, Feed: jack.Name, On: on,
			Board: c.board, Pace: c.pace, Press: c.press, PlanRevision: p.Revision, Volts: jack.Volts,
			Jitter: requestJit,
			Ask:    "Put the clips onto the model's own plug, the meter in the plus lead." + plugSays(jack.Plug),
			Ramp:   m.wholeRamp(total, jack.Volts),
			Inrush: inrushFor, Settle: waits(boardSettle), For: o.For, Spacing: o.Spacing, MaxTotal: 200 * time.Hour,
		}
		for _, f := range feeds {
			s.Groups = append(s.Groups, f.Groups...)
		}
		if o.Warm > boardSettle && len(out) == 0 {
			s.Settle = waits(o.Warm)
			s.Settle.Spacing = 5 * time.Second
		}
		if s.For == 0 {
			s.For = max(wholeTrace, time.Duration(slowPeriods*slowestS(c.periods)*float64(time.Second)))
		}
		if !o.NoSweep {
			read := time.Duration(math.Round(DwellS(c.periods)*1e3)) * time.Millisecond
			for v := jack.Volts; v >= wholeFrom-1e-9; v -= sweepStep {
				x := m.sweepPoint(math.Round(v*100)/100, total, false, m.fuseA(), sweepSettle, read)
				x.Settle = boardRest
				s.Sweep = append(s.Sweep, x)
			}
		}
		out = append(out, s)
	}
	if o.ResistorOhm > 0 {
		out = append(out, m.resistorStep(out[0], o))
	}
	return out, guarded(b, o.Allowed, out)
}

// resistorStep reads a resistor in the model's place, as the whole model is read: at its
// volts, and with its limit there, so that the meter is in the range that it read the model in.
func (m maker) resistorStep(whole capture.Step, o WholeOptions) capture.Step {
	ramp := slices.Clone(whole.Ramp)
	for i := range ramp[:len(ramp)-1] { // below the volts at which LEDs conduct it draws all the same
		x := &ramp[i]
		x.ExpectA = x.Volts / o.ResistorOhm
		x.MaxA = max(x.MaxA, resistorOver*x.ExpectA+beside)
		x.LimitA = max(x.LimitA, x.MaxA)
	}
	which := fmt.Sprintf("a resistor of about %.3g ohm", o.ResistorOhm)
	if o.ResistorAgain {
		which = fmt.Sprintf("the same resistor as when the model left, of %.3g ohm", o.ResistorOhm)
	}
	ask := fmt.Sprintf("Take the clips off the model and put %s between them; the meter stays as it is. "+
		"It takes %.2g W for half a minute and gets warm: let it lie free.", which,
		whole.Volts*whole.Volts/o.ResistorOhm)
	if o.ResistorAgain {
		ask += " If it is another one, or nobody knows: skip."
	}
	return capture.Step{ID: "resistor/" + whole.Feed, Kind: capture.Resistor, Way: capture.Alone,
		Feed: ResistorFeed, On: []string{ResistorFeed}, PlanRevision: whole.PlanRevision, Volts: whole.Volts,
		Jitter: requestJit, Ask: ask, Ramp: ramp, Inrush: whole.Inrush,
		Settle: waits(boardSettle), For: resistorRead, MaxTotal: 5 * time.Minute}
}

// ResistorFeed is what is on the clips while a resistor is read.
const ResistorFeed = "resistor in the model's place"

// A resistor may be this much less than is said of it, and something may flow beside (common
// practice, no source).
const (
	resistorOver = 1.3
	beside       = 0.002 // A
)

// resistorRead is how long it's read.
const resistorRead = 10 * time.Second

// plugSays says behind what a clip goes onto where its plus is; "": nobody said.
func plugSays(plug string) string {
	if plug == "" {
		return ""
	}
	return " Its plug: " + plug + "."
}

// totals sums the expected draw of all feeds over the voltages.
func (m maker) totals(feeds []budget.Feed, top float64) ([]budget.RampPoint, error) {
	var total []budget.RampPoint
	for _, f := range feeds {
		c, err := m.coarse(f.Feed, top)
		if err != nil {
			return nil, err
		}
		if total == nil {
			total = make([]budget.RampPoint, len(c))
		}
		for i := range c {
			high := c[i].HighA
			if f.AsFound {
				high = math.Max(high, asFoundA)
			}
			total[i].Volts = c[i].Volts
			total[i].NominalA += c[i].NominalA
			total[i].HighA += high
		}
	}
	return total, nil
}

// wholeRamp meets the model with little: a first point below the knee of any
// LED, then up.
func (m maker) wholeRamp(total []budget.RampPoint, top float64) []capture.RampPoint {
	ceiling := m.fuseA()
	var out []capture.RampPoint
	for _, v := range append([]float64{0.8}, rampVolts(top)...) {
		x := m.sweepPoint(v, total, false, ceiling, 0, 0)
		out = append(out, capture.RampPoint{Volts: v, LimitA: x.LimitA, MaxA: x.MaxA})
	}
	for i := range out {
		for _, c := range total {
			if c.Volts >= out[i].Volts-1e-9 {
				out[i].ExpectA = c.NominalA
				break
			}
		}
	}
	work := out[len(out)-1]
	surge := work
	surge.LimitA = math.Min(work.LimitA*boardInrush, ceiling)
	surge.MaxA = surge.LimitA
	return append(out[:len(out)-1], surge, work)
}

// combo is one set of paces of all boards.
type combo struct {
	name, board, pace string
	press             int
	periods           []float64
}

// wholePaces lists what a model can be set to: every board at its first pace,
// and with all each other pace of each board.
func wholePaces(p *plan.Plan, jack string, b *budget.Budget, all bool) []combo {
	var boards []plan.Board
	for _, x := range p.Boards {
		if f, ok := b.FeedNamed(x.Name); ok && f.Jack == jack && len(x.Paces) > 0 {
			boards = append(boards, x)
		}
	}
	at := func(board, pace int) combo {
		var c combo
		var words []string
		for i, x := range boards {
			k := 0
			if i == board {
				k = pace
			}
			words = append(words, x.Name+": "+x.Paces[k].Name)
			if x.Paces[k].PeriodS > 0 {
				c.periods = append(c.periods, x.Paces[k].PeriodS)
			}
		}
		c.name = strings.Join(words, "; ")
		if pace > 0 {
			c.board, c.pace, c.press = boards[board].Name, boards[board].Paces[pace].Name, pace
		}
		return c
	}
	out := []combo{at(0, 0)}
	if !all {
		return out
	}
	for i, x := range boards {
		if !x.Button {
			continue
		}
		for k := 1; k < len(x.Paces); k++ {
			out = append(out, at(i, k))
		}
	}
	return out
}

func slowestS(periods []float64) float64 {
	if len(periods) == 0 {
		return 0
	}
	return slices.Max(periods)
}

// DwellS is how long a mean over blinkers of these periods is taken, s: from 4
// to 10 s, where the cycles of all of them come out most nearly whole.
func DwellS(periods []float64) float64 {
	if len(periods) == 0 {
		return 1
	}
	best, at := math.Inf(1), wholeRead.Seconds()
	for t := wholeRead.Seconds(); t <= math.Max(wholeCycles.Seconds(), slowestS(periods))+1e-9; t += 0.05 {
		miss := 0.0
		for _, p := range periods {
			// What is left over of a cycle, as a share of the time.
			x := t / p
			miss += math.Abs(x-math.Round(x)) / x
		}
		if miss < best-1e-3 {
			best, at = miss, t
		}
	}
	return at
}
