package compare_test

import (
	"context"
	"math/rand/v2"
	"testing"

	"sealworthy/compare"
	"sealworthy/compare/fault"
)

// A dead short of a group on a joint stops the ramp at its lowest voltages, and is
// called a short.
func TestADeadShortIsCalledAShort(t *testing.T) {
	if raceEnabled {
		t.Skip("statistics run without the race detector")
	}
	n := 0
	for seed := uint64(10); seed <= 24; seed++ {
		src := randomPlan(seed)
		p, err := parsed(src)
		if err != nil {
			t.Fatal(err)
		}
		f, ok := faultInTurn(p, fault.Short, rand.New(rand.NewPCG(seed, 3)))
		if !ok || groupOf(p, f.Group).Board != "" {
			continue
		}
		m, err := measured(context.Background(), seed, src, &f, how{})
		if err != nil {
			t.Fatal(err)
		}
		if m, err = m.judged(2); err != nil {
			t.Fatal(err)
		}
		for _, c := range m.closures {
			for _, x := range c.Groups {
				if x.Group != f.Group {
					continue
				}
				n++
				if x.Verdict != compare.High || len(x.Causes) == 0 || x.Causes[0].Name != string(fault.Short) {
					t.Errorf("build %d: %s", seed, inWords(x))
				}
			}
		}
	}
	if n < 8 {
		t.Errorf("%d groups only", n)
	}
}
