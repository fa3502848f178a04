package machine

import (
	"fmt"
	"math"
	"os"
	"path/filepath"

	"gonum.org/v1/gonum/stat/distuv"

	"sealworthy/compare"
)

// Outcome is what a sequence came to.
type Outcome struct {
	Events   int        // that were played
	Breaches []Breach   // none: every word was earned
	At       int        // index of the event after which they were seen
	Ready    int        // closures that were called ready, over all steps
	Healthy  bool       // at the end nothing is wrong with the model
	Inside   bool       // healthy, and each deviation inside the pass region
	Reached  bool       // a healthy one that ended in ready
	Why      string     // a healthy one isn't ready, in words
	Near     [4]NearBin // as in Tally
	Cried    int        // damage was named where none was done
}

// Play lets a script happen and holds the verdicts after each event; it stops at
// the first breach. A script without one ends with a careful maker who does what
// the program asks: Reached says whether that ends in ready.
func Play(shop *Shop, bench Bench, s Script, defect Defect) (Outcome, error) {
	dir, err := os.MkdirTemp("", "sealworthy-machine-")
	if err != nil {
		return Outcome{}, err
	}
	defer os.RemoveAll(dir)
	w, err := NewWorld(shop, bench, s, filepath.Join(dir, "readings"))
	if err != nil {
		return Outcome{}, err
	}
	w.Defect = defect
	var o Outcome
	for i, e := range s.Events {
		if err := w.Do(e); err != nil {
			return o, fmt.Errorf("event %d, %s: %w", i+1, e, err)
		}
		w.keepHead()
		o.Events, o.At = i+1, i
		if !e.shows() {
			continue
		}
		cs, err := w.hold(&o)
		if err != nil || len(o.Breaches) > 0 {
			return o, err
		}
		if i == 0 {
			if err := w.near(&o, e, cs); err != nil {
				return o, err
			}
		}
	}
	return o, w.end(&o)
}

// shows tells whether an event can change a verdict: what happens to the model or
// to the clock is seen at the next reading.
func (e Event) shows() bool {
	return e.Verb != Touch && e.Verb != Clock && e.Verb != Stage
}

// hold judges and asks the oracle.
func (w *World) hold(o *Outcome) ([]compare.ClosureFinding, error) {
	cs, err := w.Verdicts()
	if err != nil {
		return nil, err
	}
	for _, c := range cs {
		if c.Verdict == compare.ReadyToClose {
			o.Ready++
		}
	}
	if w.damaged && len(w.o.damage) == 0 && !w.o.words {
		o.Cried++
	}
	o.Breaches = w.o.breaches(w.kit.plan, w.kit.by, w.built, w.build.burn(), cs)
	return cs, nil
}

// near counts faults by their size after the first test of all: what each made of
// its group's draw, in units of the uncertainty that the rule goes by.
func (w *World) near(o *Outcome, first Event, cs []compare.ClosureFinding) error {
	whole, err := w.truth.without()
	if err != nil {
		return err
	}
	for _, c := range cs {
		for _, f := range c.Groups {
			n, m := w.kit.by[f.Group], w.o.of(f.Group).at[w.kit.plan.Jacks[0].Volts]
			effect := m.trueA - whole[f.Group]
			u := m.off(w.o.meter, n).u
			if m.when == 0 || m.gross {
				continue
			}
			d := math.Abs(effect) / u
			for i, b := range NewTally(0).Near {
				if d < b.Low || d >= b.High {
					continue
				}
				if first.B == "alone" { // no look that could speak for it
					o.Near[i].Read++
					o.Near[i].Lets += distuv.UnitNormal.CDF(n.least/u - ruleGuard - d)
					if f.Verdict == compare.InBand {
						o.Near[i].Passed++
					}
				}
				if c.Verdict == compare.ReadyToClose {
					o.Near[i].Ready++
				}
			}
		}
	}
	return nil
}

// careful is how often a careful maker goes round before he gives up.
const careful = 3

