package capture_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
	"sealworthy/instruments/rig"
)

// From over-current to the output off over lines of 9600 baud: one reading
// interval and one command, whenever it comes. The interval is the longest
// between two readings of the same test, the supply's read-backs and its watch
// included, and the last one's way over the line; the command is "OUTP OFF" on the
// line, behind one question at most that is under way. Before it what was seen is
// asked for once more, since one bad reply is no overload: constant current with
// one question; too much in one reading with that question and a second reading.
// A part that ages below the limit is seen by its readings alone, and a reading
// tells the mean over its window: the first that lies wholly in the fault counts,
// so one window more.
func TestOverCurrentToOffAt9600Baud(t *testing.T) {
	char := instruments.Line{Baud: 9600, DataBits: 8, StopBits: 1}.CharTime()
	// "OUTP OFF", and before it "MEAS:CURR?" with its window and reply.
	command := 9*char + 11*char + 20*time.Millisecond + 8*char
	// "STAT:QUES:COND?" with its reply; "READ?" with its window and reply.
	state := 16*char + 20*time.Millisecond + 6*char
	again := 6*char + 100*time.Millisecond + 14*char
	for _, c := range []struct {
		name  string
		amps  float64 // on top of 20 mA; the limit is 31 mA, at most 26 mA is expected
		extra time.Duration
	}{{"at the limit", 1, state}, {"below the limit", 0.0095, 100*time.Millisecond + state + again}} {
		t.Run(c.name, func(t *testing.T) {
			var worst, sum time.Duration
			const runs = 40
			interval := quietInterval(t)
			for i := range runs {
				after := 3500*time.Millisecond + time.Duration(i)*17*time.Millisecond
				d := faultToOff(t, c.amps, after)
				worst, sum = max(worst, d), sum+d
				if d < 0 || d > interval+c.extra+command {
					t.Errorf("fault at %v: off %v later, more than an interval of %v and a command of %v", after, d,
						interval, command)
				}
			}
			t.Logf("%d faults: off after %v at the latest, %v in the mean; the longest reading interval is %v, a "+
				"command %v", runs, worst, sum/runs, interval, command)
		})
	}
}

// readingStep is a step with readings as fast as they come.
func readingStep() capture.Step {
	s := cabin()
	s.For, s.Spacing, s.Jitter = 8*time.Second, 0, 0
	return s
}

// quietInterval is the longest time between two readings in a test without a
// fault, and the last one's reply on the line.
func quietInterval(t *testing.T) time.Duration {
	t.Helper()
	b := newBed(t, &model{})
	recs, err := capture.Run(context.Background(), b.b, list{readingStep()}, capture.Unattended{}, &lines{}, b.o)
	if err != nil || recs[0].Outcome != capture.Measured {
		t.Fatalf("%+v, %v", recs, err)
	}
	longest := time.Duration(0)
	trace := recs[0].Trace("meter", instruments.Current)
	for i := 1; i < len(trace); i++ {
		longest = max(longest, trace[i].At.Sub(trace[i-1].At))
	}
	return longest + 14*time.Second/960 // 14 bytes of reply
}

func faultToOff(t *testing.T, amps float64, after time.Duration) time.Duration {
	t.Helper()
	m := &model{}
	b := newBed(t, m)
	m.extra = func(s rig.State) float64 {
		if s.Since >= after {
			return amps
		}
		return 0
	}
	recs, err := capture.Run(context.Background(), b.b, list{readingStep()}, capture.Unattended{}, &lines{}, b.o)
	if err != nil || len(recs) != 1 || recs[0].Outcome != capture.Tripped {
		t.Fatalf("%+v, %v", recs, err)
	}
	b.mustOff(t)
	on := time.Time{}
	for _, e := range b.r.Outputs() {
		switch {
		case e.On:
			on = e.At
		case !on.IsZero():
			return e.At.Sub(on.Add(after))
		}
	}
	t.Fatal(fmt.Sprint("never on and off: ", b.r.Outputs()))
	return 0
}
