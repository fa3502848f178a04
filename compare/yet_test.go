package compare

import (
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/words"
)

// Who reads a draw beside a band that it lies outside of, and "in band" behind it, reads why.
func TestYetInBand(t *testing.T) {
	f := Finding{Verdict: InBand, Readings: 1, MeasuredA: 0.03899,
		Band: Band{LowA: 0.0349, HighA: 0.0389, Coverage: 0.95}}
	with := func(change func(*Finding)) Finding {
		g := f
		change(&g)
		return g
	}
	for _, c := range []struct {
		name string
		f    Finding
		want string
	}{
		{"nothing is noted", f, words.NotByItAlone},
		{"no light is missing", with(func(g *Finding) { g.Notes = []string{"it's warm", words.EdgeOfBand} }), words.EdgeOfBand},
		{"something else decides", with(func(g *Finding) { g.Notes = []string{words.PassedByLook} }), words.PassedByLook},
		{"below it", with(func(g *Finding) { g.MeasuredA = 0.0348 }), words.NotByItAlone},
		{"inside", with(func(g *Finding) { g.MeasuredA = 0.0388 }), ""},
		{"low", with(func(g *Finding) { g.Verdict = Low }), ""},
		{"not measured", with(func(g *Finding) { g.Readings = 0 }), ""},
		{"as found", with(func(g *Finding) { g.Band.LowA, g.Band.HighA = 0, 0 }), ""},
	} {
		if got := YetInBand(c.f); got != c.want || Say(c.f).Yet != got {
			t.Errorf("%s: %q, said %q, want %q", c.name, got, Say(c.f).Yet, c.want)
		}
		word := string(c.f.Verdict)
		if c.want != "" {
			word = Passed
		}
		if got := c.f.Word(); got != word {
			t.Errorf("%s: the word is %q, want %q", c.name, got, word)
		}
	}
}

// A group through which nothing flows isn't merely low; where the supply gives what the meter
// doesn't read, nobody knows that nothing flows.
func TestWhatDrawsNothingIsSaidSo(t *testing.T) {
	low := Finding{Verdict: Low, Readings: 5, MeasuredA: 0.00001, MeasuredU: 0.00001, ExpectedA: 0.018}
	with := func(change func(*Finding)) Finding {
		g := low
		change(&g)
		return g
	}
	for _, c := range []struct {
		f    Finding
		want string
	}{
		{low, DrawsNothing},
		{with(func(f *Finding) { f.Causes = []Cause{{Name: string(fault.OpenJoint)}} }), DrawsNothing},
		{with(func(f *Finding) { f.Causes = []Cause{{Name: string(fault.MeterLead)}} }), "low"},
		{with(func(f *Finding) { f.MeasuredA = 0.009 }), "low"},
		{with(func(f *Finding) { f.MeasuredU = 0.008 }), "low"}, // it might be anything
		{with(func(f *Finding) { f.Board = "beacon" }), "low"},
		{with(func(f *Finding) { f.Verdict = CantTell }), "can't tell"},
	} {
		if got, said := c.f.Word(), Say(c.f).Word; got != c.want || said != got {
			t.Errorf("%+v: the word is %q, said %q, want %q", c.f, got, said, c.want)
		}
	}
}

// A closure is ready by groups that passed outside of their bands only in so many words.
func TestReadySaysWhatPassedOutsideItsBand(t *testing.T) {
	in := Finding{Group: "saloon", Verdict: InBand, Readings: 1, MeasuredA: 0.067,
		Band: Band{LowA: 0.066, HighA: 0.076, Coverage: 0.95}}
	out := in
	out.Group, out.MeasuredA, out.Notes = "gallery lamps", 0.077, []string{words.PassedByLook}
	var w weigher
	items := []Item{{Kind: ItemGroup}}
	v, why := w.result(ClosureFinding{Groups: []Finding{in}, Items: items}, true)
	if v != ReadyToClose || len(why) != 1 || why[0] != "every group is in band and on pace, and was looked at" {
		t.Errorf("all in band: %s, %q", v, why)
	}
	v, why = w.result(ClosureFinding{Groups: []Finding{in, out}, Items: items}, true)
	if v != ReadyToClose || len(why) != 2 || why[0] != "every group passed, is on pace, and was looked at" ||
		why[1] != "gallery lamps: outside of its band, "+words.PassedByLook {
		t.Errorf("one outside: %s, %q", v, why)
	}
}

// A voltage at which nothing is expected and nothing flows isn't told; one at which something is missing is.
func TestNothingWhereNothingIsExpected(t *testing.T) {
	for _, x := range []struct {
		measuredA, expectedA float64
		want                 bool
	}{{-1e-5, 0, true}, {4e-5, 0, true}, {0, 2e-3, false}, {2e-3, 0, false}} {
		if got := (Also{MeasuredA: x.measuredA, ExpectedA: x.expectedA}).Nothing(); got != x.want {
			t.Errorf("%g A where %g A is expected: %v", x.measuredA, x.expectedA, got)
		}
	}
}
