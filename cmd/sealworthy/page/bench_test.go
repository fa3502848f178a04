package page

import (
	"context"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments"
)

// BenchmarkReadings is one reading that is told and, each fifth, written out for two
// pages, as at fifty readings a second. Below 1 ms it takes less than a twentieth of a
// core.
func BenchmarkReadings(b *testing.B) {
	now := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	s, err := New(context.Background(), Options{Work: &fakeWork{name: "launch"}, Now: func() time.Time { return now }})
	if err != nil {
		b.Fatal(err)
	}
	var o Overview
	for range 15 {
		o.Groups = append(o.Groups, "cabin windows")
	}
	s.watch.begun(Order{}, o, now)
	step := capture.Step{Feed: "cabin windows", Kind: capture.Power, Groups: []string{"cabin windows"}}
	s.watch.Tell(session.Event{What: session.Shown, Test: &capture.Event{What: capture.StepBegins, Step: &step, OutputOn: true}, Band: &session.Band{LowA: .03, HighA: .05}})
	b.ResetTimer()
	for i := range b.N {
		now = now.Add(20 * time.Millisecond)
		v := .038 + float64(i%7)*1e-5
		r := instruments.Reading{At: now, Instrument: "meter", Unit: "A", Value: &v, Status: instruments.OK}
		s.watch.Tell(session.Event{What: session.Shown, Test: &capture.Event{At: now, What: capture.Sampling, Step: &step, Reading: &r, OutputOn: true}})
		if i%5 == 0 {
			for range 2 {
				s.regions()
			}
		}
	}
}
