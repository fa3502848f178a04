package compare_test

import (
	"context"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"sync"
	"testing"

	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/plan"
)

// faultInTurn is a fault of the first or second output of a board, by kind.
func faultInTurn(p *plan.Plan, kind fault.Kind, r *rand.Rand) (fault.Fault, bool) {
	var fit []fault.Fault
	for _, g := range p.Groups {
		for _, f := range fault.Possible(p, g) {
			if f.Kind == kind {
				fit = append(fit, f)
			}
		}
	}
	if len(fit) == 0 {
		return fault.Fault{}, false
	}
	return fit[r.IntN(len(fit))], true
}

// turns counts what is said of boards whose outputs run in turn.
type turns struct {
	sync.Mutex
	rows    map[string]map[compare.Verdict]int // by what was seeded; of the group itself
	boards  int
	odd     []string
	passed  map[string]int // faults of d' 3.29 and more, of which every row is in band
	faults  map[string]int
	untold  map[string]int // why healthy rows can't be told
	verdict [2]int         // healthy rows: can't tell, all
}

func (c *turns) count(t *testing.T, m model) {
	c.Lock()
	defer c.Unlock()
	kind := "healthy"
	if m.fault != nil {
		kind = string(m.fault.Kind)
	} else {
		c.boards++
	}
	all, far, rows := true, false, 0
	for _, cl := range m.closures {
		for _, f := range cl.Groups {
			if !blinksAt(m.plan, f) {
				continue
			}
			if m.fault != nil && f.Group != m.fault.Group {
				if bad(f.Verdict) {
					c.odd = append(c.odd, fmt.Sprintf("board %d, beside %+v: %s", m.seed, *m.fault, inWords(f)))
				}
				continue
			}
			if c.rows[kind] == nil {
				c.rows[kind] = map[compare.Verdict]int{}
			}
			c.rows[kind][f.Verdict]++
			rows++
			all = all && f.Verdict == compare.InBand
			if m.fault == nil {
				c.verdict[1]++
				if z := math.Abs(f.MeasuredA-f.ExpectedA) / math.Hypot(f.ExpectedU, f.MeasuredU); !(z < 6) {
					t.Errorf("board %d: figures of two things side by side: %s", m.seed, inWords(f))
				}
				if f.Verdict == compare.CantTell {
					c.verdict[0]++
					why := f.Why
					if why == "" && len(f.Settle) > 0 {
						why = f.Settle[0]
					}
					c.untold[why]++
				}
				if f.Verdict != compare.InBand {
					c.odd = append(c.odd, fmt.Sprintf("board %d, healthy: %s", m.seed, inWords(f)))
				}
				continue
			}
			effect, ok := m.effect(t, f)
			far = far || !ok || paceFault(m.fault.Kind) ||
				math.Abs(effect) >= 3.29*math.Hypot(f.ExpectedU, f.MeasuredU)
		}
	}
	if m.fault == nil || rows == 0 || !far {
		return
	}
	c.faults[kind]++
	if all {
		c.passed[kind]++
		c.odd = append(c.odd, fmt.Sprintf("board %d passed with %+v", m.seed, *m.fault))
		for _, f := range m.closures[0].Groups {
			c.odd = append(c.odd, "  "+inWords(f))
		}
	}
}

// check holds what is said of healthy and faulty boards to rates that chance leaves
// room for: three standard deviations of a binomial count.
func (c *turns) check(t *testing.T) {
	t.Helper()
	if over(c.verdict[0], c.verdict[1], mostUntold) {
		t.Errorf("%d of %d healthy rows can't be told, at most %.0f %%", c.verdict[0], c.verdict[1], 100*mostUntold)
	}
	wrong := 0
	for v, n := range c.rows["healthy"] {
		if bad(v) {
			wrong += n
		}
	}
	if over(wrong, c.verdict[1], 0.01) {
		t.Errorf("%d of %d healthy rows were called wrong", wrong, c.verdict[1])
	}
	for k, n := range c.passed {
		rate := 0.05
		if paceFault(fault.Kind(k)) {
			rate = 0
		}
		if over(n, c.faults[k], rate) {
			t.Errorf("%s: %d of %d passed", k, n, c.faults[k])
		}
	}
}

