package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// Line gives the record as a line. A value that is not finite is written as a
// reply that was not a number: line protocol has no such floats.
func (r Record) Line() (Line, error) {
	if r.Build == "" {
		return Line{}, errors.New("a record needs the name of its build")
	}
	switch {
	case r.Reading != nil && r.Mark == nil:
		return r.readingLine()
	case r.Mark != nil && r.Reading == nil:
		return r.markLine()
	}
	return Line{}, errors.New("a record is a reading or a mark, and one of them only")
}

func (r Record) readingLine() (Line, error) {
	x := *r.Reading
	if x.Status == "" || x.Quantity == "" || x.Instrument == "" || r.Step.Stage == "" {
		return Line{}, fmt.Errorf("reading %q: instrument, quantity, status and stage must be known", x.Raw)
	}
	if v := x.Value; v != nil && (math.IsNaN(*v) || math.IsInf(*v, 0)) {
		x.Value, x.Status = nil, instruments.NotANumber
	}
	unit := x.Unit
	if unit == "" {
		unit = x.Quantity.Unit()
	}
	f := make(fields, 0, 12)
	if r.Step.Base {
		f.bool("base", true)
	}
	f.seconds("clock_shift_s", r.Shift)
	f.float("half_width", x.HalfWidth)
	f.seconds("latency_s", x.Latency)
	f.text("range", x.Range)
	f.always("raw", quote(x.Raw))
	f.always("status", string(x.Status))
	f.text("step_id", r.Step.StepID)
	f.text("unit", unit)
	if x.Status == instruments.OK {
		if x.Value == nil {
			return Line{}, fmt.Errorf("reading %q of %s: status ok without a value", x.Raw, x.Instrument)
		}
		f.float("value", *x.Value)
	}
	f.seconds("window_s", x.Window)
	return Line{
		Measurement: readingMeasurement,
		Tags: []Tag{{"build", r.Build}, {"closure", r.Step.Closure}, {"group", r.Step.Feed}, {"instrument", x.Instrument},
			{"pace", r.Step.Pace}, {"quantity", string(x.Quantity)}, {"stage", r.Step.Stage}},
		Fields: f, At: x.At,
	}, nil
}

func (r Record) markLine() (Line, error) {
	m := *r.Mark
	switch {
	case !known[m.Kind]:
		return Line{}, fmt.Errorf("mark %q is none that a record knows", m.Kind)
	case m.Stage == "":
		return Line{}, fmt.Errorf("%s mark without its stage", m.Kind)
	case m.Kind == capture.MarkBegin && m.Step == nil:
		return Line{}, errors.New("begin mark without its step")
	case m.Kind == capture.MarkEnd && m.Outcome == "":
		return Line{}, errors.New("end mark without its outcome")
	}
	f := make(fields, 0, 20)
	if m.AmbientC != nil {
		f.float("ambient_c", *m.AmbientC)
	}
	f.seconds("clock_shift_s", r.Shift)
	err := f.json("drops", m.Drops, len(m.Drops))
	err = errJoin(err, f.json("groups", m.Groups, len(m.Groups)))
	err = errJoin(err, f.json("instruments", m.Instruments, len(m.Instruments)))
	f.float("limit_a", m.LimitA)
	f.always("mark", string(m.Kind))
	f.text("outcome", string(m.Outcome))
	f.text("plan_revision", m.PlanRevision)
	f.text("reason", m.Reason)
	f.text("seen", m.Seen)
	f.float("set_volts", m.SetVolts)
	if m.ShortestDropS != 0 {
		f.float("shortest_drop_s", m.ShortestDropS)
	}
	f.bool("simulated", m.Simulated)
	if m.Step != nil {
		err = errJoin(err, f.json("step", m.Step, 1))
	}
	f.text("step_id", m.StepID)
	if m.TripVolts != 0 {
		f.float("trip_volts", m.TripVolts)
	}
	if m.Value != 0 {
		f.float("value", m.Value)
	}
	err = errJoin(err, f.json("warnings", m.Warnings, len(m.Warnings)))
	if err != nil {
		return Line{}, fmt.Errorf("%s mark: %w", m.Kind, err)
	}
	return Line{
		Measurement: stepMeasurement,
		Tags: []Tag{{"build", r.Build}, {"closure", m.Closure}, {"group", m.Feed},
			{"pace", m.Pace}, {"stage", m.Stage}},
		Fields: f, At: m.At,
	}, nil
}

// known are the marks that a file may hold.
var known = map[capture.MarkKind]bool{
	capture.MarkBegin: true, capture.MarkOn: true, capture.MarkSettled: true, capture.MarkPoint: true, capture.MarkEnd: true,
	capture.MarkTripped: true, capture.MarkRedone: true, capture.MarkSkipped: true,
	capture.MarkAccepted: true, capture.MarkLooked: true, capture.MarkReworked: true,
}

// fields collects the fields of a line; its methods are called in lexical order of the keys.
type fields []Field

// always adds a text, an empty one too. Control characters become spaces: other
// readers of line protocol take a newline in a text for the end of the line.
func (f *fields) always(key, s string) {
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return ' '
		}
		return r
	}, s)
	*f = append(*f, Field{key, mustString(s)})
}

// text adds a text unless it's empty.
func (f *fields) text(key, s string) {
	if s != "" {
		f.always(key, s)
	}
}

func (f *fields) bool(key string, b bool) {
	*f = append(*f, Field{key, lineprotocol.BoolValue(b)})
}

// float adds a number; one that is not finite is left out, which reads as unknown.
func (f *fields) float(key string, x float64) {
	if v, ok := lineprotocol.FloatValue(x); ok {
		*f = append(*f, Field{key, v})
	}
}

// seconds adds a duration unless it's zero.
func (f *fields) seconds(key string, d time.Duration) {
	if d != 0 {
		f.float(key, float64(d)/float64(time.Second))
	}
}

// json adds v as JSON, if it has n elements and not none.
func (f *fields) json(key string, v any, n int) error {
	if n == 0 {
		return nil
	}
	b, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("%s: %w", key, err)
	}
	f.always(key, string(b))
	return nil
}

// quote makes a reply ASCII, as Go quotes a string, without the quotes around
// it: a garbled reply may hold any byte.
func quote(raw string) string {
	q := strconv.QuoteToASCII(raw)
	return q[1 : len(q)-1]
}

// unquote undoes quote.
func unquote(s string) (string, error) {
	u, err := strconv.Unquote(`"` + s + `"`)
	if err != nil {
		return "", fmt.Errorf("raw %q is not quoted", s)
	}
	return u, nil
}
