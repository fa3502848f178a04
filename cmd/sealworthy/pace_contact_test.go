package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/instruments/rig"
)

// holder leaves the question open while a clip is felt for, and clips a feed on once
// the output stands at its highest.
type holder struct {
	r       *rig.Bench
	feed    string
	on      bool
	contact time.Time // when it was clipped on
	over    time.Time
	said    []capture.Said                  // in the end
	first   map[capture.EventKind]time.Time // since then, of each kind
	tb      testing.TB
}

func (h *holder) Show(e capture.Event) {
	switch {
	case e.What == capture.SensingOn && e.Reading != nil && e.SetVolts > 2.9 && !h.on:
		h.on, h.contact = true, e.At
		if err := h.r.Connect(h.feed); err != nil {
			h.tb.Error(err)
		}
	case e.What == capture.StepEnds:
		h.over, h.said = e.At, e.Said
	}
	if _, was := h.first[e.What]; h.on && !was {
		h.first[e.What] = e.At
	}
}

func (h *holder) Ask(ctx context.Context, q capture.Question) (capture.Answer, error) {
	if q.Kind == capture.AskSense && q.Choices[0] == "done" {
		<-ctx.Done()
		return capture.Answer{}, context.Cause(ctx)
	}
	if q.Kind == capture.AskAgain {
		return capture.Answer{Choice: "next"}, nil
	}
	h.tb.Errorf("asked: %s", q.Text)
	return capture.Answer{Choice: "stop"}, nil
}

// felt are the steady groups of Brackwater that draw enough at 3 V to be felt by a clip.
var felt = []string{"galley lamps", "chart table", "hold lamps", "anchor light", "masthead light"}

// boardsDone are its boards as measured in this sitting: nobody feels for a clip before.
func boardsDone() (done []capture.StepRecord) {
	for _, b := range []string{"beacon", "lamp driver"} {
		done = append(done, capture.StepRecord{Outcome: capture.Measured,
			Step: capture.Step{ID: b, Kind: capture.Power, Feed: b, Board: b}})
	}
	return done
}

// contactToVerdict is a clip that is felt and measured, hands free, in simulated time; sweep: its curve, too.
func contactToVerdict(tb testing.TB, sweep bool, feed string) *holder {
	tb.Helper()
	p := putUpPaced(tb, sweep, 100*time.Millisecond, feed)
	defer p.down()
	x := p.u.Bench.Bench
	x.Relays = nil
	h := &holder{r: p.r, feed: feed, tb: tb, first: map[capture.EventKind]time.Time{}}
	g := compare.NewGuide(p.u.Judge, p.bud, p.steps, true)
	recs, err := capture.Run(context.Background(), x, g, h, noRecord{},
		capture.Options{Stage: compare.Fitted, Rand: rand.New(rand.NewPCG(1, 2)), Guard: p.u.Guard, HandsFree: true,
			Done: boardsDone()})
	if err != nil || len(recs) != 3 || recs[2].Outcome != capture.Measured {
		tb.Fatalf("%s: %+v, %v", feed, recs, err)
	}
	return h
}

// verdict is how long after the contact it was there.
func (h *holder) verdict() time.Duration { return h.over.Sub(h.contact) }

// line tells when each part of the way to the verdict began.
func (h *holder) line() string {
	s := fmt.Sprintf("%-16s", h.feed)
	for _, k := range []capture.EventKind{capture.Contact, capture.HandsOff, capture.OutputOn, capture.Settling,
		capture.Sampling} {
		s += fmt.Sprintf(" %s %.2f,", k, h.first[k].Sub(h.contact).Seconds())
	}
	return s + fmt.Sprintf(" verdict %.2f s after the contact", h.verdict().Seconds())
}

// Hands free a steady group has its verdict within 4 s of its clip's touch, of which a second is that of hands
// off, by the bench's own clock. When each part of the way begins is told with -v.
func TestContactToVerdict(t *testing.T) {
	t.Parallel()
	const most = 4 * time.Second
	for _, feed := range felt {
		h := contactToVerdict(t, false, feed)
		t.Log(h.line())
		if h.verdict() > most {
			t.Errorf("%s: %v from the contact to the verdict, more than %v", feed, h.verdict(), most)
		}
		if d := h.first[capture.OutputOn].Sub(h.first[capture.HandsOff]); d < time.Second {
			t.Errorf("%s: on %v after hands off was said", feed, d)
		}
	}
}

// Where its curve is measured behind it, what a group comes to so far is said within 4 s of its clip's touch, unless
// its own voltage alone leaves it open.
func TestContactToVerdictSoFar(t *testing.T) {
	t.Parallel()
	const most = 4 * time.Second
	told := 0
	for _, feed := range felt {
		alone, h := contactToVerdict(t, false, feed), contactToVerdict(t, true, feed)
		open := len(alone.said) != 1 || alone.said[0].Undecided
		at, said := h.first[capture.SoFar]
		if t.Log(h.line()); !said {
			at = h.contact
		}
		t.Logf("%s: said so far %v, %.2f s after the contact", feed, said, at.Sub(h.contact).Seconds())
		if said == open || at.Sub(h.contact) > most {
			t.Errorf("%s: said so far %v, left open %v, %v after the contact", feed, said, open, at.Sub(h.contact))
		}
		if said {
			told++
		}
	}
	if told < len(felt)-1 {
		t.Errorf("of %d groups %d are told", len(felt), told)
	}
}

// BenchmarkContactToVerdict is how long the bench takes from a clip that touches to
// the verdict, hands free: what it is is found out, and a second of hands off is in it.
func BenchmarkContactToVerdict(b *testing.B) {
	for range b.N {
		var worst time.Duration
		var lines []string
		for _, feed := range felt {
			h := contactToVerdict(b, false, feed)
			worst = max(worst, h.verdict())
			lines = append(lines, h.line())
		}
		b.ReportMetric(worst.Seconds(), "bench-s/worst")
		if b.N == 1 {
			b.Log("\n" + strings.Join(lines, "\n"))
		}
	}
}
