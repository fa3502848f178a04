package look

import (
	"math"
	"testing"
)

// What may be said of lights adds up to 1, however they are; what fits them is the
// likeliest, and a client's word weighs less than a maker's.
func TestWhatIsSawnOfLightsIsAProbability(t *testing.T) {
	r := DefaultRates()
	for _, x := range []struct {
		name  string
		is    Lights
		first Look
	}{
		{"all lit", Lights{Of: 6}, Look{Saw: AllLit}},
		{"one dark", Lights{Dark: 1, Of: 6}, Look{Saw: SomeDark, Dark: 1}},
		{"all dark", Fed(0.01, 6), Look{Saw: SomeDark, Dark: 6}},
		{"all dim", Fed(0.3, 6), Look{Saw: Otherwise, What: Dim}}, // about as often overlooked as seen
		{"flickers", Lights{Of: 6, MayFlicker: 1}, Look{Saw: Otherwise, What: Flickers}},
	} {
		all := []Look{{Saw: AllLit}, {Saw: Otherwise, What: Dim}, {Saw: Otherwise, What: Flickers}}
		for n := 1; n <= x.is.Of; n++ {
			all = append(all, Look{Saw: SomeDark, Dark: n})
		}
		sum, fits := 0.0, math.Exp(r.LogSaw(x.first, x.is))
		for _, l := range all {
			p := r.saw(l, x.is)
			sum += p
			if p > fits+1e-12 {
				t.Errorf("%s: %+v is likelier than %+v", x.name, l, x.first)
			}
		}
		if sum < 0.95 || sum > 1.05 {
			t.Errorf("%s: all answers together %.3f", x.name, sum)
		}
	}
	dark, lit := Lights{Dark: 1, Of: 6}, Lights{Of: 6}
	said := Look{Saw: SomeDark, Dark: 1}
	if maker, client := r.LogSaw(said, dark)-r.LogSaw(said, lit),
		r.LogHeard(said, dark)-r.LogHeard(said, lit); !(client > 2 && maker > client+1) {
		t.Errorf("a maker's word weighs %.1f, a client's %.1f", maker, client)
	}
	if r.LogSaw(Look{Saw: Otherwise, What: NotSeen}, dark) != 0 || r.LogHeard(Look{}, dark) != 0 {
		t.Error("what can't be seen says something")
	}
}

// A look is believed alike at the bench and at a return: of a dim light either hears as
// seldom that all is right.
func TestALookWeighsAlikeAtTheBench(t *testing.T) {
	r := DefaultRates()
	for _, is := range []Lights{{Of: 6}, {Dark: 1, Of: 6}, {Dim: 1, Of: 6}, {Dark: 1, Dim: 2, Of: 6}} {
		for _, l := range []Look{{Saw: AllLit}, {Saw: SomeDark, Dark: 1}} {
			if a, b := r.LogOf(l, is.Dark, is.Dim, is.Of), r.LogSaw(l, is); math.Abs(a-b) > 1e-12 {
				t.Errorf("%+v of %+v: %.3f, at a return %.3f", l, is, a, b)
			}
		}
	}
	if p := math.Exp(r.LogOf(Look{Saw: AllLit}, 0, 1,
		6)); math.Abs(p-(1-r.Invented)*(1-r.DimIsDark)*r.DimOverlooked) > 1e-12 {
		t.Errorf("one dim is called all right with %.3f", p)
	}
}
