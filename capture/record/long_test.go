package record

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// TestLongRecord adds to a build on disk what makes a record long, for whoever wants to
// measure the program on it: SEALWORTHY_LONG_BUILD is the folder, with a plan in it, and
// SEALWORTHY_LONG_READINGS how many readings: up to half of them in at most a thousand
// ordinary steps of a feed, the others a soak. Invented data.
func TestLongRecord(t *testing.T) {
	dir := os.Getenv("SEALWORTHY_LONG_BUILD")
	if dir == "" {
		t.Skip("SEALWORTHY_LONG_BUILD names no folder")
	}
	n, err := strconv.Atoi(os.Getenv("SEALWORTHY_LONG_READINGS"))
	if err != nil {
		t.Fatal(err)
	}
	feed, closure := os.Getenv("SEALWORTHY_LONG_FEED"), os.Getenv("SEALWORTHY_LONG_CLOSURE")
	f, err := ReadDir(dir)
	if err != nil || len(f.Steps) == 0 {
		t.Fatalf("no step to be like: %v", err)
	}
	like := f.Steps[0]
	now := time.Date(2027, 1, 4, 8, 0, 0, 0, time.UTC)
	o := opening()
	o.Dir, o.Now, o.Stage, o.Random, o.Simulated = dir, now, "closed", random(9), true
	r, _, err := Begin(osIn(filepath.Join(t.TempDir(), "locks")), o)
	if err != nil {
		t.Fatal(err)
	}
	at := now
	step := func(kind capture.Kind, id, feed, closure string, readings int, spacing time.Duration) {
		s := like.Step
		s.Kind, s.ID, s.Feed, s.Closure = kind, id, feed, closure
		if kind == capture.Whole {
			s.Groups = nil
		}
		put := func(m capture.Mark) {
			m.At, m.StepID, m.Stage, m.Feed, m.Closure, m.Simulated = at, id, "closed", feed, closure, true
			if _, err := r.Append(Record{Mark: &m}); err != nil {
				t.Fatal(err)
			}
		}
		at = at.Add(time.Second)
		put(capture.Mark{Kind: capture.MarkBegin, Step: &s, Instruments: like.Instruments})
		put(capture.Mark{Kind: capture.MarkOn, SetVolts: s.Volts})
		put(capture.Mark{Kind: capture.MarkSettled, SetVolts: s.Volts})
		for i := range readings {
			at = at.Add(spacing + time.Duration(i*7919%1000)*time.Microsecond)
			v := math.Round((0.0381+0.02*float64(i/20%2)+2e-5*math.Sin(float64(i)))*1e6) / 1e6
			if i == readings/2 {
				v = 0.001 // a contact that opens
			}
			x := instruments.Reading{Instrument: "meter", Quantity: instruments.Current, Unit: "A",
				Status: instruments.OK, Value: &v,
				HalfWidth: 0.002*v + 5e-5, Range: "200 mA", At: at, Window: 100 * time.Millisecond,
				Latency: 120 * time.Millisecond,
				Raw:     fmt.Sprintf("%+.6E", v)}
			if _, err := r.Append(Record{Reading: &x, Step: capture.StepRef{StepID: id, Closure: closure, Feed: feed,
				Stage: "closed"}}); err != nil {
				t.Fatal(err)
			}
		}
		put(capture.Mark{Kind: capture.MarkEnd, Outcome: capture.Measured})
	}
	const ordinary = 1000 // readings, and steps
	steps := min(n/2/ordinary, ordinary)
	for i := range steps {
		step(capture.Power, fmt.Sprintf("%s/%s#%d", closure, feed, i), feed, closure, ordinary, 50*time.Millisecond)
	}
	step(capture.Whole, "whole/main", "main", "", n-steps*ordinary, 500*time.Millisecond)
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
}
