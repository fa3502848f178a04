package capture

import (
	"context"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/instruments"
)

// paceGuide knows a board's paces by its draw: fast is 10 mA, slow 5.
type paceGuide struct{ guide }

func (g *paceGuide) Runs(s Step, drew []instruments.Reading) bool {
	want := map[string]float64{"slow": 0.005, "fast": 0.010}[s.Pace]
	n := 0
	for _, r := range slices.Backward(drew) {
		if v, ok := r.Float(); !ok || v != want {
			break
		}
		n++
	}
	return n >= 5
}

// Hands-free nobody says that a button was pressed: the change of the draw does. Where it
// can't be felt the question stays open, and Enter answers it as ever.
func TestAPressIsFelt(t *testing.T) {
	for _, c := range []struct {
		name   string
		pressA float64 // what it draws once it was pressed
		free   bool
		felt   bool
	}{
		{"felt", 0.010, true, true},
		{"pressed once too often", 0.002, true, false},
		{"with a key for each", 0.010, false, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, x := feelBench(t)
			var asked atomic.Pointer[time.Time]
			f := newFeeler(t, b, nil)
			amps := 0.005
			b.load = func(v float64, _ []int, _ time.Duration) float64 {
				if at := asked.Load(); at != nil && b.c.Now().Sub(*at) > 3*s1 {
					return c.pressA * v / 12
				}
				return amps * v / 12
			}
			answer := make(chan struct{})
			by := &pressFace{feeler: f, open: func() { now := b.c.Now(); asked.Store(&now) }, answer: answer}
			if !c.felt {
				close(answer)
			}
			g := &paceGuide{guide{steps: []Step{boardStep("1", "slow", 0), boardStep("2", "fast", 1)}}}
			o := seeded()
			o.HandsFree = c.free
			recs, err := Run(context.Background(), x, g, by, &record{}, o)
			b.mustOff()
			if err != nil || len(recs) != 2 || recs[1].Outcome != Measured {
				t.Fatalf("%v %v", outcomes(recs), err)
			}
			told := slices.ContainsFunc(f.texts(Told), func(s string) bool {
				return strings.Contains(s,
					"runs at \"fast\" now")
			})
			if told != c.felt || by.answered == c.felt {
				t.Errorf("felt %v, answered by hand %v", told, by.answered)
			}
		})
	}
}

// pressFace leaves the question after a button open until it may answer.
type pressFace struct {
	*feeler
	open     func()
	answer   chan struct{}
	answered bool
}

func (f *pressFace) Ask(ctx context.Context, q Question) (Answer, error) {
	if q.Kind != AskPress {
		return f.feeler.Ask(ctx, q)
	}
	f.open()
	select {
	case <-f.answer:
		f.answered = true
		return Answer{Choice: "done"}, nil
	case <-ctx.Done():
		return Answer{}, context.Cause(ctx)
	}
}
