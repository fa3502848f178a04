package record

import (
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// placed is where a line of the chain stands and what it says of itself; nil is
// a line of before the chain.
type placed struct {
	build     string // the build's identity
	sitting   int
	seq       int64
	simulated bool
	shift     time.Duration // the line's time less the instant of what it says
}

// line gives the record as a line. A value that is not finite is written as a
// reply that was not a number: line protocol has no such floats.
func (r Record) line(p placed) (Line, error) {
	l, err := r.content()
	if err != nil {
		return l, err
	}
	f := preamble(p.seq, p.simulated)
	if p.shift != 0 {
		f = append(f, Field{"shift_ns", lineprotocol.IntValue(int64(p.shift))})
	}
	l.Fields = append(f, l.Fields...)
	at, _ := slices.BinarySearchFunc(l.Tags, "sitting",
		func(t Tag, key string) int { return strings.Compare(t.Key, key) })
	l.Tags = slices.Insert(l.Tags, at, Tag{"sitting", strconv.Itoa(p.sitting)})
	l.Tags = slices.Insert(l.Tags, 0, Tag{"build", p.build})
	return l, nil
}

// content gives the line of a record without what places it in a chain.
func (r Record) content() (Line, error) {
	n := 0
	for _, is := range []bool{r.Reading != nil, r.Mark != nil, r.Sitting != nil, r.Instrument != nil, r.File != nil,
		r.Found != nil} {
		if is {
			n++
		}
	}
	switch {
	case n != 1:
		return Line{}, errors.New("a record is a reading, a mark or another line, and one of them only")
	case r.Reading != nil:
		return r.readingLine()
	case r.Mark != nil:
		return r.markLine()
	case r.Sitting != nil:
		return r.Sitting.line()
	case r.Instrument != nil:
		return r.Instrument.line()
	case r.File != nil:
		return r.File.line()
	}
	return r.Found.line()
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
		Tags: []Tag{{"closure", r.Step.Closure}, {"group", r.Step.Feed}, {"instrument", x.Instrument},
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
	case m.Kind == capture.MarkTakenBack && m.Of == 0:
		return Line{}, errors.New("taken back mark without what it takes back")
	case named[m.Kind] && m.Check == "":
		return Line{}, fmt.Errorf("%s mark without a name", m.Kind)
	}
	f := make(fields, 0, 20)
	if m.AmbientC != nil {
		f.float("ambient_c", *m.AmbientC)
	}
	if m.ByMaker {
		f.bool("by_maker", true)
	}
	f.text("by_name", m.Check)
	err := f.json("drops", m.Drops, len(m.Drops))
	err = errJoin(err, f.json("groups", m.Groups, len(m.Groups)))
	err = errJoin(err, f.json("instruments", slices.Sorted(maps.Keys(m.Instruments)), len(m.Instruments)))
	f.float("limit_a", m.LimitA)
	f.always("mark", string(m.Kind))
	if m.Of != 0 {
		*f.add("of_line") = lineprotocol.IntValue(int64(m.Of.Line()))
		*f.add("of_sitting") = lineprotocol.IntValue(int64(m.Of.Sitting()))
	}
	f.text("outcome", string(m.Outcome))
	f.text("plan_revision", m.PlanRevision)
	f.text("reason", m.Reason)
	f.text("seen", m.Seen)
	f.float("set_volts", m.SetVolts)
	if m.ShortestDropS != 0 {
		f.float("shortest_drop_s", m.ShortestDropS)
	}
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
		Tags: []Tag{{"closure", m.Closure}, {"group", m.Feed},
			{"pace", m.Pace}, {"stage", m.Stage}},
		Fields: f, At: m.At,
	}, nil
}

// known are the marks that a file may hold.
var known = map[capture.MarkKind]bool{
	capture.MarkBegin: true, capture.MarkOn: true, capture.MarkSettled: true, capture.MarkPoint: true,
	capture.MarkEnd:     true,
	capture.MarkTripped: true, capture.MarkRedone: true, capture.MarkSkipped: true,
	capture.MarkAccepted: true, capture.MarkLooked: true, capture.MarkReworked: true,
	capture.MarkTouchedNothing: true, capture.MarkTakenBack: true, capture.MarkAllowed: true, capture.MarkTicked: true,
	capture.MarkAnswered: true, capture.MarkClock: true, capture.MarkNote: true,
}

// named are the marks that are about something with a name.
var named = map[capture.MarkKind]bool{capture.MarkAllowed: true, capture.MarkTicked: true, capture.MarkAnswered: true}

func (s SittingLine) line() (Line, error) {
	if s.Stage == "" {
		return Line{}, errors.New("sitting without its stage")
	}
	f := make(fields, 0, 16)
	f.text("bench", s.Bench)
	f.seconds("behind_s", s.Behind)
	f.text("broke_off", s.BrokeOff)
	f.bool("end", s.End)
	f.text("from", s.From)
	if s.GoesOn != 0 {
		*f.add("goes_on") = lineprotocol.IntValue(int64(s.GoesOn))
	}
	f.text("name", s.Name)
	f.text("plan_revision", s.PlanRevision)
	f.text("program", s.Program)
	f.text("what", s.What)
	return Line{Measurement: sittingMeasurement, Tags: []Tag{{"stage", s.Stage}}, Fields: f, At: s.At}, nil
}

func (d Described) line() (Line, error) {
	if d.Name == "" || d.Stage == "" {
		return Line{}, errors.New("description of an instrument without its name or stage")
	}
	f := make(fields, 0, 8)
	if err := f.json("is", d.Is, 1); err != nil {
		return Line{}, err
	}
	return Line{Measurement: instrumentMeasurement, Tags: []Tag{{"instrument", d.Name}, {"stage", d.Stage}}, Fields: f,
		At: d.At}, nil
}

func (a Attached) line() (Line, error) {
	if !a.valid() || a.Stage == "" {
		return Line{}, fmt.Errorf("attached file %q: it needs a name within the build, a digest and a stage", a.Name)
	}
	f := make(fields, 0, 8)
	*f.add("bytes") = lineprotocol.IntValue(a.Bytes)
	f.always("name", a.Name)
	f.always("sha256", a.SHA256)
	return Line{Measurement: fileMeasurement, Tags: []Tag{{"stage", a.Stage}}, Fields: f, At: a.At}, nil
}

func (a Attached) valid() bool {
	return fs.ValidPath(a.Name) && a.Name != "." && len(a.SHA256) == 2*sha256.Size
}

func (d Found) line() (Line, error) {
	if d.Name == "" || d.Stage == "" {
		return Line{}, errors.New("damage without its name or stage")
	}
	f := make(fields, 0, 8)
	f.always("name", d.Name)
	f.always("what", d.What)
	return Line{Measurement: damageMeasurement, Tags: []Tag{{"stage", d.Stage}}, Fields: f, At: d.At}, nil
}

// fields collects the fields of a line; its methods are called in lexical order of the keys.
type fields []Field

// add adds a field and gives its value to be set.
func (f *fields) add(key string) *lineprotocol.Value {
	*f = append(*f, Field{Key: key})
	return &(*f)[len(*f)-1].Value
}

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
	if !strings.ContainsAny(s, "\\\"\n") {
		return s, nil // as most replies are
	}
	u, err := strconv.Unquote(`"` + s + `"`)
	if err != nil {
		return "", fmt.Errorf("raw %q is not quoted", s)
	}
	return u, nil
}
