package compare

import (
	"fmt"
	"slices"
	"strings"

	"sealworthy/compare/belief"
	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/wiring"
)

// weighed is what an evidence says.
type weighed struct {
	result   belief.Result
	decision belief.Decision
	ensemble *belief.Ensemble
	suspects bool
}

// weigh computes the probabilities after all that was read and seen.
func (j *Judge) weigh(e *evidence, eye look.Look) (weighed, error) {
	w, err := j.weighBy(e, eye, false)
	if err != nil || w.decision.Verdict == belief.Pass || len(e.groups) != 1 {
		return w, err
	}
	// Where it doesn't pass, the plan is a suspect, too.
	return j.weighBy(e, eye, true)
}

func (j *Judge) weighBy(e *evidence, eye look.Look, suspects bool) (weighed, error) {
	x, err := j.ensemble(e, suspects)
	if err != nil {
		return weighed{}, err
	}
	w := weighed{ensemble: x, suspects: suspects}
	if w.result, err = x.Posterior(e.readings, eye); err != nil {
		return weighed{}, err
	}
	w.decision, err = x.Decide(e.readings, eye, j.Rule.K, j.Rule.Guard)
	return w, err
}

// ensemble is kept by what it depends on: the same group is judged again after
// each step, and after a look.
func (j *Judge) ensemble(e *evidence, suspects bool) (*belief.Ensemble, error) {
	var volts []float64
	for _, r := range e.readings {
		volts = append(volts, r.Volts)
	}
	t := "?"
	if e.bench.AmbientC != nil {
		t = fmt.Sprint(*e.bench.AmbientC)
	}
	b := e.bench
	b.AmbientC = nil
	key := fmt.Sprint(strings.Join(e.groups, "\x00"), volts, b, t, e.loose, suspects)
	j.mu.Lock()
	defer j.mu.Unlock()
	if x, ok := j.ensembles[key]; ok && e.learned == nil {
		return x, nil
	}
	if x, ok := e.own[suspects]; ok && slices.Equal(x.Volts, volts) {
		return x, nil
	}
	p := j.Expected.Plan
	if e.loose {
		p = wiring.Loose(p)
	}
	o := belief.Options{Priors: j.Priors, Learned: e.learned}
	if suspects {
		o.Suspects = fault.Suspects(p, j.source(e), e.groups[0], j.PlanOptions, j.priors().Plan)
	}
	x, err := belief.New(p, e.groups, volts, e.bench, o)
	if err != nil {
		return nil, err
	}
	if e.learned != nil {
		if e.own == nil {
			e.own = map[bool]*belief.Ensemble{}
		}
		e.own[suspects] = x
		return x, nil
	}
	if j.ensembles == nil {
		j.ensembles = map[string]*belief.Ensemble{}
	}
	j.ensembles[key] = x
	return x, nil
}

// source is the plan's file, where it stands for what was measured: parts that
// are clipped loose are another circuit.
func (j *Judge) source(e *evidence) []byte {
	if e.loose {
		return nil
	}
	return j.PlanSource
}
