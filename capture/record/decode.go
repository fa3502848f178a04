package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// decoder makes records of the lines of one file. Chained is false for a file of
// before the chain.
type decoder struct {
	chained bool
	// described are the instruments of the sitting, as far as it was read.
	described map[string]instruments.Description
	f         fieldsOf
}

// decode gives the record that a line holds, with the time at which it was.
func (d *decoder) decode(l Line) (Record, error) {
	f := &d.f
	f.reset(l.Fields)
	var t tagsOf
	if err := t.take(l); err != nil {
		return Record{}, err
	}
	if len(f.twice) > 0 {
		return Record{}, fmt.Errorf("%s line has %q twice", l.Measurement, f.twice)
	}
	r := Record{Simulated: f.bool("simulated")}
	at := l.At
	if d.chained {
		at = at.Add(-time.Duration(f.whole("shift_ns")))
	} else {
		r.Build = t.build
	}
	switch l.Measurement {
	case readingMeasurement:
		r.Reading = f.reading(t.instrument, instruments.Quantity(t.quantity), at)
		r.Step = capture.StepRef{StepID: f.text("step_id"), Closure: t.closure, Feed: t.group, Pace: t.pace,
			Stage: t.stage, Base: f.bool("base")}
	case stepMeasurement:
		r.Mark = f.mark(at)
		r.Mark.Simulated = r.Simulated
		r.Mark.Closure, r.Mark.Feed, r.Mark.Pace, r.Mark.Stage = t.closure, t.group, t.pace, t.stage
		d.instruments(r.Mark)
	case sittingMeasurement:
		r.Sitting = &SittingLine{At: at, End: f.bool("end"), Stage: t.stage, What: f.text("what"),
			Name:         f.text("name"),
			PlanRevision: f.text("plan_revision"), Program: f.text("program"), Bench: f.text("bench"),
			BrokeOff: f.text("broke_off"),
			GoesOn:   int(f.whole("goes_on")), Behind: f.seconds("behind_s"), From: f.text("from")}
	case instrumentMeasurement:
		x := &Described{Name: t.instrument, At: at, Stage: t.stage}
		f.json("is", &x.Is)
		r.Instrument = x
		if x.Name == "" {
			f.fail(errors.New("no name"))
		}
		if f.err == nil {
			d.described[x.Name] = x.Is
		}
	case fileMeasurement:
		r.File = &Attached{Name: f.text("name"), Bytes: f.whole("bytes"), SHA256: f.text("sha256"), At: at,
			Stage: t.stage}
		if !r.File.valid() {
			f.fail(fmt.Errorf("a file %q", r.File.Name))
		}
	case damageMeasurement:
		r.Found = &Found{Name: f.text("name"), What: f.text("what"), At: at, Stage: t.stage}
		if r.Found.Name == "" {
			f.fail(errors.New("no name"))
		}
	default:
		return Record{}, fmt.Errorf("unknown measurement %q", l.Measurement)
	}
	if t.stage == "" {
		f.fail(errors.New("no stage"))
	}
	if f.err != nil {
		return Record{}, fmt.Errorf("%s line: %w", l.Measurement, f.err)
	}
	return r, nil
}

// instruments puts what was described before into the begin of a step, where
// only names stand. Before the chain the descriptions stand there themselves.
func (d *decoder) instruments(m *capture.Mark) {
	if !d.chained {
		d.f.json("instruments", &m.Instruments)
		return
	}
	var names []string
	d.f.json("instruments", &names)
	for _, n := range names {
		if m.Instruments == nil {
			m.Instruments = make(map[string]instruments.Description, len(names))
		}
		m.Instruments[n] = d.described[n]
	}
}

// tagsOf are the tags that a line can have.
type tagsOf struct{ build, closure, group, instrument, pace, quantity, sitting, stage string }

func (t *tagsOf) take(l Line) error {
	for _, x := range l.Tags {
		to := t.of(x.Key)
		if to == nil {
			return fmt.Errorf("%s line has a tag %q that none has", l.Measurement, x.Key)
		}
		*to = x.Value
	}
	return nil
}

func (t *tagsOf) of(key string) *string {
	switch key {
	case "build":
		return &t.build
	case "closure":
		return &t.closure
	case "group":
		return &t.group
	case "instrument":
		return &t.instrument
	case "pace":
		return &t.pace
	case "quantity":
		return &t.quantity
	case "sitting":
		return &t.sitting
	case "stage":
		return &t.stage
	}
	return nil
}

// fieldsOf takes fields by name and keeps the first error.
type fieldsOf struct {
	fields []Field
	twice  string
	err    error
}

