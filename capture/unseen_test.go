package capture

import (
	"sync/atomic"
	"testing"
	"time"
)

// watchedFace is seen until nobody looks any more.
type watchedFace struct {
	face
	gone atomic.Bool
}

func (f *watchedFace) Watched() bool { return !f.gone.Load() }

// A test that nobody can see goes off within a second of being missed, keeps what
// was read, and goes on with the step from its begin when somebody says so.
func TestUnseenPauses(t *testing.T) {
	b := newBench(t, led)
	f := &watchedFace{}
	var went, off time.Time
	readings := 0
	f.onShow = func(e Event) {
		switch {
		case e.What == Sampling && e.Reading != nil:
			if readings++; readings == 3 {
				went = e.At
				f.gone.Store(true)
			}
		case e.What == OutputOff && off.IsZero() && f.gone.Load():
			off = e.At
		}
	}
	f.answer = func(q Question) (Answer, error) {
		if q.Kind == AskPlug {
			if b.outputOn() {
				t.Error("the output is on while it is paused")
			}
			f.gone.Store(false)
		}
		return plainest(q), nil
	}
	r := &record{}
	recs, err := Run(t.Context(), b.Bench(), &guide{steps: []Step{ledStep("1", "nav lights")}}, f, r, seeded())
	if err != nil || len(recs) != 1 || recs[0].Outcome != Measured {
		t.Fatalf("%+v, %v", recs, err)
	}
	if len(f.questions(AskPlug)) != 1 || off.IsZero() || off.Sub(went) > time.Second {
		t.Errorf("asked %d times, off %v after nobody looked any more", len(f.questions(AskPlug)), off.Sub(went))
	}
	b.mustOff()
}

// The whole model may be left alone for hours.
func TestUnseenSoakGoesOn(t *testing.T) {
	b := newBench(t, led)
	f := &watchedFace{}
	f.gone.Store(true)
	s := ledStep("1", "nav lights")
	s.Kind = Whole
	recs, err := Run(t.Context(), b.Bench(), &guide{steps: []Step{s}}, f, &record{}, seeded())
	if err != nil || len(recs) != 1 || recs[0].Outcome != Measured || len(f.questions(AskPlug)) != 0 {
		t.Errorf("%+v, %v", recs, err)
	}
}
