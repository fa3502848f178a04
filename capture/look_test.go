package capture

import (
	"math"
	"strings"
	"testing"
	"time"
)

func lookStep(on ...string) Step {
	s := ledStep("9", "hull")
	s.Kind, s.On, s.See = Look, on, []string{"14 windows, warm"}
	return s
}

func TestLookByRelay(t *testing.T) {
	for _, c := range []struct {
		answer Answer
		seen   string
		marks  string
		out    Outcome
	}{
		{Answer{Choice: "right"}, AllRight, "begin on settled looked end", Measured},
		{Answer{Choice: "wrong", Text: "port beacon is green"}, "hull: port beacon is green",
			"begin on settled looked end", Measured},
		{Answer{Choice: "skip", Text: "too bright here"}, "", "begin on settled skipped end", Skipped},
	} {
		b := newBench(t, led)
		f := &face{answer: func(q Question) (Answer, error) {
			if !b.outputOn() || !strings.Contains(q.Text, "14 windows") {
				t.Errorf("output on: %v, asked %q", b.outputOn(), q.Text)
			}
			return c.answer, nil
		}}
		rec, r := runOne(t, b, b.withRelays(map[string]int{"a": 1, "b": 2}), lookStep("a", "b"), f)
		if rec.Seen != c.seen || r.kinds() != c.marks || rec.Outcome != c.out {
			t.Errorf("%q, marks %q, %s", rec.Seen, r.kinds(), rec.Outcome)
		}
		if n := len(f.asked); n != 1 {
			t.Errorf("%d questions, want the one", n)
		}
	}
}

// With one clip and several feeds each is looked at in turn.
func TestLookByClip(t *testing.T) {
	b := newBench(t, led)
	f := &face{answer: func(q Question) (Answer, error) {
		if q.Kind == AskLook && strings.Contains(q.Text, "\"b\"") {
			return Answer{Choice: "wrong", Text: "b flickers"}, nil
		}
		return plainest(q), nil
	}}
	rec, _ := runOne(t, b, b.Bench(), lookStep("a", "b"), f)
	if rec.Seen != "a: all right; b: b flickers" || len(f.questions(AskLook)) != 2 || len(f.questions(AskClip)) != 2 {
		t.Errorf("seen %q, %d looks, %d clips", rec.Seen, len(f.questions(AskLook)), len(f.questions(AskClip)))
	}
}

// While the maker looks the supply is watched.
func TestLookTrips(t *testing.T) {
	b := newBench(t, func(v float64, _ []int, since time.Duration) float64 {
		if since > 1300*time.Millisecond {
			return 2
		}
		return led(v, nil, since)
	})
	hang := make(chan struct{})
	defer close(hang)
	f := &face{answer: func(q Question) (Answer, error) {
		if q.Kind == AskLook {
			<-hang // the maker is slow, and this face doesn't heed its context
		}
		return Answer{Choice: "next"}, nil
	}}
	s := lookStep("a")
	s.Settle.Min = 2 * time.Second
	rec, _ := runOne(t, b, b.withRelays(map[string]int{"a": 1}), s, f)
	if rec.Outcome != Tripped {
		t.Errorf("%s: %s", rec.Outcome, rec.Reason)
	}
}

func TestWiggleSeesDrops(t *testing.T) {
	// Two interruptions, of 400 ms and of 150 ms.
	b := newBench(t, func(v float64, _ []int, since time.Duration) float64 {
		s := since.Seconds()
		if (s > 8 && s < 8.4) || (s > 11 && s < 11.15) {
			return 0.004
		}
		return led(v, nil, since)
	})
	s := lookStep("a")
	s.Kind, s.For = Wiggle, 10*time.Second
	f := &face{}
	rec, r := runOne(t, b, b.withRelays(map[string]int{"a": 1}), s, f)
	if rec.Outcome != Measured || len(rec.Drops) != 2 || len(f.kinds(DropSeen)) != 2 {
		t.Fatalf("%s: %s, drops %+v, %d tones", rec.Outcome, rec.Reason, rec.Drops, len(f.kinds(DropSeen)))
	}
	if d := rec.Drops[0].For; d < 300*time.Millisecond || d > 550*time.Millisecond ||
		math.Abs(rec.Drops[0].ToA-0.004) > 1e-9 {
		t.Errorf("drop %+v, want 400 ms down to 4 mA", rec.Drops[0])
	}
	// The window of 40 ms and the largest gap: a reading of 50 ms and the watch.
	if got := rec.ShortestDropS; got < 0.090 || got > 0.120 {
		t.Errorf("shortest drop %v s", got)
	}
	end := r.marks[len(r.marks)-1]
	if end.Kind != MarkEnd || len(end.Drops) != 2 || end.ShortestDropS != rec.ShortestDropS {
		t.Errorf("the record's end %+v", end)
	}
}

// A drop of the stated shortest length is seen wherever it falls.
func TestShortestDropIsSeen(t *testing.T) {
	const shortest = 0.110 // of this bench, see TestWiggleSeesDrops
	for k := range 40 {
		from := 8 + float64(k)*0.007
		b := newBench(t, nil)
		b.load = func(v float64, _ []int, since time.Duration) float64 {
			if s := since.Seconds(); s > from && s < from+shortest {
				return 0
			}
			return led(v, nil, since)
		}
		s := lookStep("a")
		s.Kind, s.For = Wiggle, 6*time.Second
		rec, _ := runOne(t, b, b.withRelays(map[string]int{"a": 1}), s, &face{})
		if len(rec.Drops) != 1 {
			t.Errorf("from %v s: drops %+v", from, rec.Drops)
		}
	}
}

// That lights flash is said where some of those that are asked about do, and nowhere else.
func TestALookSaysThatLightsFlash(t *testing.T) {
	s := lookStep("beacon", "cabin")
	s.Flash = []string{"beacon"}
	for _, c := range []struct {
		groups []string
		says   bool
	}{{[]string{"beacon", "cabin"}, true}, {[]string{"cabin"}, false}} {
		if q := lookQuestion(s, c.groups, false, false); strings.Contains(q.Text, "Some lights flash.") != c.says {
			t.Errorf("%v: %q", c.groups, q.Text)
		}
	}
}
