package stages

import (
	"errors"
	"fmt"
	"iter"
	"math"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/blink"
	"sealworthy/compare/scene"
	"sealworthy/instruments"
)

// leastReadings of a trace: fewer say nothing about scatter.
const leastReadings = 8

// ReadingOf takes the settled trace of a step: the whole model at its jack, or
// feeds that are on together in a power-on test; of a long one the last four
// minutes. The error says why the step can't be compared: cut off, an overload,
// a change of range, too few readings. l are the leads where its record has none.
func ReadingOf(r capture.StepRecord, l compare.Leads) (Reading, error) {
	what := r.Step.Feed
	if r.Step.Kind != capture.Whole && r.Step.Kind != capture.Power {
		return Reading{}, fmt.Errorf("%s: a step of kind %q has no draw to compare", what, r.Step.Kind)
	}
	if r.Outcome != capture.Measured {
		return Reading{}, fmt.Errorf("%s was not measured to its end: %s", what, r.Outcome)
	}
	instrument := compare.Ammeter(r)
	rs := lastOf(r.Each(instrument, instruments.Current))
	x := Reading{Stage: r.Stage, Jack: r.Step.Feed, Pace: paces(r), At: r.Ended, Scene: compare.SceneOf(r, l),
		Simulated: r.Simulated,
		MeterIs:   r.Instruments[instrument], SupplyIs: r.Instruments[compare.SupplyName], MeterName: instrument}
	x.On = r.Step.On
	if err := x.take(rs); err != nil {
		return x, fmt.Errorf("%s: %w", what, err)
	}
	from, to := rs[0].At, rs[len(rs)-1].At
	if !r.On.IsZero() {
		x.OnS = from.Add(to.Sub(from) / 2).Sub(r.On).Seconds()
		x.WarmS = x.OnS
	}
	back, long := r.Sums(compare.SupplyName, instruments.Voltage)
	if !long {
		back = capture.SumsOf(r.Each(compare.SupplyName, instruments.Voltage))
	}
	if back.N > 0 {
		x.Volts, x.SetVolts, x.VoltsRead = scene.Is(back.Mean), scene.Given(back.HalfWidth), true
	}
	return x, nil
}

// mostTrace is taken of the end of a trace: hours of a soak say no more.
const mostTrace = 4 * time.Minute

func lastOf(rs iter.Seq[instruments.Reading]) []instruments.Reading {
	var end time.Time
	for r := range rs {
		end = r.At
	}
	var out []instruments.Reading
	for r := range rs {
		if len(out) > 0 || end.Sub(r.At) <= mostTrace {
			out = append(out, r)
		}
	}
	return out
}

// paces says at which paces the boards of a step run: that of the one board of
// a power-on step, or what the ID of a step of the whole model says.
func paces(r capture.StepRecord) string {
	if r.Step.Kind == capture.Power {
		if r.Step.Board == "" || r.Step.Pace == "" {
			return ""
		}
		return r.Step.Board + ": " + r.Step.Pace
	}
	parts := strings.SplitN(r.Step.ID, "/", 3)
	if len(parts) < 3 || parts[0] != forRecord {
		return ""
	}
	return parts[2]
}

// forRecord begins the ID of a step that measures the whole model for the record
// of a pace; others look at it cold, warm it up, or read it at one voltage.
const forRecord = "whole"

// take fills in the trace.
func (x *Reading) take(rs []instruments.Reading) error {
	for i, r := range rs {
		a, ok := r.Float()
		if !ok {
			return errors.New("a reply of its trace carries no value (" + string(r.Status) + "): measure it again")
		}
		if i > 0 && r.Range != rs[0].Range {
			return errors.New("the meter changed its range in between: measure it again in one range")
		}
		x.Trace = append(x.Trace, blink.Sample{AtS: r.At.Sub(rs[0].At).Seconds(), Amps: a})
		x.HalfWidthA = math.Max(x.HalfWidthA, r.HalfWidth)
	}
	if len(rs) < leastReadings {
		return fmt.Errorf("a trace of %d readings is too short: read for longer", len(rs))
	}
	x.Range, x.WindowS = rs[0].Range, rs[0].Window.Seconds()
	return nil
}

func (x Reading) rangeInUse() (instruments.Range, bool) {
	for _, g := range x.MeterIs.Ranges {
		if g.Quantity == instruments.Current && (g.Name == x.Range || len(x.MeterIs.Ranges) == 1) {
			return g, true
		}
	}
	return instruments.Range{}, false
}

// sameMeter tells whether two readings were taken by one meter in one range.
// One that doesn't say who it is may be another.
func sameMeter(a, b Reading) bool {
	return a.MeterIs.Identity != "" && a.MeterIs.Identity == b.MeterIs.Identity && a.Range == b.Range &&
		a.MeterName == b.MeterName
}

// sameBench tells whether meter and supply are the same, whatever the range.
func sameBench(a, b Reading) bool {
	return a.MeterIs.Identity != "" && a.MeterIs.Identity == b.MeterIs.Identity && sameSupply(a, b)
}

func sameSupply(a, b Reading) bool {
	return a.SupplyIs.Identity != "" && a.SupplyIs.Identity == b.SupplyIs.Identity
}
