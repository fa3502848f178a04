package out

import (
	"context"
	entropy "crypto/rand"
	"errors"
	"maps"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/capture/record/recordtest"
	"sealworthy/instruments"
)

// TestSendAnotherRecord: where the record isn't the one that was sent, it goes out from
// its start.
func TestSendAnotherRecord(t *testing.T) {
	m := recordtest.NewMemory()
	recorded(t, m, false, start, hundred()...)
	s, x := shelfOf(t, nil)
	got, err := senderTo(x.URL).Send(context.Background(), m.Tree(ship),
		Places{1: {Seq: 50, Check: "0123456789abcdef"}}, func(Places) error { return nil })
	if err != nil || got.Lines != 102 || len(s.points) != 102 {
		t.Errorf("%+v, %d points, %v", got, len(s.points), err)
	}
}

// TestSendPutBack: a record put back from a copy, whose new sittings take the numbers of
// ones that were sent, shorter or longer ones, goes out whole; what was sent of it stays.
func TestSendPutBack(t *testing.T) {
	for _, readings := range []int{1, 10, 99, 100, 101, 150} {
		m := recordtest.NewMemory()
		recorded(t, m, false, start, hundred()...)
		copied := m.Copy()
		recorded(t, m, false, start.Add(time.Hour), hundred()...)
		recorded(t, m, false, start.Add(2*time.Hour), hundred()...)
		s, x := shelfOf(t, nil)
		to := senderTo(x.URL)
		var places Places
		keep := func(p Places) error { places = maps.Clone(p); return nil }
		if got, err := to.Send(context.Background(), m.Tree(ship), nil, keep); err != nil || got.Lines != 306 {
			t.Fatalf("%+v, %v", got, err)
		}
		recorded(t, copied, false, start.Add(24*time.Hour), make([]float64, readings)...)
		recorded(t, copied, false, start.Add(25*time.Hour), make([]float64, readings)...)
		recorded(t, copied, false, start.Add(26*time.Hour), make([]float64, readings)...)
		lines := 3 * (readings + 2)
		got, err := to.Send(context.Background(), copied.Tree(ship), places, keep)
		if err != nil || got.Lines != lines || got.Already != 102 || len(s.points) != 306+lines {
			t.Errorf("%d readings a sitting: %+v, %v; %d points", readings, got, err, len(s.points))
		}
		n := len(s.requests)
		if got, err := to.Send(context.Background(), copied.Tree(ship), places, keep); err != nil || got.Lines != 0 ||
			got.Already != 102+lines || len(s.requests) != n {
			t.Errorf("nothing new: %+v, %v", got, err)
		}
	}
}

// TestSendTwins: two builds of one name, measured in the same moments, stay two.
func TestSendTwins(t *testing.T) {
	s, x := shelfOf(t, nil)
	for range 2 {
		m := recordtest.NewMemory()
		recorded(t, m, false, start, hundred()...)
		if _, err := senderTo(x.URL).Send(context.Background(), m.Tree(ship), nil,
			func(Places) error { return nil }); err != nil {
			t.Fatal(err)
		}
	}
	if n, _ := s.sum(); n != 200 || len(s.points) != 204 {
		t.Errorf("%d readings, %d points", n, len(s.points))
	}
}

