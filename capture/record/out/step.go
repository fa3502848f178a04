package out

import (
	"sealworthy/capture"
	"sealworthy/capture/record"
)

// step is the one that is under way in a record, as far as its marks say so. Most readings
// of a step are of its ramp and of its sweep: what a group draws is said by those between.
type step struct {
	capture.StepRecord
	volts float64 // set when it settled
}

// follow takes the next line.
func (s *step) follow(r record.Record) {
	m := r.Mark
	switch {
	case r.Sitting != nil, m != nil && (m.Kind == capture.MarkEnd || m.Kind == capture.MarkRedone):
		*s = step{}
	case m == nil:
	case m.Kind == capture.MarkBegin && m.Step != nil:
		*s = step{StepRecord: capture.StepRecord{Step: *m.Step}}
	case m.StepID != s.Step.ID:
	case m.Kind == capture.MarkSettled:
		s.Settled, s.volts = m.At, m.SetVolts
	case m.Kind == capture.MarkPoint:
		s.Points = append(s.Points, capture.PointAt{Volts: m.SetVolts, At: m.At})
	}
}

// mayHaveSettled: a reading of the step under way of which it's said later whether it had.
func (s *step) mayHaveSettled(r record.Record) bool {
	return r.Reading != nil && !r.Step.Base && s.Step.ID != "" && r.Step.StepID == s.Step.ID && s.Settled.IsZero()
}

// voltsOf is the voltage at which a reading had settled; 0 for any other line.
func (s *step) voltsOf(r record.Record) float64 {
	if r.Reading == nil || r.Step.Base || r.Step.StepID != s.Step.ID || !s.InTrace(r.Reading.At) {
		return 0
	}
	return s.volts
}