// end plays the careful maker of a healthy model: he puts the plan right, answers
// damage with a retest, says what was touched, measures all and looks.
func (w *World) end(o *Outcome) error {
	if !w.truth.Healthy() || w.o.words {
		return nil
	}
	o.Healthy, o.Inside = true, w.inside() && !w.untellable // what he put right there he takes by choice
	w.truth.counts = true
	if w.stage == compare.Loose {
		w.stage = compare.Fitted
	}
	if err := w.edit(Event{Verb: Edit, B: "undo"}); err != nil {
		return err
	}
	for round := range careful {
		if err := w.Do(Event{Answer, "retest", "", 0}); err != nil {
			return err
		}
		if err := w.Do(Event{Tick, "", "", 0}); err != nil {
			return err
		}
		if round == 0 {
			for _, g := range w.build.groups() {
				if err := w.Do(Event{Rework, g, "stays", 0}); err != nil {
					return err
				}
			}
			w.untold = nil
		}
		if err := w.Do(Event{Measure, "all", "looks", 0}); err != nil {
			return err
		}
		if err := w.Do(Event{Nothing, "", "", 0}); err != nil {
			return err
		}
		cs, err := w.hold(o)
		if err != nil || len(o.Breaches) > 0 {
			return err
		}
		o.Reached, o.Why = true, ""
		for _, c := range cs {
			if c.Verdict != compare.ReadyToClose && o.Reached { // inner ones come first
				o.Reached, o.Why = false, fmt.Sprintf("%s: %s %q", c.Closure, c.Verdict, c.Reasons)
			}
		}
		if o.Reached {
			return nil
		}
	}
	return nil
}

// inside tells whether each group's deviation passes by current alone.
func (w *World) inside() bool {
	for _, g := range w.truth.plan.Groups {
		v := w.truth.plan.Jacks[0].Volts
		a, err := w.truth.draw(g.Name, v)
		k, kerr := w.shop.kit(w.first)
		if err != nil || kerr != nil || !deviationOf(w.o.meter, a, 0, k.by[g.Name], 10).inside() {
			return false
		}
	}
	return true
}

// perShape is how many sequences play on one build: a judge keeps what it worked
// out for it.
const perShape = 20

// shapeOf is the build that a sequence plays on.
func shapeOf(shop *Shop, seed uint64) Build {
	for shape := seed / perShape * 7; ; shape++ {
		if b := DrawBuild(shape); Fit(shop, b) {
			return b
		}
	}
}

// Sequence is the script of a seed.
func Sequence(shop *Shop, seed uint64) Script { return DrawScript(shapeOf(shop, seed), seed) }

// Reporter is where failures go: a test, whose Helper, Logf, Errorf and Fatal are these.
type Reporter interface {
	Helper()
	Logf(format string, a ...any)
	Errorf(format string, a ...any)
	Fatal(a ...any)
}

// keepScripts is how many failing sequences are shrunk and printed.
const keepScripts = 40

// PlayMany plays n sequences from where a tally stands and counts them. What breaks a
// rule is shrunk and fails the test. state, when not empty, is a file to which
// the tally is written as it grows.
func PlayMany(t Reporter, bench Bench, tally *Tally, n uint64, state string) {
	t.Helper()
	tally.Seeds = append(tally.Seeds, tally.Next)
	shop := NewShop()
	save := func() {
		if state == "" {
			return
		}
		if err := tally.Save(state); err != nil {
			t.Fatal(err)
		}
	}
	for range n {
		s := Sequence(shop, tally.Next)
		o, err := Play(shop, bench, s, Defect{})
		if err != nil {
			o.Breaches = []Breach{{Rule: RuleMachine, Text: err.Error()}}
		}
		tally.Count(s, o)
		tally.Next++
		if len(o.Breaches) > 0 && len(tally.Scripts) < keepScripts {
			small := shrunk(shop, bench, s, o, Defect{})
			tally.Scripts = append(tally.Scripts, small)
			t.Errorf("%v\nreplay it as compare/machine/testdata/NAME.script:\n%s", o.Breaches[0], small)
		}
		if tally.Sequences%50 == 0 {
			save()
		}
	}
	save()
	if b, ok := tally.TooMany(); ok {
		t.Errorf("of %d faults of d' %.2f to %.2f %d were passed by current, the rule lets %.2f by", b.Read, b.Low,
			b.High, b.Passed, b.Lets)
	}
	if tally.TooFew() {
		t.Errorf("of %d healthy builds inside the pass region %d are ready after all that was asked", tally.Inside,
			tally.InsideReach)
	}
	t.Logf("%v", tally)
}

// RuleMachine is broken by what can't be played at all.
const RuleMachine = "the machine itself"

// shrunk is the smallest script that still breaks the same rule.
func shrunk(shop *Shop, bench Bench, s Script, o Outcome, d Defect) string {
	if o.Breaches[0].Rule != RuleMachine { // there the event that can't be played comes after the last that was
		s.Events = s.Events[:o.At+1]
	}
	return Shrink(s, func(x Script) bool {
		y, err := Play(shop, bench, x, d)
		if err != nil {
			return o.Breaches[0].Rule == RuleMachine
		}
		return len(y.Breaches) > 0 && y.Breaches[0].Rule == o.Breaches[0].Rule
	}).String()
}
