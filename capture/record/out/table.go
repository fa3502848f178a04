package out

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"sealworthy/capture/record"
	"sealworthy/instruments"
)

// Format is how readings are written.
type Format string

// The formats. The zero Format is no valid one.
const (
	CSV   Format = "csv"   // RFC 4180: one reading a row
	JSON  Format = "json"  // one reading a line
	Lines Format = "lines" // line protocol: every line of the record as it stands there
)

// Formats are those that there are.
func Formats() []Format { return []Format{CSV, JSON, Lines} }

// Reading is one reading, with where it stands in the record. Numbers are in the unit
// that is named; in a table each of these is a column.
type Reading struct {
	Build   string `json:"build"`    // its name, for people
	BuildID string `json:"build_id"` // the build's own identity, 16 hex digits
	// which instruments stood there, as they call themselves
	Bench      string    `json:"bench,omitempty"`
	Sitting    int       `json:"sitting"` // its number in the record, from 1
	Seq        int       `json:"seq"`     // number of its line in the sitting
	Time       time.Time `json:"time"`    // UTC; the end of its window
	Stage      string    `json:"stage"`
	Closure    string    `json:"closure,omitempty"`
	Feed       string    `json:"feed"` // group or board
	Pace       string    `json:"pace,omitempty"`
	Step       string    `json:"step"`       // the ID of the step that it was read in
	Instrument string    `json:"instrument"` // by its name on the bench: supply, meter
	Quantity   string    `json:"quantity"`   // current or voltage
	Value      *float64  `json:"value"`      // null unless status is ok
	Unit       string    `json:"unit"`       // of Value, HalfWidth
	HalfWidth  float64   `json:"half_width"` // limit of error, in the same unit
	Status     string    `json:"status"`     // ok, overload, stale, ...: why there is no value
	// as the instrument names it; empty: it didn't say
	Range     string  `json:"range,omitempty"`
	WindowS   float64 `json:"window_s"`
	LatencyS  float64 `json:"latency_s"`
	Base      bool    `json:"base"`      // of what was on before
	Simulated bool    `json:"simulated"` // a simulated bench read it
	Raw       string  `json:"raw"`       // the reply, quoted to ASCII as in Go
}

// ReadingFormat says of each line of JSON what it is: a reader may find one alone. Its
// number goes up with anything that a reader could stumble over.
const ReadingFormat = "urn:sealworthy:export:2"

// jsonReading is a line of JSON.
type jsonReading struct {
	Format string `json:"format"`
	Reading
}

// columns of a table. What is a number or a time stands there as it is; a text that a
// spreadsheet would take for a formula, or a part of it, gets an apostrophe before it.
var columns = []string{"build", "build_id", "bench", "sitting", "seq", "time_utc", "stage", "closure", "feed",
	"pace", "step", "instrument",
	"quantity", "value", "unit", "half_width", "status", "range", "window_s", "latency_s", "base", "simulated", "raw"}

