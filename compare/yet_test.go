package compare

import (
	"testing"

	"sealworthy/compare/words"
)

// Who reads a draw beside a band that it lies outside of, and "in band" behind it, reads why.
func TestYetInBand(t *testing.T) {
	f := Finding{Verdict: InBand, Readings: 1, MeasuredA: 0.03899, Band: Band{LowA: 0.0349, HighA: 0.0389, Coverage: 0.95}}
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
	}
}
