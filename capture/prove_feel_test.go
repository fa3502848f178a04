package capture

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"
)

// silent is somebody with both hands full: a question that is felt for stays open, any
// other is answered.
type silent struct{ face }

func (f *silent) Ask(ctx context.Context, q Question) (Answer, error) {
	f.mu.Lock()
	f.asked = append(f.asked, q)
	f.mu.Unlock()
	if strings.Contains(q.Text, "It's felt") {
		<-ctx.Done()
		return Answer{}, context.Cause(ctx)
	}
	return Answer{Choice: "done"}, nil
}

// What lies between the clips.
func joined(v float64) float64  { return v / 1.6 }
func aKilohm(v float64) float64 { return v / 1001.6 }

// Hands hold the clips, and no key is touched: they touch once, and are felt apart, together
// and on the resistor. While that is felt for there's a volt at most, under 5 mA.
func TestProofByFeel(t *testing.T) {
	b, x := feelBench(t, handed{3 * s1, joined}, handed{5 * s1, nil}, handed{14 * s1, joined}, handed{23 * s1, nil},
		handed{25 * s1, aKilohm}, handed{60 * s1, nil})
	x.Supply = &proofSupply{fakeSupply{b, "supply A"}, &proofBench{bench: b, series: 1.6, state: "together"}}
	f := &silent{}
	felt := true
	f.onShow = func(e Event) {
		felt = felt && (!e.Sensing || e.SetVolts <= proveFeelV && e.LimitA <= proveFeelA)
	}
	p, err := Prove(context.Background(), x, f, ProveOptions{HandsFree: true})
	if err != nil || !p.Good() {
		t.Fatalf("%v, %+v", err, p.Warnings)
	}
	if !felt {
		t.Error("it felt with more than is said")
	}
	// In simulated time hands may be there before a question is; nothing else is asked.
	for _, q := range f.questions(AskClip) {
		if !slices.ContainsFunc([]string{"Touch the clips together, then hold them apart",
			"Put the clips together. It's felt", "Put the known resistor of 1 kilohm between the clips. It's felt"},
			func(want string) bool { return strings.HasPrefix(q.Text, want) }) {
			t.Errorf("asked %q", q.Text)
		}
	}
	b.mustOff()
	// The maker may take a while: with the resistor held at 25 s it's over before 40.
	if d := b.c.Now().Sub(p.At); d > 40*time.Second {
		t.Errorf("took %v", d)
	}
}

// A clip that hangs on a group draws nothing at a volt, as if it hung on nothing: without a
// sign of the maker's nothing more goes to it, and after a minute it's dark and asked as ever.
func TestProofNeedsASign(t *testing.T) {
	b, x := feelBench(t, handed{0, feeds["cabin"]})
	f := &silent{}
	confirmed := func() bool {
		return slices.ContainsFunc(f.questions(AskClip), func(q Question) bool {
			return strings.HasSuffix(q.Text, "The output is off.")
		})
	}
	most, over := 0.0, false
	f.onShow = func(e Event) {
		if over = over || confirmed(); e.OutputOn && !over {
			most = max(most, e.SetVolts)
		}
	}
	if _, err := Prove(context.Background(), x, f, ProveOptions{HandsFree: true}); err != nil {
		t.Fatal(err)
	}
	if most > proveFeelV || !confirmed() {
		t.Errorf("%v V before it was confirmed; asked %+v", most, f.questions(AskClip))
	}
	b.mustOff()
}
