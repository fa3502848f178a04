package belief

import (
	"math"
	"math/rand/v2"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/wiring"
)

// judged judges each group by what the others say, too, by name.
func judged(t *testing.T, all All, ms []Measured) map[string]Result {
	t.Helper()
	out := map[string]Result{}
	for i, m := range ms {
		r, err := m.Ensemble.Given(all.Others[i]).Posterior(m.Readings, m.Look)
		if err != nil {
			t.Fatal(err)
		}
		sum := r.None + r.Unknown + r.Above
		for _, c := range r.Classes {
			sum += c.P
		}
		if math.Abs(sum-1) > 1e-5 {
			t.Errorf("%s: the probabilities add up to %g", m.Ensemble.Groups[0], sum)
		}
		out[m.Ensemble.Groups[0]] = r
	}
	return out
}

// TestWhatStandsAboveAGroupIsInItsProbability: one weighing. A group behind a joint that is
// surely bad isn't healthy, also where its own doubt hides it; one elsewhere, or one that hangs
// elsewhere than planned, is as healthy as it was.
func TestWhatStandsAboveAGroupIsInItsProbability(t *testing.T) {
	p := ship(t)
	b := newBuild(t, p, rand.New(rand.NewPCG(7, 7)))
	loose, good := b.measure(t, true), b.measure(t, false)
	together := func(ms []Measured) (All, map[string]Result) {
		t.Helper()
		all, err := Together(p, ms, fault.DefaultPriors().Common)
		if err != nil {
			t.Fatal(err)
		}
		return all, judged(t, all, ms)
	}
	_, before := together(since(loose, good))
	for name, r := range before {
		if r.Above > 0.02 {
			t.Errorf("nothing is wrong: %q has %.3f above it", name, r.Above)
		}
	}
	b.joint = func(w *wiring.Wired) { w.JointSeries(jointOf(t, p, "deck plate"), 12) }
	ms := since(loose, b.measure(t, false))
	all, after := together(ms)
	if !all.Alarm {
		t.Fatalf("no alarm: %+v", all.Above)
	}
	for _, name := range all.Causes[0].Shows {
		if r := after[name]; r.None > 0.05 || math.Abs(r.Above-all.Causes[0].P) > 0.05 {
			t.Errorf("%q shows it: healthy %.3f, above it %.3f, the cause has %.3f", name, r.None, r.Above,
				all.Causes[0].P)
		}
	}
	// 6.3 mA of doubt hide what it loses.
	if r := after["galley lamps"]; r.None > 0.05 {
		t.Errorf("the galley lamps hang behind it: healthy %.3f", r.None)
	}
	for _, name := range []string{"cabin windows", "engine room", "anchor light"} {
		if r := after[name]; r.Above > 0.01 || r.None < before[name].None-0.02 {
			t.Errorf("%q hangs elsewhere: healthy %.3f, was %.3f, above it %.3f", name, r.None, before[name].None,
				r.Above)
		}
	}
	// The saloon draws as planned behind an open joint: it doesn't hang there.
	b.joint = func(w *wiring.Wired) { w.JointSeries(jointOf(t, p, "deck plate"), math.Inf(1)) }
	ms = b.measure(t, false)
	for i, m := range ms {
		if m.Ensemble.Groups[0] == "saloon" {
			ms[i] = good[i]
		}
	}
	if _, r := together(ms); r["saloon"].None < 0.9 || r["chart table"].None > 0.01 {
		t.Errorf("healthy: saloon %.3f, chart table %.3f", r["saloon"].None, r["chart table"].None)
	}
}
