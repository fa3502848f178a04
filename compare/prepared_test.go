package compare_test

import (
	"slices"
	"sync"
	"time"

	"sealworthy/compare"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"

	"sealworthy/capture"
)

// test is what a test of a build needs that neither a fault nor what its pieces are
// like changes: made once for all builds of one plan. Nobody writes to it.
type test struct {
	src          string
	loose, sweep bool

	once     sync.Once
	plan     *plan.Plan
	expected *compare.Expected
	budget   *budget.Budget
	steps    []capture.Step
	err      error
}

// tests keeps the latest few: builds of one plan follow each other.
type tests struct {
	sync.Mutex
	latest []*test
}

const mostKept = 8

var prepared tests

func (h how) stage() string {
	if h.loose {
		return compare.Loose
	}
	return compare.Fitted
}

func (k *tests) of(src string, h how) (*test, error) {
	x := k.find(src, h)
	x.once.Do(x.prepare)
	return x, x.err
}

func (k *tests) find(src string, h how) *test {
	k.Lock()
	defer k.Unlock()
	if i := slices.IndexFunc(k.latest, func(x *test) bool {
		return x.src == src && x.loose == h.loose && x.sweep == h.sweep
	}); i >= 0 {
		return k.latest[i]
	}
	x := &test{src: src, loose: h.loose, sweep: h.sweep}
	if k.latest = append(k.latest, x); len(k.latest) > mostKept {
		k.latest = k.latest[1:]
	}
	return x
}

func (x *test) prepare() {
	if x.plan, x.err = parsed(x.src); x.err != nil {
		return
	}
	x.expected = compare.NewExpected(x.plan)
	if x.budget, x.err = x.expected.At(scene.Scene{Loose: x.loose, LeadsOhm: benchLeads.Ohm,
		LeadsHalfOhm: benchLeads.HalfOhm}); x.err != nil {
		return
	}
	x.steps, x.err = compare.Steps(x.plan, x.budget, compare.StepOptions{Stage: how{loose: x.loose}.stage(),
		JackFuseAmps: 2, SupplyMaxAmps: 3, MeterWindow: 100 * time.Millisecond, Sweep: x.sweep})
}