// TestSendSettled: a reading has the voltage at which it had settled where it had, also where
// that is known only after it was read, and the build's name; one of the ramp, of the sweep, of
// another step or of what was on before hasn't. Resumed in the midst of a step, too.
func TestSendSettled(t *testing.T) {
	m := recordtest.NewMemory()
	r, _, err := record.Begin(m, record.Opening{Dir: ship, Build: "Brackwater", Stage: "fitted", What: record.ForTest,
		Program: "a test", Bench: "bench 2", Now: start, Random: entropy.Reader})
	if err != nil {
		t.Fatal(err)
	}
	at, n := start, 0.0
	put := func(x record.Record) {
		if _, err := r.Append(x); err != nil {
			t.Fatal(err)
		}
	}
	mark := func(k capture.MarkKind, volts float64) {
		at = at.Add(time.Second)
		step := capture.Step{ID: "hull/saloon", Feed: "saloon", Kind: capture.Power}
		x := capture.Mark{Kind: k, At: at, StepID: step.ID, Stage: "fitted", SetVolts: volts, Step: &step,
			Outcome: capture.Measured}
		if k != capture.MarkBegin {
			x.Step = nil
		}
		put(record.Record{Mark: &x})
	}
	read := func(step string, base bool) {
		at = at.Add(time.Second)
		n++
		v := n
		put(record.Record{Reading: &instruments.Reading{Instrument: "meter", Quantity: instruments.Current, Unit: "A",
			Status: instruments.OK, Value: &v, At: at},
			Step: capture.StepRef{StepID: step, Feed: "saloon", Stage: "fitted",
				Base: base}})
	}
	mark(capture.MarkBegin, 0)
	read("hull/saloon", true)
	mark(capture.MarkOn, 3)
	read("hull/saloon", false)
	read("hull/saloon", false) // 3: found at rest by these two
	since := at
	read("hull/saloon", false) // 4
	now := at
	at = since.Add(-time.Second)
	mark(capture.MarkSettled, 12)
	at = now
	read("hull/saloon", false) // 5
	read("hull/another", false)
	read("hull/saloon", true)
	read("hull/saloon", false) // 8
	mark(capture.MarkPoint, 9)
	read("hull/saloon", false)
	mark(capture.MarkEnd, 0)
	read("hull/saloon", false)
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	s, x := shelfOf(t, nil)
	to := senderTo(x.URL)
	to.Lines = 4
	var places Places
	for range 6 { // broken off after each batch
		_, _ = to.Send(context.Background(), m.Tree(ship), places, func(p Places) error {
			places = maps.Clone(p)
			return errors.New("broken off")
		})
	}
	settled := 0
	for k, v := range s.points {
		reading := strings.HasPrefix(k, "reading,")
		if (s.fields[k]["settled_volts"] == "12") != (reading && (v == 3 || v == 4 || v == 5 || v == 8)) ||
			reading && s.fields[k]["name"] != "Brackwater" {
			t.Errorf("%s: %v, %v", k, v, s.fields[k])
		}
		if s.fields[k]["settled_volts"] != "" {
			settled++
		}
	}
	if n, _ := s.sum(); n != 10 || settled != 4 {
		t.Errorf("%d readings, %d settled", n, settled)
	}
}

// TestSendOtherLine: where the line that has the number of the last one sent is none that
// goes out, or the record is another build's, the sitting goes out from its start.
func TestSendOtherLine(t *testing.T) {
	m := recordtest.NewMemory()
	recorded(t, m, false, start, hundred()...)
	var last Place
	s, x := shelfOf(t, nil)
	to := senderTo(x.URL)
	if _, err := to.Send(context.Background(), m.Tree(ship), nil,
		func(p Places) error { last = p[1]; return nil }); err != nil {
		t.Fatal(err)
	}
	if last.Build == "" {
		t.Errorf("of which build it was isn't kept: %+v", last)
	}
	other := last
	other.Build = "another one"
	for name, p := range map[string]Place{"a mark": {Seq: 2, Check: "0123456789abcdef", Build: last.Build},
		"past the end": {Seq: last.Seq + 5, Check: last.Check, Build: last.Build}, "another build": other} {
		clear(s.points)
		got, err := to.Send(context.Background(), m.Tree(ship), Places{1: p}, func(Places) error { return nil })
		if err != nil || got.Lines != 102 || got.Already != 0 || len(s.points) != 102 {
			t.Errorf("%s: %+v, %d points, %v", name, got, len(s.points), err)
		}
	}
	if got, err := to.Send(context.Background(), m.Tree(ship), Places{1: last, 7: other},
		func(Places) error { return nil }); err != nil || got.Lines != 0 || got.Already != 102 {
		t.Errorf("a place of a sitting that isn't there: %+v, %v", got, err)
	}
}
