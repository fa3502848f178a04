package capture

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime/debug"
	"time"

	"sealworthy/instruments"
)

// Proof says whether the bench can be trusted before the first group is on it.
type Proof struct {
	At        time.Time `json:"at"`
	Simulated bool      `json:"simulated"` // an instrument of the bench was a simulated one
	// OffsetA is what the meter reads with the clips open, and its limit of error.
	OffsetA         float64 `json:"offset_a"`
	OffsetHalfWidth float64 `json:"offset_half_width_a"` // A
	// SeriesOhm is leads, clips and the meter's burden together, measured with
	// the clips together; 0 with SeriesHalfWidth 0 is not measured.
	SeriesOhm       float64 `json:"series_ohm"`
	SeriesHalfWidth float64 `json:"series_half_width_ohm"` // ohm
	// The known resistor: what both instruments read, and what was expected.
	ResistorVolts float64 `json:"resistor_volts,omitempty"`
	MeterA        float64 `json:"meter_a,omitempty"`
	SupplyA       float64 `json:"supply_a,omitempty"`
	ExpectedA     float64 `json:"expected_a,omitempty"`

	Parts    []string              `json:"parts"`    // what was proved: open, together, resistor
	Warnings []string              `json:"warnings"` // none: the bench is proved as far as Parts go
	Readings []instruments.Reading `json:"readings"`
}

// Good is true when all three parts were done and nothing was found.
func (p Proof) Good() bool { return len(p.Parts) == 3 && len(p.Warnings) == 0 }

// ProveOptions say how the bench is proved.
type ProveOptions struct {
	// KnownOhm is the resistor and KnownFraction its tolerance. 0 is 1 kilohm, 1 %.
	KnownOhm      float64
	KnownFraction float64 // half-width, of KnownOhm
	// Relay channels that join the clips or put the resistor between them.
	// With none of them the maker does it.
	Together, Resistor []int
	HandsFree          bool // what the maker's hands hold is felt, where that can be
	Guard              *Guard
}

// Voltages and limits of the proof. With the clips together the voltage is
// small, since the supply's output capacitor gives what it holds at once,
// whatever the limit (computed: 470 µF at 2 V hold 1 mJ).
const (
	proveOpenV     = 5.0
	proveTogetherV = 2.0
	proveTogetherA = 0.1
	proveResistorV = 5.0
	proveReadings  = 5
	proveRest      = time.Second
	// Leads, clips and a milliampere jack together are below it when good
	// (common practice, no source).
	proveMostOhm = 8.0
)

// Prove proves the bench in about half a minute: clips open (offset), clips
// together at 100 mA (series resistance), a known resistor (fuse, jack, range,
// polarity, and both instruments against each other). The output is off when
// it returns. What was found stands in Warnings; an error means that it could
// not be carried out.
func Prove(ctx context.Context, b Bench, f Face, o ProveOptions) (p Proof, err error) {
	if o.KnownOhm <= 0 {
		o.KnownOhm, o.KnownFraction = 1000, 0.01
	}
	e, err := newEngine(b, noGuide{}, f, noRecord{}, Options{Guard: o.Guard})
	if err != nil {
		return p, err
	}
	ctx, cancel := e.guard.Context(ctx)
	defer cancel()
	e.release = e.guard.Register(e.b.SupplyName, e.b.Supply)
	defer func() { e.release() }()
	defer func() {
		if x := recover(); x != nil {
			err = &PanicError{Value: x, Stack: debug.Stack()}
		}
		e.rec = nil
		err = errors.Join(err, e.off(context.WithoutCancel(ctx)))
	}()
	if err := e.guard.Off(ctx); err != nil {
		return p, err
	}
	if err := e.identify(ctx); err != nil {
		return p, err
	}
	pr := &proving{engine: e, p: Proof{At: e.b.Clock.Now(), Simulated: e.b.Clock.Simulated()}, o: o}
	e.show(Event{What: Starting, Text: "The bench is proved first, about 30 s."})
	for _, part := range []func(context.Context) error{pr.open, pr.together, pr.resistor} {
		err := part(ctx)
		var skip *skipError
		var trip *tripError
		switch {
		case err == nil:
		case errors.As(err, &skip), errors.Is(err, ErrUnattended):
			if oerr := e.off(ctx); oerr != nil {
				return pr.p, oerr
			}
			e.show(Event{What: Warning, Text: "this part of the proof was left out"})
		case errors.As(err, &trip):
			if oerr := e.off(ctx); oerr != nil {
				return pr.p, oerr
			}
			pr.find(trip.reason)
		default:
			return pr.p, err
		}
	}
	if err := pr.putBack(ctx); err != nil {
		return pr.p, err
	}
	e.show(Event{What: Ended})
	return pr.p, nil
}

