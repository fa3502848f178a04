package compare_test

import (
	"testing"

	"sealworthy/compare/plan"
)

func TestRP(t *testing.T) {
	for seed := range uint64(300) {
		src := randomPlan(seed)
		p, problems := plan.Parse("plan.toml", []byte(src))
		if len(problems) > 0 {
			t.Fatalf("%d: %v\n%s", seed, problems[0], src)
		}
		for _, x := range p.Warnings {
			t.Log(x.What)
		}
	}
}
