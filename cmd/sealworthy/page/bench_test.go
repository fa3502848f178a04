package page

import (
	"context"
	"net"
	"net/http"
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
	s.watch.Tell(session.Event{What: session.Shown, Test: &capture.Event{What: capture.StepBegins, Step: &step,
		OutputOn: true}, Band: &session.Band{LowA: .03, HighA: .05}})
	b.ResetTimer()
	for i := range b.N {
		now = now.Add(20 * time.Millisecond)
		v := .038 + float64(i%7)*1e-5
		r := instruments.Reading{At: now, Instrument: "meter", Unit: "A", Value: &v, Status: instruments.OK}
		s.watch.Tell(session.Event{What: session.Shown, Test: &capture.Event{At: now, What: capture.Sampling,
			Step: &step, Reading: &r, OutputOn: true}})
		if i%5 == 0 {
			for range 2 {
				s.regions()
			}
		}
	}
}

// BenchmarkStop is a STOP with ten streams open, and one in a flood of connections that
// ask nothing, from the touch to the supply's off. The page promises 150 ms, 99 times of
// 100.
func BenchmarkStop(b *testing.B) {
	b.Run("streams", func(b *testing.B) {
		w := &fakeWork{name: "launch"}
		x := newSite(b, w)
		cookie := x.enter()
		for range 10 {
			a, err := http.DefaultClient.Do(x.request("GET", "/stream", "", cookie))
			if err != nil {
				b.Fatal(err)
			}
			defer a.Body.Close()
		}
		stops(b, w, x, cookie)
	})
	b.Run("streams over TLS", func(b *testing.B) {
		w := &fakeWork{name: "launch"}
		_, x := newSiteBeyond(b, w)
		cookie := x.comeIn(Maker)
		for range 10 {
			a, err := x.client.Do(x.request("GET", "/stream", "", cookie))
			if err != nil {
				b.Fatal(err)
			}
			defer a.Body.Close()
		}
		stops(b, w, x, cookie)
	})
	b.Run("flood", func(b *testing.B) {
		w := &fakeWork{name: "launch"}
		x := newSite(b, w)
		cookie := x.enter()
		end := make(chan struct{})
		defer close(end)
		go flood(x.at, end)
		stops(b, w, x, cookie)
	})
}

// flood opens connections that ask nothing, one after the other.
func flood(at string, end <-chan struct{}) {
	var all []net.Conn
	defer func() {
		for _, c := range all {
			_ = c.Close()
		}
	}()
	for {
		select {
		case <-end:
			return
		case <-time.After(time.Millisecond):
		}
		c, err := net.Dial("tcp", at)
		if err != nil {
			continue // some get in
		}
		if all = append(all, c); len(all) > 2*mostConns {
			_ = all[0].Close()
			all = all[1:]
		}
	}
}

// stops is so many STOPs, each of a test of its own.
func stops(b *testing.B, w *fakeWork, x *site, cookie string) {
	b.ResetTimer()
	late := 0
	for i := range b.N {
		b.StopTimer()
		w.off = newFakeSupply(nil)
		if a, src := x.send(x.request("POST", "/begin", "build=b1&verb=measure",
			cookie)); a.StatusCode != http.StatusSeeOther {
			b.Fatal(i, a.Status, src)
		}
		until(b, func() bool { n, _, _ := w.count(); return n == i+1 })
		stop := x.request("POST", "/stop", "", cookie)
		b.StartTimer()
		asked := time.Now()
		x.send(stop)
		until(b, w.off.wasOff)
		b.StopTimer()
		if w.off.off.Sub(asked) > 150*time.Millisecond {
			late++
		}
		until(b, func() bool { x.s.bench.mu.Lock(); defer x.s.bench.mu.Unlock(); return x.s.bench.guard == nil })
		b.StartTimer()
	}
	b.ReportMetric(float64(late)/float64(b.N), "late")
}
