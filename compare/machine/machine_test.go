package machine

import (
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"
)

// long runs the full size of the statistics.
func long() bool { return os.Getenv("SEALWORTHY_LONG") != "" }

// number reads a number from the environment.
func number(t *testing.T, name string, otherwise uint64) uint64 {
	t.Helper()
	s := os.Getenv(name)
	if s == "" {
		return otherwise
	}
	n, err := strconv.ParseUint(s, 10, 64)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return n
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

// awaited are the rules that the tree doesn't keep yet: what breaks them is
// counted and printed, and fails nothing.
var awaited = []string{RuleMeasured, RuleLooked, RuleSeen, RuleDamage, RuleWords, RuleBurns, RuleHidden, "the machine itself"}

// TestReadyIsEarned plays random sequences, with readings drawn from the load
// straight into the record, against the oracle. SEALWORTHY_SEED begins at a seed,
// SEALWORTHY_SEQUENCES says how many, SEALWORTHY_MACHINE_STATE names a file to
// go on from.
func TestReadyIsEarned(t *testing.T) {
	seed, n := uint64(1), uint64(300)
	if long() {
		seed, n = rand.Uint64N(1<<40), 200_000
	}
	seed, n = number(t, "SEALWORTHY_SEED", seed), number(t, "SEALWORTHY_SEQUENCES", n)
	tally, state := NewTally(seed), os.Getenv("SEALWORTHY_MACHINE_STATE")
	if state != "" {
		var err error
		if tally, err = LoadTally(state, seed); err != nil {
			t.Fatal(err)
		}
	}
	tally.Seeds = append(tally.Seeds, tally.Next)
	shop := NewShop()
	for range n {
		s := DrawScript(shapeOf(shop, tally.Next), tally.Next)
		o, err := Play(shop, Direct{}, s, nil)
		if err != nil {
			say := t.Errorf
			if slices.Contains(awaited, "the machine itself") {
				say = t.Logf
			}
			say("%v\n%s", err, s)
			o.Breaches = []Breach{{Rule: "the machine itself"}}
		}
		tally.Count(s, o)
		tally.Next++
		if len(o.Breaches) > 0 && len(tally.Scripts) < 40 && !slices.Contains(awaited, o.Breaches[0].Rule) {
			small := shrunk(shop, s, o, nil)
			tally.Scripts = append(tally.Scripts, small)
			t.Errorf("%v\nreplay it as compare/machine/testdata/NAME.script:\n%s", o.Breaches[0], small)
		}
		if state != "" && tally.Sequences%100 == 0 {
			if err := tally.Save(state); err != nil {
				t.Fatal(err)
			}
		}
	}
	if state != "" {
		if err := tally.Save(state); err != nil {
			t.Fatal(err)
		}
	}
	t.Log(tally)
}

// shrunk is the smallest script that still breaks the same rule.
func shrunk(shop *Shop, s Script, o Outcome, d Defect) string {
	s.Events = s.Events[:o.At+1]
	return Shrink(s, func(x Script) bool {
		y, err := Play(shop, Direct{}, x, d)
		return err == nil && len(y.Breaches) > 0 && y.Breaches[0].Rule == o.Breaches[0].Rule
	}).String()
}
