package main

import (
	"context"
	"io"
	"math"
	"os"
	"slices"
	"sync"
	"testing"

	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

// long runs the full size of a statistics test.
func long() bool { return os.Getenv("SEALWORTHY_LONG") != "" }

// tally counts what the whole program says of simulated models.
type tally struct {
	sync.Mutex
	seeded, found, named, untold         int // faults
	healthy, falseAlarm, cantTell        int // rows of healthy groups
	dropped, droppedInBand, droppedFound int // groups with their smallest branch gone
	missed                               []string
}

// TestFindingsOverManyModels runs the whole test of the demo build, over its
// ports in simulated time, on models that differ by seed: tolerances, device
// model, instruments, places of faults. Every tenth of the models has a
// smallest branch dropped in each closure instead of the demo's two faults.
func TestFindingsOverManyModels(t *testing.T) {
	if raceEnabled {
		t.Skip("statistics run without the race detector")
	}
	n := 3
	if long() {
		n = 200
	}
	var sum tally
	t.Run("models", func(t *testing.T) {
		for seed := range n {
			t.Run("", func(t *testing.T) {
				t.Parallel()
				sum.model(t, uint64(seed+1), false)
			})
			t.Run("dropped", func(t *testing.T) {
				t.Parallel()
				sum.model(t, uint64(seed+1), true)
			})
		}
	})
	t.Logf("%d models: %d faults seeded, %d found, %d of them named first, %d can't tell; missed: %v",
		2*n, sum.seeded, sum.found, sum.named, sum.untold, sum.missed)
	t.Logf("healthy rows: %d, called low, high, stuck or off pace %d (%.2f %%), can't tell %d (%.1f %%)",
		sum.healthy, sum.falseAlarm, percent(sum.falseAlarm, sum.healthy), sum.cantTell,
		percent(sum.cantTell, sum.healthy))
	t.Logf("smallest branch dropped in %d groups: in band %d (%.1f %%), found %d (%.1f %%)",
		sum.dropped, sum.droppedInBand, percent(sum.droppedInBand, sum.dropped), sum.droppedFound,
		percent(sum.droppedFound, sum.dropped))
	if sum.found < sum.seeded {
		t.Errorf("%d of %d seeded faults were not found", sum.seeded-sum.found, sum.seeded)
	}
	if sum.named < sum.seeded {
		t.Errorf("%d of %d seeded faults were not named first", sum.seeded-sum.named, sum.seeded)
	}
	// Small runs can't tell 1 % from 5 %: allow for their scatter (3 sd, binomial).
	if limit := 0.01 + 0.3/float64(sum.healthy); float64(sum.falseAlarm) > limit*float64(sum.healthy)+
		3*math.Sqrt(limit*float64(sum.healthy)) {
		t.Errorf("%d of %d healthy rows were called wrong", sum.falseAlarm, sum.healthy)
	}
	if float64(sum.droppedInBand) > 0.05*float64(sum.dropped)+3*math.Sqrt(0.05*float64(sum.dropped)) {
		t.Errorf("%d of %d dropped branches were called in band", sum.droppedInBand, sum.dropped)
	}
}

func percent(n, of int) float64 {
	if of == 0 {
		return 0
	}
	return 100 * float64(n) / float64(of)
}

// model measures one model and counts what was said of it.
func (s *tally) model(t *testing.T, seed uint64, drop bool) {
	e := env{stdin: nil, stdout: io.Discard, stderr: io.Discard, getenv: func(string) string { return "" }}
	b, err := unpack(e, t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	faults, err := demoFaults(b.plan, seed)
	if drop {
		faults, err = dropOne(b.plan, seed)
	}
	if err != nil {
		t.Fatal(err)
	}
	cfg, err := b.readBench()
	if err != nil {
		t.Fatal(err)
	}
	if err := simulate(context.Background(), e, b, cfg, faults, seed, true, compare.Fitted); err != nil {
		t.Fatal(err)
	}
	cs, _, err := b.findings(e, "", compare.Leads{Ohm: cfg.Leads.Ohms, HalfOhm: cfg.Leads.HalfWidthOhm})
	if err != nil {
		t.Fatal(err)
	}
	s.Lock()
	defer s.Unlock()
	for _, c := range cs {
		for _, f := range c.Groups {
			s.row(seed, f, faults, drop)
		}
	}
}

func (s *tally) row(seed uint64, f compare.Finding, faults []fault.Fault, drop bool) {
	i := slices.IndexFunc(faults, func(x fault.Fault) bool { return x.Group == f.Group })
	bad := f.Verdict != compare.InBand && f.Verdict != compare.CantTell
	switch {
	case i < 0:
		s.healthy++
		if bad {
			s.falseAlarm++
			s.missed = append(s.missed, "false alarm: "+f.Group+" "+f.Pace+" "+string(f.Verdict))
		}
		if f.Verdict == compare.CantTell {
			s.cantTell++
		}
	case drop:
		s.dropped++
		if f.Verdict == compare.InBand {
			s.droppedInBand++
			s.missed = append(s.missed, "dropped, in band: "+f.Group+" "+f.Pace)
		}
		if bad {
			s.droppedFound++
		}
	default:
		s.seeded++
		if bad {
			s.found++
		} else {
			s.missed = append(s.missed, "not found: "+faults[i].String()+": "+string(f.Verdict))
		}
		kind := string(faults[i].Kind)
		if bad && len(f.Causes) > 0 && (f.Causes[0].Name == kind || slices.Contains(f.Causes[0].Kinds, kind)) {
			s.named++
		} else if bad {
			s.missed = append(s.missed, "not named: "+faults[i].String())
		}
	}
}

// dropOne opens one branch in a group of each closure: its smallest loss.
func dropOne(p *plan.Plan, seed uint64) ([]fault.Fault, error) {
	var out []fault.Fault
	for i, c := range p.Closures {
		var fit []fault.Fault
		for _, g := range p.Groups {
			if g.Closure != c.Name {
				continue
			}
			for _, f := range fault.Possible(p, g) {
				if f.Kind == fault.DarkSegment || f.Kind == fault.OpenBranch {
					fit = append(fit, f)
					break
				}
			}
		}
		if len(fit) > 0 {
			out = append(out, fit[(int(seed)+i)%len(fit)])
		}
	}
	return out, nil
}