type proving struct {
	*engine
	p Proof
	o ProveOptions
	// byHand: the maker laid something between the clips although relays feed the
	// model; no step asks for a clip, so it would stay there.
	byHand bool
}

// putBack has the maker take away what he laid between the clips, where no later
// step would ask for a clip: a resistor left there draws beside every group.
func (pr *proving) putBack(ctx context.Context) error {
	if !pr.byHand {
		return nil
	}
	if err := pr.off(ctx); err != nil {
		return err
	}
	a, err := pr.ask(ctx, Question{Kind: AskClip, Text: "Take away what lies between the clips, and let the relays " +
		"feed the model as before. The output is off.",
		Choices: []string{"done", "stop"}})
	if err != nil {
		return err
	}
	return choice(a)
}

// find notes and shows something wrong.
func (pr *proving) find(text string) {
	pr.p.Warnings = append(pr.p.Warnings, text)
	pr.show(Event{What: Warning, Text: text})
}

// power arranges the clips, powers them and reads both instruments. The means
// are with limits of error; limiting tells constant current.
func (pr *proving) power(ctx context.Context, ask string, want held, channels []int,
	pt RampPoint) (got powered, err error) {
	if err := pr.off(ctx); err != nil {
		return got, err
	}
	if pr.b.Relays != nil {
		if err := pr.b.Relays.Close(ctx, channels...); err != nil {
			return got, of(theRelays, err)
		}
	}
	if pr.b.Relays == nil || (len(channels) == 0 && want != heldApart) {
		if err := pr.hands(ctx, ask, want); err != nil {
			return got, err
		}
		pr.byHand = pr.b.Relays != nil
	}
	pr.rec = &StepRecord{Step: Step{ID: "bench proof", Volts: pt.Volts}}
	defer func() {
		pr.p.Readings = append(pr.p.Readings, pr.rec.Readings...)
		pr.rec = nil
	}()
	if r, ok := pr.b.Meter.(instruments.Ranger); ok {
		// A meter whose range only its key fixes chooses by itself here: each of its
		// readings says the range that it is of.
		if x, err := r.FixRange(ctx, instruments.Current, pt.MaxA); err != nil &&
			(x.Name == "" || !errors.Is(err, instruments.ErrNotSet)) {
			return got, of(theMeter, err)
		}
	}
	// That of the test before may still stand in the supply: it would trip here, and stay so.
	if err := pr.protect(ctx, Step{Volts: pt.Volts, Ramp: []RampPoint{pt}}); err != nil {
		return got, err
	}
	if err := pr.set(ctx, pt); err != nil {
		return got, err
	}
	if err := pr.on(ctx); err != nil {
		return got, err
	}
	if err := pr.wait(ctx, pr.b.Clock.Now().Add(proveRest), Settling); err != nil {
		return got, err
	}
	n := proveReadings
	if byHand(pr.b.Meter) {
		n = 1
	}
	for range n {
		if err := pr.readAll(ctx, &got); err != nil {
			return got, err
		}
	}
	return got, pr.off(ctx)
}

// powered is what was read while powered.
type powered struct {
	meter, supply, volts             mean
	meterHalf, supplyHalf, voltsHalf float64
	overload, limiting               bool
}

func (pr *proving) readAll(ctx context.Context, got *powered) error {
	r, err := pr.read(ctx, Sampling)
	if err != nil {
		return err
	}
	got.overload = got.overload || r.Status == instruments.Overload
	collect(r, &got.meter, &got.meterHalf)
	if got.limiting, err = pr.limiting(ctx); err != nil {
		return err
	}
	if r, err = pr.readBack(ctx, instruments.Current); err != nil {
		return err
	}
	collect(r, &got.supply, &got.supplyHalf)
	if r, err = pr.readBack(ctx, instruments.Voltage); err != nil {
		return err
	}
	collect(r, &got.volts, &got.voltsHalf)
	return nil
}

