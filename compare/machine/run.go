package machine

import (
	"fmt"
	"math"
	"os"
	"path/filepath"

	"sealworthy/compare"
)

// Outcome is what a sequence came to.
type Outcome struct {
	Events   int
	Breaches []Breach
	At       int // index of the event after which they were seen
	Ready    int // closures that were called ready, over all steps
	Healthy  bool
	Inside   bool // healthy, and each deviation inside the pass region
	Reached  bool // a healthy one that ended in ready
	Why      string
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
	o.Breaches = w.o.breaches(w.kit.plan, w.kit.by, w.build.burns(), cs)
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
			n, k := w.kit.by[f.Group], w.o.of(f.Group)
			effect := k.trueA - whole[f.Group]
			d := math.Abs(effect) / k.off(w.o.meter, n).u
			if k.measured == 0 || k.gross || math.Abs(effect) < n.least {
				continue
			}
			for i, b := range NewTally(0).Near {
				if d < b.Low || d >= b.High {
					continue
				}
				if first.B == "alone" { // no look that could speak for it
					o.Near[i].Read++
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
	o.Healthy, o.Inside = true, w.inside()
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
		if round == 0 {
			for _, g := range w.build.groups() {
				if err := w.Do(Event{Rework, g, "stays", 0}); err != nil {
					return err
				}
			}
		}
		if err := w.Do(Event{Measure, "all", "looks", 0}); err != nil {
			return err
		}
		cs, err := w.hold(o)
		if err != nil || len(o.Breaches) > 0 {
			return err
		}
		o.Reached, o.Why = true, ""
		for _, c := range cs {
			if c.Verdict != compare.ReadyToClose {
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
		if err != nil || kerr != nil || !deviationOf(w.o.meter, a, k.by[g.Name], 10).inside() {
			return false
		}
	}
	return true
}
