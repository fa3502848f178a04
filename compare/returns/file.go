package returns

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"sealworthy/capture/record"
	"sealworthy/instruments"
	"sealworthy/instruments/plainfile"
)

// A file of a signature is line protocol as a record is, each line with its
// check. Measurements: `signature` (one line: what holds for all of it),
// `curve` (one line for each voltage of each curve; tags of, group, pace),
// `level` (one for each pace of each group on a board), `sample` (one for each
// reading of a trace). Fields end in their unit: _v, _a, _s, _c. Lines of one
// measurement are told apart by times that rise by 1 ns; a sample's own time is
// its field at_s.
const (
	headLine   = "signature"
	curveLine  = "curve"
	levelLine  = "level"
	sampleLine = "sample"
)

// What a curve is of.
const (
	ofGroup = "group"
	ofBoard = "board"
	ofWhole = "whole"
)

// head is what doesn't fit into numbers.
type head struct {
	PlanRevision string                             `json:"plan_revision"`
	Simulated    bool                               `json:"simulated,omitempty"`
	Jack         string                             `json:"jack"`
	WarmS        float64                            `json:"warm_s"`
	AmbientC     *float64                           `json:"ambient_c,omitempty"`
	Instruments  map[string]instruments.Description `json:"instruments,omitempty"`
	Twins        []Twin                             `json:"twins,omitempty"`
	Resistor     *Resistor                          `json:"resistor,omitempty"`
	Notes        []string                           `json:"notes,omitempty"`
	Groups       []GroupCurve                       `json:"groups"` // names and what was kept, no numbers
	Boards       []string                           `json:"boards,omitempty"`
	Whole        []Whole                            `json:"whole"`
}

// Encode appends the lines of a signature to dst.
func Encode(dst []byte, s *Signature) ([]byte, error) {
	if s.Build == "" || s.TakenAt.IsZero() {
		return dst, errors.New("a signature needs the name of its build and its time")
	}
	e := &encoder{out: dst, build: s.Build, at: s.TakenAt.UTC().Round(0)}
	h := head{PlanRevision: s.PlanRevision, Simulated: s.Simulated, Jack: s.Jack, WarmS: s.WarmS, AmbientC: s.AmbientC,
		Instruments: s.Instruments, Twins: s.Twins, Resistor: s.Resistor, Notes: s.Notes}
	for _, g := range s.Groups {
		g.Lit, g.Paces = Curve{}, nil
		h.Groups = append(h.Groups, g)
	}
	for _, b := range s.Boards {
		h.Boards = append(h.Boards, b.Board)
	}
	for _, w := range s.Whole {
		h.Whole = append(h.Whole, Whole{Pace: w.Pace, DwellS: w.DwellS, WindowS: w.WindowS, Volts: w.Volts})
	}
	e.head(h)
	for _, g := range s.Groups {
		e.curve(ofGroup, g.Group, "", g.Lit)
		for _, l := range g.Paces {
			e.line(levelLine, tags(s.Build, "group", g.Group, "pace", l.Pace),
				floatFields("duty", l.Duty, "on_a", l.OnA, "on_u_a", l.OnU, "period_s", l.PeriodS))
		}
	}
	for _, b := range s.Boards {
		e.curve(ofBoard, b.Board, "", b.Dark)
	}
	for _, w := range s.Whole {
		e.curve(ofWhole, "", w.Pace, w.Sweep)
		for _, x := range w.Trace {
			e.line(sampleLine, tags(s.Build, "pace", w.Pace), floatFields("amps_a", x.Amps, "at_s", x.AtS))
		}
	}
	return e.out, e.err
}

type encoder struct {
	out   []byte
	build string
	at    time.Time
	n     int
	err   error
}

func (e *encoder) line(measurement string, t []record.Tag, f []record.Field) {
	if e.err != nil {
		return
	}
	e.n++
	e.out, e.err = record.AppendLine(e.out, record.Line{Measurement: measurement, Tags: t, Fields: f,
		At: e.at.Add(time.Duration(e.n))})
}

func (e *encoder) head(h head) {
	b, err := json.Marshal(h)
	if err != nil {
		e.err = err
		return
	}
	v, ok := lineprotocol.StringValue(string(b))
	if !ok {
		e.err = errors.New("a name in the signature is not UTF-8")
		return
	}
	e.line(headLine, tags(e.build), []record.Field{{Key: "head", Value: v}})
}

func (e *encoder) curve(of, name, pace string, c Curve) {
	for i := range c.Volts {
		kv := []any{"amps_a", c.Amps[i]}
		if c.U != nil {
			kv = append(kv, "u_a", c.U[i])
		}
		kv = append(kv, "volts_v", c.Volts[i])
		e.line(curveLine, tags(e.build, "group", name, "of", of, "pace", pace), floatFields(kv...))
	}
}

// tags in lexical order of the keys: build, then pairs.
func tags(build string, kv ...string) []record.Tag {
	out := []record.Tag{{Key: "build", Value: build}}
	for i := 0; i < len(kv); i += 2 {
		out = append(out, record.Tag{Key: kv[i], Value: kv[i+1]})
	}
	return out
}

func floatFields(kv ...any) []record.Field {
	var out []record.Field
	for i := 0; i < len(kv); i += 2 {
		if v, ok := lineprotocol.FloatValue(kv[i+1].(float64)); ok {
			out = append(out, record.Field{Key: kv[i].(string), Value: v})
		}
	}
	return out
}

// FileName names the file of a signature, as 20261201T101500Z.lp. Its bytes are
// those of Encode; one that is there is never written over.
func FileName(s *Signature) string { return s.TakenAt.UTC().Format(nameTime) + record.Ext }

const nameTime = "20060102T150405Z"

// Latest reads the latest signature in a folder. fs.ErrNotExist says that there
// is none.
func Latest(dir string) (*Signature, string, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, "", err
	}
	latest := ""
	for _, x := range entries { // in the order of their names, which is that of time
		name, ok := strings.CutSuffix(x.Name(), record.Ext)
		if _, err := time.Parse(nameTime, name); ok && err == nil {
			latest = x.Name()
		}
	}
	if latest == "" {
		return nil, "", &os.PathError{Op: "read", Path: dir, Err: os.ErrNotExist}
	}
	path := filepath.Join(dir, latest)
	src, err := plainfile.Read(path, mostBytes)
	if err != nil {
		return nil, path, err
	}
	s, err := Decode(bytes.NewReader(src))
	if err != nil {
		return nil, path, fmt.Errorf("%s: %w", path, err)
	}
	return s, path, nil
}

// mostBytes of a signature: the demo's has a hundredth of it.
const mostBytes = 256 << 20

// number writes a line number.
func number(n int) string { return "line " + strconv.Itoa(n) }
