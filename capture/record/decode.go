package record

import (
	"encoding/json"
	"fmt"
	"math"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// Decode gives the record that a line holds.
func Decode(l Line) (Record, error) {
	var build, closure, feed, instrument, pace, quantity, stage string
	tags := map[string]*string{"build": &build, "closure": &closure, "group": &feed, "pace": &pace, "stage": &stage}
	if l.Measurement == readingMeasurement {
		tags["instrument"], tags["quantity"] = &instrument, &quantity
	}
	for _, t := range l.Tags {
		to, ok := tags[t.Key]
		if !ok {
			return Record{}, fmt.Errorf("%s line has a tag %q that none has", l.Measurement, t.Key)
		}
		*to = t.Value
	}
	f := reader{fields: make(map[string]lineprotocol.Value, len(l.Fields))}
	for _, x := range l.Fields {
		if _, twice := f.fields[x.Key]; twice {
			return Record{}, fmt.Errorf("%s line has %q twice", l.Measurement, x.Key)
		}
		f.fields[x.Key] = x.Value
	}
	r := Record{Build: build, Shift: f.seconds("clock_shift_s")}
	switch l.Measurement {
	case readingMeasurement:
		r.Reading = f.reading(instrument, instruments.Quantity(quantity), l.At)
		r.Step = capture.StepRef{StepID: f.text("step_id"), Closure: closure, Feed: feed, Pace: pace, Stage: stage, Base: f.bool("base")}
	case stepMeasurement:
		r.Mark = f.mark(l.At)
		r.Mark.Closure, r.Mark.Feed, r.Mark.Pace, r.Mark.Stage = closure, feed, pace, stage
	default:
		return Record{}, fmt.Errorf("unknown measurement %q", l.Measurement)
	}
	if f.err != nil {
		return Record{}, fmt.Errorf("%s line: %w", l.Measurement, f.err)
	}
	// What could not have been written is not read either.
	if _, err := r.Line(); err != nil {
		return Record{}, err
	}
	return r, nil
}

// reader takes fields by name and keeps the first error.
type reader struct {
	fields map[string]lineprotocol.Value
	err    error
}

func (f *reader) reading(instrument string, q instruments.Quantity, at time.Time) *instruments.Reading {
	x := &instruments.Reading{
		Instrument: instrument, Quantity: q, At: at,
		Unit: f.text("unit"), Status: instruments.Status(f.text("status")),
		HalfWidth: f.float("half_width"), Range: f.text("range"),
		Window: f.seconds("window_s"), Latency: f.seconds("latency_s"),
	}
	raw, err := unquote(f.text("raw"))
	f.fail(err)
	x.Raw = raw
	if _, ok := f.fields["value"]; ok {
		v := f.float("value")
		x.Value = &v
		if x.Status != instruments.OK {
			f.fail(fmt.Errorf("a value with status %q", x.Status))
		}
	}
	return x
}

func (f *reader) mark(at time.Time) *capture.Mark {
	m := &capture.Mark{
		Kind: capture.MarkKind(f.text("mark")), At: at, StepID: f.text("step_id"),
		SetVolts: f.float("set_volts"), LimitA: f.float("limit_a"),
		Outcome: capture.Outcome(f.text("outcome")), Reason: f.text("reason"), Seen: f.text("seen"),
		PlanRevision: f.text("plan_revision"), Simulated: f.bool("simulated"),
		TripVolts: f.float("trip_volts"), ShortestDropS: f.float("shortest_drop_s"), Value: f.float("value"),
	}
	if _, ok := f.fields["ambient_c"]; ok {
		c := f.float("ambient_c")
		m.AmbientC = &c
	}
	f.json("drops", &m.Drops)
	f.json("groups", &m.Groups)
	f.json("instruments", &m.Instruments)
	f.json("step", &m.Step)
	f.json("warnings", &m.Warnings)
	return m
}

func (f *reader) fail(err error) {
	if f.err == nil {
		f.err = err
	}
}

func (f *reader) is(key string, k lineprotocol.ValueKind) (lineprotocol.Value, bool) {
	v, ok := f.fields[key]
	if ok && v.Kind() != k {
		f.fail(fmt.Errorf("%s is a %v", key, v.Kind()))
		return v, false
	}
	return v, ok
}

func (f *reader) text(key string) string {
	if v, ok := f.is(key, lineprotocol.String); ok {
		return v.StringV()
	}
	return ""
}

func (f *reader) bool(key string) bool {
	if v, ok := f.is(key, lineprotocol.Bool); ok {
		return v.BoolV()
	}
	return false
}

func (f *reader) float(key string) float64 {
	if v, ok := f.is(key, lineprotocol.Float); ok {
		return v.FloatV()
	}
	return 0
}

// seconds rounds to whole nanoseconds, as they were written.
func (f *reader) seconds(key string) time.Duration {
	s := f.float(key) * float64(time.Second)
	if math.Abs(s) >= math.MaxInt64 {
		f.fail(fmt.Errorf("%s is too long", key))
		return 0
	}
	return time.Duration(math.Round(s))
}

// json fills into; without the field it stays as it is.
func (f *reader) json(key string, into any) {
	if _, ok := f.fields[key]; !ok {
		return
	}
	if err := json.Unmarshal([]byte(f.text(key)), into); err != nil {
		f.fail(fmt.Errorf("%s: %w", key, err))
	}
}
