//go:build unix

package page

import (
	"bufio"
	"net/http"
	"syscall"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments"
)

// BenchmarkTwoPages is fifty readings a second, in real time, to two pages that take their
// streams, theirs included: "core%" is the share of one core that the whole process takes.
// The page promises less than 5.
func BenchmarkTwoPages(b *testing.B) {
	x := newSite(b, &fakeWork{name: "launch"})
	cookie := x.enter()
	var o Overview
	for range 15 {
		o.Groups = append(o.Groups, "cabin windows")
	}
	w := x.s.watch
	w.begun(Order{}, o, time.Now())
	step := capture.Step{Feed: "cabin windows", Kind: capture.Power, Groups: []string{"cabin windows"}}
	w.Tell(session.Event{What: session.Shown, Test: &capture.Event{What: capture.StepBegins, Step: &step,
		OutputOn: true}, Band: &session.Band{LowA: .03, HighA: .05}})
	took := make(chan int, 1<<16)
	for range 2 {
		a, err := http.DefaultClient.Do(x.request("GET", "/stream", "", cookie))
		if err != nil {
			b.Fatal(err)
		}
		defer a.Body.Close()
		go func() {
			for s := bufio.NewReader(a.Body); ; {
				line, err := s.ReadString('\n')
				if err != nil {
					return
				}
				select {
				case took <- len(line):
				default:
				}
			}
		}()
	}
	<-took
	b.ResetTimer()
	began, used := time.Now(), processTime(b)
	for i := range b.N {
		time.Sleep(time.Until(began.Add(time.Duration(i) * 20 * time.Millisecond)))
		now := time.Now()
		v := .038 + float64(i%7)*1e-5
		r := instruments.Reading{At: now, Instrument: "meter", Unit: "A", Value: &v, Status: instruments.OK}
		w.Tell(session.Event{What: session.Shown, Test: &capture.Event{At: now, What: capture.Sampling, Step: &step,
			Reading: &r, OutputOn: true}})
	}
	b.StopTimer()
	bytes := 0
	for len(took) > 0 {
		bytes += <-took
	}
	sec := time.Since(began).Seconds()
	b.ReportMetric(100*(processTime(b)-used).Seconds()/sec, "core%")
	b.ReportMetric(float64(bytes)/sec, "B/s")
}

// processTime is how long this process has run on any core.
func processTime(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