func collect(r *instruments.Reading, m *mean, half *float64) {
	if r == nil {
		return
	}
	if v, ok := r.Float(); ok {
		m.add(v)
		*half = max(*half, r.HalfWidth)
	}
}

func (pr *proving) open(ctx context.Context) error {
	got, err := pr.power(ctx, "Hold the clips apart so that they touch nothing.", heldApart, nil,
		RampPoint{Volts: pr.atMost(proveOpenV), LimitA: 0.02, MaxA: 0.02})
	if err != nil {
		return err
	}
	pr.p.Parts = append(pr.p.Parts, "open")
	pr.p.OffsetA, pr.p.OffsetHalfWidth = got.meter.value(), got.meterHalf
	switch {
	case got.limiting:
		pr.find("with the clips open the supply is at its limit: something connects them")
	case math.Abs(got.meter.value()) > got.meterHalf+1e-9:
		pr.find(fmt.Sprintf("with the clips open the meter reads %s, more than its own error of %s: set it to zero, "+
			"or something draws",
			amps(got.meter.value()), amps(got.meterHalf)))
	}
	if set := pr.desc[pr.b.SupplyName].SetAccuracy.HalfWidth(pr.atMost(proveOpenV)); got.volts.n > 0 && set > 0 &&
		math.Abs(got.volts.value()-pr.atMost(proveOpenV)) > set+got.voltsHalf {
		pr.find(fmt.Sprintf("the supply was set to %.2f V and reads %.2f V back", pr.atMost(proveOpenV),
			got.volts.value()))
	}
	return nil
}

func (pr *proving) together(ctx context.Context) error {
	pt := RampPoint{Volts: pr.atMost(proveTogetherV), LimitA: proveTogetherA, MaxA: proveTogetherA * 1.2}
	got, err := pr.power(ctx, "Put the clips together.", heldTogether, pr.o.Together, pt)
	if err != nil {
		return err
	}
	pr.p.Parts = append(pr.p.Parts, "together")
	a, half := got.meter.value()-pr.p.OffsetA, got.meterHalf
	switch {
	case got.overload:
		pr.find("the meter shows overload at 100 mA: use a jack or a range for more")
	case math.Abs(a) <= max(3*half, 1e-3) && got.supply.value() > 0.01+got.supplyHalf:
		pr.find(disagreement(a, got.supply.value()))
	case math.Abs(a) <= max(3*half, 1e-3):
		pr.find("with the clips together nothing flows: the clips don't touch, a lead is broken, or the meter's " +
			"fuse is blown (or its lead is in the wrong jack)")
	case a < 0:
		pr.find(fmt.Sprintf("the meter reads %s: its leads are swapped", amps(a)))
	case !got.limiting && !byHand(pr.b.Supply):
		pr.find(fmt.Sprintf("with the clips together the supply is not at its limit, %s flows: the path has too "+
			"much resistance", amps(a)))
	}
	pr.versus(got)
	if got.volts.n == 0 || a <= max(3*half, 1e-3) {
		return nil
	}
	v := got.volts.value()
	pr.p.SeriesOhm = v / a
	pr.p.SeriesHalfWidth = got.voltsHalf/a + math.Abs(v)/(a*a)*half
	if pr.p.SeriesOhm-pr.p.SeriesHalfWidth > proveMostOhm {
		pr.find(fmt.Sprintf("leads, clips and meter together have %.1f ohm: a bad clip or lead, or the meter is in "+
			"its smallest jack", pr.p.SeriesOhm))
	}
	return nil
}

// versus shows a disagreement of both instruments beyond both accuracies.
func (pr *proving) versus(got powered) {
	if got.supply.n == 0 || got.meter.n == 0 || pr.b.Meter == nil {
		return
	}
	if d := math.Abs(got.meter.value() - got.supply.value()); d > got.meterHalf+got.supplyHalf {
		text := disagreement(got.meter.value(), got.supply.value())
		if n := len(pr.p.Warnings); n == 0 || pr.p.Warnings[n-1] != text {
			pr.find(text)
		}
	}
}
