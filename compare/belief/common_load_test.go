package belief

import (
	"math/rand/v2"
	"os"
	"slices"
	"testing"
	"time"

	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/words"
	"sealworthy/instruments/rig"
)

// loadReadings reads each group of the simulated model alone, as a meter of 0.2 % would.
func loadReadings(t *testing.T, l *load.Load, es []*Ensemble, r *rand.Rand) []Measured {
	t.Helper()
	gain := 1 + 0.002*(2*r.Float64()-1)
	var out []Measured
	for _, e := range es {
		if e == nil {
			continue
		}
		at := slices.Index(l.Terminals(), e.Groups[0])
		if at < 0 {
			continue // on a board: its step is read out of a trace
		}
		on := make([]bool, len(l.Terminals()))
		on[at] = true
		a := l.Current(rig.State{Volts: 12, Since: 5 * time.Second, On: on}) * gain
		out = append(out, Measured{Ensemble: e, Readings: []Reading{meterReads(12, a, 0.002)}})
	}
	if l.Err() != nil {
		t.Fatal(l.Err())
	}
	return out
}

// TestSimulatedModel: the demo's model as the simulated bench feels it, with
// errors that the budget doesn't know, healthy, with a fault in one group, and
// with one above the groups.
func TestSimulatedModel(t *testing.T) {
	if underRace {
		t.Skip("statistics run without the race detector")
	}
	n := uint64(8)
	if os.Getenv("SEALWORTHY_LONG") != "" {
		n = 200
	}
	p := ship(t)
	es := everyGroup(t, p, 0, 12)
	var healthy, single, named, ups int
	for seed := range n {
		r := rand.New(rand.NewPCG(seed, 3))
		model := func(fs ...fault.Fault) Above {
			l, err := load.New(p, fs, seed, load.Options{})
			if err != nil {
				t.Fatal(err)
			}
			return find(t, p, loadReadings(t, l, es, r))
		}
		if res := model(); res.Alarm {
			healthy++
			t.Logf("%d healthy: %.2f %s", seed, res.Causes[0].P, said(res.Causes[0]))
		}
		g := p.Groups[r.IntN(len(p.Groups))]
		fs := fault.Possible(p, g)
		f := fs[r.IntN(len(fs))]
		if res := model(f); res.Alarm {
			single++
			t.Logf("%d %s: %.2f %s", seed, f, res.Causes[0].P, said(res.Causes[0]))
		}
		kinds := fault.UpstreamKinds()
		at := []string{"keel", "deck plate", "foredeck", "engine bed", "lantern ring"}[r.IntN(5)]
		k, kind := kinds[r.IntN(2)], fault.SpotJoint
		if r.IntN(5) == 0 {
			at, k, kind = "brass mast", kinds[2+r.IntN(2)], fault.SpotReturn
		}
		up, err := fault.Upstream(p, k, at, 0)
		if err != nil {
			t.Fatal(err)
		}
		ups++
		res := model(up)
		if res.Alarm && slices.Contains(res.Causes[0].Spots, fault.Spot{Kind: kind, Name: at}) {
			named++
		} else {
			t.Logf("%d %s: none %.2f own %.2f, first %.2f %s", seed, up, res.None, res.Own, res.Causes[0].P,
				said(res.Causes[0]))
		}
	}
	t.Logf("alarms: healthy %d of %d, one group's fault %d of %d; above the groups named %d of %d",
		healthy, n, single, n, named, ups)
	if healthy > int(n/50) || single > int(n/50) {
		t.Errorf("false alarms: healthy %d, one group's fault %d of %d", healthy, single, n)
	}
	if 10*named < 6*ups {
		t.Errorf("named %d of %d", named, ups)
	}
}

func said(c Shared) string {
	text, look := words.InCommon(c.Common)
	return text + " | " + look
}
