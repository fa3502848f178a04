package returns

import (
	"strings"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
)

// What a named place rests on is the least that names it; where somebody spoke of another place, it isn't he who
// decided.
func TestWhatANamedPlaceRestsOn(t *testing.T) {
	cabin, stern := &Cause{Place: "cabin lamps"}, &Cause{Place: "stern lamp"}
	look, client := Seen{Group: "cabin lamps"}, Seen{Group: "stern lamp", Client: true}
	for _, c := range []struct {
		name     string
		all      []Seen
		nothing  *Cause // named by the readings
		own      *Cause // with the look
		together *Cause
		want     Rests
	}{
		{"readings alone", nil, cabin, nil, nil, ByReadings},
		{"readings, and a client who names another place", []Seen{client}, cabin, nil, cabin, ByReadings},
		{"a look", []Seen{look}, nil, cabin, nil, ByLook},
		{"a look that turns it round", []Seen{look}, stern, cabin, nil, ByLook},
		{"a look, and a client", []Seen{look, client}, nil, cabin, cabin, ByLook},
		{"a client alone", []Seen{client}, nil, nil, cabin, ByClient},
		{"a client, where a look left it open", []Seen{look, client}, nil, nil, cabin, ByClient},
		{"nothing but how often it fails", nil, nil, nil, nil, ByOdds},
	} {
		got, err := restsOn(cabin, c.all, func(seen []Seen) (*Cause, error) {
			switch {
			case len(seen) == 0:
				return c.nothing, nil
			case len(seen) < len(c.all) || !seen[len(seen)-1].Client:
				return c.own, nil
			}
			return c.together, nil
		})
		if err != nil || got != c.want {
			t.Errorf("%s: %q, want %q (%v)", c.name, got, c.want, err)
		}
		d := Diagnosis{Verdict: OnePlace, Rests: got}
		if d.Known() != (got == ByReadings || got == ByLook) {
			t.Errorf("%s: known %v", c.name, d.Known())
		}
	}
}

// Two strips of one kind: the readings leave them open, a look names one. With a prior for one of them alone,
// the odds name it, and nothing read does.
func TestALookIsWhatATwinRestsOn(t *testing.T) {
	volts := grid(2, 12.5, 0.75)
	r := testRand(9)
	ls := built(r)
	p, s, pr := referencePlan(ls), asBuilt(ls, volts, r), fault.DefaultPriors().Return
	s.Twins = []Twin{{A: "strip1", B: "strip2"}}
	lib, err := NewLibrary(p, s, "", volts, pr)
	if err != nil {
		t.Fatal(err)
	}
	sweep := otherBench().sweep(ls, volts, r, nil, trueFault{"strip2", fault.OpenBranch, 1})
	of := func(l *Library, all []Seen) *Diagnosis {
		n := DefaultNuisances()
		d, err := l.Diagnose(p, s, &Return{Sweep: sweep, DwellS: 4, Seen: all}, Options{Priors: &pr, Nuisances: &n})
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	if d := of(lib, nil); d.Named != nil || d.Rests != "" {
		t.Fatalf("named without a look: %v, %q", d.Named, d.Rests)
	}
	told, _ := SeenAs(p, s, "strip2: 3 of 12 dark", true)
	for _, all := range [][]Seen{told, append(told, heardOf(p, s, "one of strip1 is dark")...)} {
		if d := of(lib, all); d.Named == nil || d.Named.Place != "strip2" || d.Rests != ByLook {
			t.Errorf("a look at %d: %+v rests on %q", len(all), d.Named, d.Rests)
		}
	}
	odd := *lib
	odd.Hypotheses = nil
	for _, h := range lib.Hypotheses {
		if h.at() == "strip2" {
			h.Prior *= 1000
		}
		odd.Hypotheses = append(odd.Hypotheses, h)
	}
	if d := of(&odd, nil); d.Named == nil || d.Rests != ByOdds || d.Known() {
		t.Errorf("by its prior alone: %+v rests on %q", d.Named, d.Rests)
	}
}

// heardOf is what a client named.
func heardOf(p *plan.Plan, s *Signature, words string) []Seen {
	all, _ := Heard(p, s, words)
	return all
}

// Of a client's words that aren't understood whole what is understood counts, and it's said what isn't.
func TestWordsOfAClientAreNotDropped(t *testing.T) {
	p := referencePlan(built(testRand(8)))
	s := &Signature{Groups: []GroupCurve{{Group: "strip1"}, {Group: "strip2"}}}
	for _, c := range []struct {
		words string
		named int
		dark  bool
		whole bool
	}{
		{"strip2 is dark", 1, true, true},
		{"strip2: dark; I think two of them", 1, true, false},
		{"strip2 is dark, and it smells of fish", 1, true, false},
		{"strip2 crackles", 1, false, false},
		{"something is odd", 0, false, false},
	} {
		all, why := Heard(p, s, c.words)
		if len(all) != c.named || (why == "") != c.whole {
			t.Errorf("%q: %d named, why %q", c.words, len(all), why)
			continue
		}
		if c.named > 0 && (all[0].Look.Saw == look.SomeDark) != c.dark {
			t.Errorf("%q: %+v", c.words, all[0].Look)
		}
		if !c.whole && !strings.Contains(why, c.words) {
			t.Errorf("%q isn't in %q", c.words, why)
		}
	}
}