func (f *fieldsOf) reset(fields []Field) {
	*f = fieldsOf{fields: fields}
	for i := range fields {
		for j := range i {
			if fields[i].Key == fields[j].Key {
				f.twice = fields[i].Key
			}
		}
	}
}

// find gives a field; there are few, so they are looked through.
func (f *fieldsOf) find(key string) (lineprotocol.Value, bool) {
	for i := range f.fields {
		if f.fields[i].Key == key {
			return f.fields[i].Value, true
		}
	}
	return lineprotocol.Value{}, false
}

func (f *fieldsOf) reading(instrument string, q instruments.Quantity, at time.Time) *instruments.Reading {
	x := &instruments.Reading{
		Instrument: instrument, Quantity: q, At: at,
		Unit: f.text("unit"), Status: instruments.Status(f.text("status")),
		HalfWidth: f.float("half_width"), Range: f.text("range"),
		Window: f.seconds("window_s"), Latency: f.seconds("latency_s"),
	}
	raw, err := unquote(f.text("raw"))
	f.fail(err)
	x.Raw = raw
	if _, ok := f.find("value"); ok {
		v := f.float("value")
		x.Value = &v
	}
	if (x.Value != nil) != (x.Status == instruments.OK) || x.Status == "" || instrument == "" || q == "" {
		f.fail(fmt.Errorf("status %q with value %v of %q", x.Status, x.Value != nil, instrument))
	}
	return x
}

func (f *fieldsOf) mark(at time.Time) *capture.Mark {
	m := &capture.Mark{
		Kind: capture.MarkKind(f.text("mark")), At: at, StepID: f.text("step_id"),
		SetVolts: f.float("set_volts"), LimitA: f.float("limit_a"),
		Outcome: capture.Outcome(f.text("outcome")), Reason: f.text("reason"), Seen: f.text("seen"),
		PlanRevision: f.text("plan_revision"), Check: f.text("by_name"), ByMaker: f.bool("by_maker"),
		TripVolts: f.float("trip_volts"), ShortestDropS: f.float("shortest_drop_s"), Value: f.float("value"),
	}
	if line := f.whole("of_line"); line != 0 {
		m.Of = capture.OrderAt(int(f.whole("of_sitting")), int(line))
	}
	if _, ok := f.find("ambient_c"); ok {
		c := f.float("ambient_c")
		m.AmbientC = &c
	}
	f.json("drops", &m.Drops)
	f.json("groups", &m.Groups)
	f.json("step", &m.Step)
	f.json("warnings", &m.Warnings)
	switch {
	case !known[m.Kind]:
		f.fail(fmt.Errorf("unknown mark %q", m.Kind))
	case m.Kind == capture.MarkBegin && m.Step == nil, m.Kind == capture.MarkEnd && m.Outcome == "",
		m.Kind == capture.MarkTakenBack && m.Of == 0,
		named[m.Kind] && m.Check == "":
		f.fail(fmt.Errorf("%s mark without what it is about", m.Kind))
	}
	return m
}

func (f *fieldsOf) fail(err error) {
	if f.err == nil {
		f.err = err
	}
}

func (f *fieldsOf) is(key string, k lineprotocol.ValueKind) (lineprotocol.Value, bool) {
	v, ok := f.find(key)
	if ok && v.Kind() != k {
		f.fail(fmt.Errorf("%s is a %v", key, v.Kind()))
		return v, false
	}
	return v, ok
}

func (f *fieldsOf) text(key string) string {
	if v, ok := f.is(key, lineprotocol.String); ok {
		return v.StringV()
	}
	return ""
}

func (f *fieldsOf) bool(key string) bool {
	if v, ok := f.is(key, lineprotocol.Bool); ok {
		return v.BoolV()
	}
	return false
}

func (f *fieldsOf) float(key string) float64 {
	if v, ok := f.is(key, lineprotocol.Float); ok {
		return v.FloatV()
	}
	return 0
}

func (f *fieldsOf) whole(key string) int64 {
	if v, ok := f.is(key, lineprotocol.Int); ok {
		return v.IntV()
	}
	return 0
}

// seconds rounds to whole nanoseconds, as they were written.
func (f *fieldsOf) seconds(key string) time.Duration {
	s := f.float(key) * float64(time.Second)
	if math.Abs(s) >= math.MaxInt64 {
		f.fail(fmt.Errorf("%s is too long", key))
		return 0
	}
	return time.Duration(math.Round(s))
}

// json fills into; without the field it stays as it is.
func (f *fieldsOf) json(key string, into any) {
	if _, ok := f.find(key); !ok {
		return
	}
	if err := json.Unmarshal([]byte(f.text(key)), into); err != nil {
		f.fail(fmt.Errorf("%s: %w", key, err))
	}
}