func (x Reading) row() []string {
	value := ""
	if x.Value != nil {
		value = number(*x.Value)
	}
	return []string{text(x.Build), text(x.BuildID), text(x.Bench), strconv.Itoa(x.Sitting), strconv.Itoa(x.Seq),
		x.Time.UTC().Format(time.RFC3339Nano),
		text(x.Stage), text(x.Closure), text(x.Feed), text(x.Pace), text(x.Step), text(x.Instrument),
		text(x.Quantity), value, text(x.Unit),
		number(x.HalfWidth), text(x.Status), text(x.Range), number(x.WindowS), number(x.LatencyS),
		strconv.FormatBool(x.Base),
		strconv.FormatBool(x.Simulated), text(x.Raw)}
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// text makes a text harmless that a spreadsheet would compute: one that begins with
// = + - @ TAB or CR (OWASP, "CSV Injection"), whatever blanks are before it. Where the
// list separator is a semicolon or a tab, as a spreadsheet's language or its user has it,
// a cell begins behind each of these in the midst of a text, and behind a comma where
// quotes count for nothing: there, too.
func text(s string) string {
	var out strings.Builder
	begins := true
	for i := range len(s) { // bytes will do: all of cellEnds are of one
		if begins && computed(s[i:]) {
			out.WriteByte('\'')
		}
		out.WriteByte(s[i])
		begins = strings.IndexByte(cellEnds, s[i]) >= 0
	}
	return out.String()
}

// cellEnds are what may end a cell for one spreadsheet or another, quotes or not.
const cellEnds = ",;\t\r\n"

// computed: a spreadsheet would compute a cell of this text.
func computed(s string) bool {
	s = strings.TrimLeftFunc(s, passedOver)
	r, _ := utf8.DecodeRuneInString(s)
	return s != "" && strings.ContainsRune("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20|%", r)
}

// passedOver: some spreadsheet reads a cell as if this weren't at its beginning.
func passedOver(r rune) bool {
	if strings.ContainsRune("\t\r\n", r) {
		return false
	}
	return r == '"' || unicode.IsSpace(r) || unicode.IsControl(r) || unicode.Is(unicode.Cf, r)
}

// readingOf is a line of the record as a reading; ok is false for every other line.
func readingOf(k record.Kept) (x Reading, ok bool) {
	r := k.Record
	if r.Reading == nil {
		return x, false
	}
	v := *r.Reading
	raw := strconv.QuoteToASCII(v.Raw)
	x = Reading{Build: k.Sitting.Name, BuildID: k.Build, Bench: k.Sitting.Bench, Sitting: k.Sitting.Number,
		Seq: k.Seq(), Time: v.At.UTC(),
		Stage: r.Step.Stage, Closure: r.Step.Closure, Feed: r.Step.Feed, Pace: r.Step.Pace, Step: r.Step.StepID,
		Instrument: v.Instrument, Quantity: string(v.Quantity), Unit: v.Unit, HalfWidth: v.HalfWidth,
		Status: string(v.Status), Range: v.Range,
		WindowS: v.Window.Seconds(), LatencyS: v.Latency.Seconds(), Base: r.Step.Base, Simulated: r.Simulated,
		Raw: raw[1 : len(raw)-1]}
	if v.Status == instruments.OK {
		x.Value = v.Value
	}
	return x, true
}

// Written is what went out.
type Written struct {
	Lines int `json:"lines"` // rows of a table
	record.Walked
}

// Write writes the record of a build whose folder is tree.
func Write(w io.Writer, tree fs.FS, f Format) (Written, error) {
	var out Written
	put, end, err := writer(w, f)
	if err != nil {
		return out, err
	}
	out.Walked, err = record.Walk(tree, func(k record.Kept) error {
		took, err := put(k)
		if took {
			out.Lines++
		}
		return err
	})
	if err != nil {
		return out, err
	}
	return out, end()
}

// writer gives what writes a line, and what ends.
func writer(w io.Writer, f Format) (put func(record.Kept) (took bool, err error), end func() error, err error) {
	none := func() error { return nil }
	switch f {
	case CSV:
		c := csv.NewWriter(w)
		c.UseCRLF = true
		err := c.Write(columns)
		return func(k record.Kept) (bool, error) {
			x, ok := readingOf(k)
			if !ok {
				return false, nil
			}
			return true, c.Write(x.row())
		}, func() error { c.Flush(); return c.Error() }, err
	case JSON:
		j := json.NewEncoder(w)
		j.SetEscapeHTML(false)
		return func(k record.Kept) (bool, error) {
			x, ok := readingOf(k)
			if !ok {
				return false, nil
			}
			return true, j.Encode(jsonReading{ReadingFormat, x})
		}, none, nil
	case Lines:
		return func(k record.Kept) (bool, error) {
			if _, err := w.Write(k.Text); err != nil {
				return false, err
			}
			_, err := io.WriteString(w, "\n")
			return true, err
		}, none, nil
	}
	return nil, nil, fmt.Errorf("format %q: readings are written as %v", f, Formats())
}
