package machine

import (
	"fmt"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
)

// kit is all that depends on a plan's text alone, made once: many sequences play
// on one plan, and a judge keeps what it worked out.
type kit struct {
	source string
	plan   *plan.Plan
	judge  *compare.Judge
	by     map[string]nominal
	stages map[string]stageKit
}

type stageKit struct {
	budget *budget.Budget
	steps  []capture.Step
}

// Shop makes kits and keeps the latest. One goroutine uses it.
type Shop struct {
	kits  map[string]*kit
	order []string
}

// shopHolds is how many kits are kept.
const shopHolds = 24

// NewShop gives an empty one.
func NewShop() *Shop { return &Shop{kits: map[string]*kit{}} }

func (s *Shop) kit(b Build) (*kit, error) {
	src := string(b.Source())
	if k, ok := s.kits[src]; ok {
		return k, nil
	}
	p, err := b.Parse()
	if err != nil {
		return nil, err
	}
	k := &kit{source: src, plan: p, stages: map[string]stageKit{}}
	if k.judge, err = compare.NewJudge(compare.NewExpected(p), rule.Default(), compare.Leads{}); err != nil {
		return nil, err
	}
	if k.by, err = nominals(p); err != nil {
		return nil, fmt.Errorf("build %d: %w", b.Shape, err)
	}
	s.kits[src] = k
	s.order = append(s.order, src)
	if len(s.order) > shopHolds {
		delete(s.kits, s.order[0])
		s.order = s.order[1:]
	}
	return k, nil
}

// leadsOf are the leads of a bench: none where readings come straight from the load.
func leadsOf(b Bench) compare.Leads {
	if _, ok := b.(Direct); ok {
		return compare.Leads{}
	}
	return compare.Leads{Ohm: 0.1, HalfOhm: 0.05}
}

// window is the averaging time of the bench's meter.
const window = 100 * time.Millisecond

// at gives the steps of a stage.
func (k *kit) at(stage string) (stageKit, error) {
	if s, ok := k.stages[stage]; ok {
		return s, nil
	}
	bud, err := k.judge.Expected.At(scene.Scene{Loose: stage == compare.Loose})
	if err != nil {
		return stageKit{}, err
	}
	s := stageKit{budget: bud}
	s.steps, err = compare.Steps(k.plan, bud, compare.StepOptions{Stage: stage, JackFuseAmps: 2, SupplyMaxAmps: 3,
		MeterWindow: window})
	if err != nil {
		return stageKit{}, err
	}
	k.stages[stage] = s
	return s, nil
}

// binding tells whether a check of the plan speaks against powering or closing.
func (k *kit) binding(stage string) ([]budget.Check, error) {
	s, err := k.at(stage)
	if err != nil {
		return nil, err
	}
	return s.budget.Binding("", nil), nil
}
