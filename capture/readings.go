package capture

import (
	"iter"
	"slices"
	"time"

	"sealworthy/instruments"
)

// All gives the readings of the whole step, of a long one the latest of them: Sums has
// what all of them say, Outline what a picture needs.
func (r StepRecord) All() iter.Seq[instruments.Reading] { return both(r.Readings, r.Kept) }

// Before gives the readings of what was on before, of very many the latest of them: SumsBefore
// has what all of them say.
func (r StepRecord) Before() iter.Seq[instruments.Reading] { return both(r.Base, r.KeptBase) }

// Count is how many readings All gives, and Before.
func (r StepRecord) Count() (all, before int) {
	return len(r.Readings) + r.Kept.Len(), len(r.Base) + r.KeptBase.Len()
}

func both(live []instruments.Reading, kept *Series) iter.Seq[instruments.Reading] {
	if kept == nil {
		return slices.Values(live)
	}
	return func(yield func(instruments.Reading) bool) {
		for _, x := range live {
			if !yield(x) {
				return
			}
		}
		kept.All()(yield)
	}
}

// Trace gives the readings of one quantity by one instrument from Settled on,
// up to the sweep where there is one.
func (r StepRecord) Trace(instrument string, q instruments.Quantity) []instruments.Reading {
	return slices.Collect(r.Each(instrument, q))
}

// Each is Trace one by one. Of a long step it begins where the readings do that are held.
func (r StepRecord) Each(instrument string, q instruments.Quantity) iter.Seq[instruments.Reading] {
	return func(yield func(instruments.Reading) bool) {
		if r.Settled.IsZero() {
			return
		}
		for x := range r.All() {
			if x.Instrument == instrument && x.Quantity == q && r.InTrace(x.At) && !yield(x) {
				return
			}
		}
	}
}

// InTrace: what was read then belongs to the trace.
func (r StepRecord) InTrace(at time.Time) bool {
	return !r.Settled.IsZero() && !at.Before(r.Settled) && (len(r.Points) == 0 || !at.After(r.Points[0].At))
}

// AtPoint gives the readings of one quantity by one instrument at one voltage
// of the sweep, by index in Points: those whose window began when the voltage
// had settled.
func (r StepRecord) AtPoint(i int, instrument string, q instruments.Quantity) []instruments.Reading {
	if i < 0 || i >= len(r.Points) {
		return nil
	}
	from, to := r.Points[i].At, r.Ended
	if i < len(r.Step.Sweep) {
		from = from.Add(r.Step.Sweep[i].Settle)
	}
	if i+1 < len(r.Points) {
		to = r.Points[i+1].At
	}
	var out []instruments.Reading
	for x := range r.All() {
		if x.Instrument == instrument && x.Quantity == q && !x.At.Add(-x.Window).Before(from) &&
			(to.IsZero() || !x.At.After(to)) {
			out = append(out, x)
		}
	}
	return out
}
