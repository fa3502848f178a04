package capture

import (
	"context"
	"fmt"
	"math"
	"time"

	"sealworthy/instruments"
)

// resistor reads a known resistor: a wrong jack or range shows as a factor of
// ten or a thousand, swapped leads as a sign, a blown fuse as nothing.
func (pr *proving) resistor(ctx context.Context) error {
	r := pr.o.KnownOhm
	expect := pr.atMost(proveResistorV) / (r + pr.p.SeriesOhm)
	pt := RampPoint{Volts: pr.atMost(proveResistorV), LimitA: max(2*expect, 0.01), ExpectA: expect,
		MaxA: max(1.8*expect, 0.009)}
	got, err := pr.power(ctx, fmt.Sprintf("Put the known resistor of %s between the clips.", ohms(r)),
		heldResistor, pr.o.Resistor, pt)
	if err != nil {
		return err
	}
	pr.p.Parts = append(pr.p.Parts, "resistor")
	v := pr.atMost(proveResistorV)
	if got.volts.n > 0 && !got.limiting {
		v = got.volts.value()
	}
	expect = v / (r + pr.p.SeriesOhm)
	pr.p.ResistorVolts, pr.p.ExpectedA = v, expect
	pr.p.MeterA, pr.p.SupplyA = got.meter.value(), got.supply.value()
	tolerance := expect*(pr.o.KnownFraction+(got.voltsHalf+pr.setHalf())/v+
		pr.p.SeriesHalfWidth/(r+pr.p.SeriesOhm)) + got.meterHalf
	a := got.meter.value() - pr.p.OffsetA
	if d := math.Abs(a - expect); d > tolerance || got.meter.n == 0 {
		pr.find(resistorText(a, expect, got))
	}
	pr.versus(got)
	return nil
}

// setHalf is the limit of error of the supply's setting; it counts only where
// the voltage isn't read back.
func (pr *proving) setHalf() float64 {
	if byHand(pr.b.Supply) {
		return pr.desc[pr.b.SupplyName].SetAccuracy.HalfWidth(pr.atMost(proveResistorV))
	}
	return 0
}

func resistorText(a, expect float64, got powered) string {
	s := fmt.Sprintf("the known resistor should draw %s, the meter reads %s: ", amps(expect), amps(a))
	if got.overload || got.meter.n == 0 {
		return fmt.Sprintf(
			"the known resistor should draw %s, the meter shows no number (overload): wrong jack or range",
			amps(expect))
	}
	ratio := a / expect
	switch {
	case near(ratio, 0.01, 0.001) && math.Abs(a) > 2*got.meterHalf:
		return s + "the unit or the range is wrong by a power of ten"
	case math.Abs(ratio) < 0.02:
		return s + "no contact, a broken lead, the meter's fuse, or the wrong jack"
	case near(-ratio, 1):
		return s + "the meter's leads are swapped"
	case near(ratio, 10, 100, 1000, 0.1):
		return s + "the unit or the range is wrong by a power of ten"
	case got.limiting:
		return s + "the supply is at its limit, so the resistor is much smaller than said"
	}
	return s + "another resistor, a bad contact, or a meter out of order"
}

// near tells whether x is one of the values within 20 %.
func near(x float64, values ...float64) bool {
	for _, v := range values {
		if math.Abs(x-v) < 0.2*v {
			return true
		}
	}
	return false
}

func ohms(r float64) string {
	if r >= 1000 {
		return fmt.Sprintf("%g kilohm", r/1000)
	}
	return fmt.Sprintf("%g ohm", r)
}

// noGuide and noRecord serve the proof, which has no steps and keeps its
// readings in its result.
type noGuide struct{}

func (noGuide) Next([]StepRecord) (Step, bool)                           { return Step{}, false }
func (noGuide) Recognise(Step, float64, float64) (own Fit, others []Fit) { return own, nil }
func (noGuide) Judge(StepRecord) []Said                                  { return nil }
func (noGuide) Remaining([]StepRecord) time.Duration                     { return 0 }

type noRecord struct{}

func (noRecord) Append(instruments.Reading, StepRef) error { return nil }
func (noRecord) Mark(Mark) error                           { return nil }
func (noRecord) Sync() error                               { return nil }
func (noRecord) Kept() uint64                              { return 0 }
