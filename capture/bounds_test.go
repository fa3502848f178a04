package capture

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"
)

// A step that goes anywhere above the bench's highest voltage isn't powered at
// all, nor one that draws more than its highest current.
func TestNeverAbove(t *testing.T) {
	for _, c := range []struct {
		name    string
		volts   float64
		amps    float64
		change  func(*Step)
		refused string
	}{
		{"at it", 12, 0.020, func(*Step) {}, ""},
		{"no bounds", 0, 0, func(s *Step) {
			s.Volts = 24
			s.Ramp[2].Volts = 24
			s.Ramp[2].LimitA, s.Ramp[2].MaxA = 0.1,
				0.1
		}, ""},
		{"above", 11.9, 0, func(*Step) {}, "never goes above 11.90 V"},
		{"in its ramp only", 12.5, 0, func(s *Step) { s.Ramp[1].Volts = 13 }, "never goes above 12.50 V"},
		{"in its sweep only", 12.5, 0,
			func(s *Step) { s.Sweep = []SweepPoint{{Volts: 13, LimitA: 0.1, For: time.Second}} },
			"never goes above 12.50 V"},
		{"draws more", 0, 0.019, func(*Step) {}, "never goes above 19.0 mA"},
	} {
		for _, k := range []Kind{Power, Look, Wiggle, Whole} {
			b := newBench(t, led)
			s := ledStep("1", "nav lights")
			s.Kind = k
			s.Ramp = slices.Clone(s.Ramp)
			c.change(&s)
			on := b.Bench()
			on.MostVolts, on.MostAmps = c.volts, c.amps
			recs, err := Run(context.Background(), on, &guide{steps: []Step{s}}, &face{}, &record{}, seeded())
			if err != nil {
				t.Fatalf("%s, %s: %v", c.name, k, err)
			}
			b.mustOff()
			if c.refused == "" {
				if recs[0].Outcome != Measured {
					t.Errorf("%s, %s: %s %s", c.name, k, recs[0].Outcome, recs[0].Reason)
				}
				continue
			}
			if recs[0].Outcome != Failed || !strings.Contains(recs[0].Reason, c.refused) || wentOn(b) {
				t.Errorf("%s, %s: %s %q; the supply saw %v", c.name, k, recs[0].Outcome, recs[0].Reason, b.lines())
			}
		}
	}
}

// No limit is set above the bench's highest current.
func TestLimitIsBounded(t *testing.T) {
	b := newBench(t, led)
	on := b.Bench()
	on.MostAmps = 0.028
	recs, err := Run(context.Background(), on, &guide{steps: []Step{ledStep("1", "nav lights")}}, &face{}, &record{},
		seeded())
	if err != nil || recs[0].Outcome != Measured {
		t.Fatal(err, recs)
	}
	if l := b.lines(); !slices.Contains(l, "set 12.00 0.0280") || !slices.Contains(l, "set 3.00 0.0100") {
		t.Errorf("the supply saw %v", l)
	}
}

// The last word before the supply refuses what is no voltage.
func TestNoVoltage(t *testing.T) {
	b := newBench(t, led)
	s := ledStep("1", "nav lights")
	s.Ramp = slices.Clone(s.Ramp)
	s.Ramp[2].Volts = -12
	recs, err := Run(context.Background(), b.Bench(), &guide{steps: []Step{s}}, &face{}, &record{}, seeded())
	if err != nil || recs[0].Outcome != Failed || wentOn(b) {
		t.Errorf("%v %+v %v", err, recs[0].Outcome, b.lines())
	}
}

// The proof of the bench keeps below it, too.
func TestProofKeepsBelow(t *testing.T) {
	b := newBench(t, led)
	on := b.Bench()
	on.MostVolts = 3
	p, err := Prove(context.Background(), on, &face{}, ProveOptions{})
	if err != nil || len(p.Parts) != 3 {
		t.Fatal(err, p.Parts)
	}
	for _, l := range b.lines() {
		if strings.HasPrefix(l, "set 5") {
			t.Errorf("the supply saw %v", b.lines())
		}
	}
	if !slices.ContainsFunc(b.lines(), func(l string) bool { return strings.HasPrefix(l, "set 3.00") }) {
		t.Errorf("the supply saw %v", b.lines())
	}
}

// protected is a supply with a protection of its own.
type protected struct {
	*fakeSupply
	volts []float64
}

func (g *protected) Protect(_ context.Context, volts, _ float64) error {
	g.volts = append(g.volts, volts)
	return nil
}

// The supply's own protection lies a little above the step, and closer to what
// the bench never goes above.
func TestProtectionIsBounded(t *testing.T) {
	for most, want := range map[float64]float64{0: 13.7, 12: 12.34, 12.6: 12.952, 30: 13.7} {
		b := newBench(t, led)
		on := b.Bench()
		g := &protected{fakeSupply: &fakeSupply{b, "supply A"}}
		on.Supply, on.MostVolts = g, most
		if _, err := Run(context.Background(), on, &guide{steps: []Step{ledStep("1", "nav lights")}}, &face{},
			&record{}, seeded()); err != nil {
			t.Fatal(err)
		}
		if len(g.volts) == 0 || g.volts[0] < want-1e-9 || g.volts[0] > want+1e-9 {
			t.Errorf("never above %g V: protected at %v V, want %g", most, g.volts, want)
		}
	}
}