// mostUntold of healthy rows of boards in turn.
const mostUntold = 0.10

func paceFault(k fault.Kind) bool { return k == fault.Overloaded || k == fault.StuckDark }

func blinksAt(p *plan.Plan, f compare.Finding) bool {
	for _, b := range p.Boards {
		for _, q := range b.Paces {
			if b.Name == f.Board && q.Name == f.Pace {
				return !q.Steady()
			}
		}
	}
	return false
}

// upperBound is the upper 95 % bound of a rate (Clopper and Pearson 1934).
func upperBound(k, n int) float64 {
	lo, hi := float64(k)/float64(max(n, 1)), 1.0
	for range 60 {
		mid := (lo + hi) / 2
		below := 0.0 // P(at most k)
		for i := range k + 1 {
			g, _ := math.Lgamma(float64(n + 1))
			a, _ := math.Lgamma(float64(i + 1))
			b, _ := math.Lgamma(float64(n - i + 1))
			below += math.Exp(g - a - b + float64(i)*math.Log(mid) + float64(n-i)*math.Log1p(-mid))
		}
		if below > 0.05 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// TestOutputsInTurn: boards of two outputs in turn, drawn at random, healthy and
// with each kind of fault, judged by current alone.
func TestOutputsInTurn(t *testing.T) {
	if raceEnabled {
		t.Skip("statistics run without the race detector")
	}
	for _, h := range []how{{law: load.PlanLaw}, {law: load.OtherLaw}} {
		t.Run(string(h.law), func(t *testing.T) { outputsInTurn(t, h) })
	}
}

func outputsInTurn(t *testing.T, h how) {
	n, first := 8, uint64(1)
	if os.Getenv("SEALWORTHY_LONG") != "" {
		n, first = 100, rand.Uint64()>>16
	}
	if s := os.Getenv("SEALWORTHY_BOARDS"); s != "" {
		fmt.Sscan(s, &n, &first)
	}
	c := &turns{rows: map[string]map[compare.Verdict]int{}, passed: map[string]int{}, faults: map[string]int{},
		untold: map[string]int{}}
	kinds := []fault.Kind{"", fault.Overloaded, fault.StuckDark, fault.OpenBranch, fault.ExtraBranch}
	t.Run("boards", func(t *testing.T) {
		for i := range uint64(n) {
			t.Run("", func(t *testing.T) {
				t.Parallel()
				src := planInTurn(first + i)
				p, err := parsed(src)
				if err != nil {
					t.Fatal(err)
				}
				r := rand.New(rand.NewPCG(first+i, 0x7a18))
				for _, k := range kinds {
					var f *fault.Fault
					if k != "" {
						x, ok := faultInTurn(p, k, r)
						if !ok {
							continue
						}
						f = &x
					}
					m, err := measured(context.Background(), first+i, src, f, h)
					if err != nil {
						t.Fatalf("board %d, %s: %v", first+i, k, err)
					}
					if m, err = m.judged(2); err != nil {
						t.Fatal(err)
					}
					c.count(t, m)
				}
			})
		}
	})
	for _, x := range c.odd {
		t.Log(x)
	}
	for _, k := range slices.Sorted(maps.Keys(c.rows)) {
		t.Logf("%-16s rows %v; passed %d of %d, at most %.1f %%", k, c.rows[k], c.passed[k], c.faults[k],
			100*upperBound(c.passed[k], c.faults[k]))
	}
	for _, k := range slices.Sorted(maps.Keys(c.untold)) {
		t.Logf("can't tell %3d: %s", c.untold[k], k)
	}
	c.check(t)
	t.Logf("from %d: healthy boards %d, rows %d, can't tell %d (%.0f %%)", first, c.boards, c.verdict[1], c.verdict[0],
		percentOf(c.verdict[0], c.verdict[1]))
}
