package compare_test

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"

	"sealworthy/compare"
	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// confusion counts what is said of groups by what was seeded.
type confusion struct {
	sync.Mutex
	verdicts                     map[string]map[compare.Verdict]int // by seeded kind; rows of groups
	seeded, found, named, untold int                                // groups with a fault
	byKind                       map[string][4]int                  // seeded, found, named, of those with d' >= 6
	healthy, falseAlarm          int                                // rows of healthy groups
	closures, keptOpen           int                                // healthy closures
	far, farInBand, farReady     int                                // d' >= 6: rows, in band, closures ready
	near, nearInBand             int                                // d' 3.29 to 6
	farUntold                    int
	z                            []float64 // of healthy groups on a joint
	odd                          []string
}

func newConfusion() *confusion {
	return &confusion{verdicts: map[string]map[compare.Verdict]int{}, byKind: map[string][4]int{}}
}

func (c *confusion) note(format string, a ...any) { c.odd = append(c.odd, fmt.Sprintf(format, a...)) }

// bad is an alarm.
func bad(v compare.Verdict) bool {
	return v != compare.InBand && v != compare.CantTell && v != compare.NotMeasured
}

func ready(v compare.ClosureVerdict) bool {
	return v == compare.ReadyToClose || v == compare.LookFirst
}

func (c *confusion) count(t *testing.T, m model) {
	c.Lock()
	defer c.Unlock()
	touched := map[string]bool{} // groups that the fault reaches: all of its board
	hurt := map[string]bool{}    // closures with such a group, and those around
	if m.fault != nil {
		of := groupOf(m.plan, m.fault.Group)
		for _, g := range m.plan.Groups {
			if g.Name == of.Name || g.Board != "" && g.Board == of.Board {
				touched[g.Name] = true
				for at := g.Closure; at != ""; at = insideOf(m.plan, at) {
					hurt[at] = true
				}
			}
		}
		c.faulty(t, m)
	}
	for _, cl := range m.closures {
		if !hurt[cl.Closure] {
			c.closures++
			if cl.Verdict == compare.KeepOpen {
				c.keptOpen++
			}
		}
		for _, f := range cl.Groups {
			kind := "healthy"
			switch {
			case m.fault != nil && f.Group == m.fault.Group:
				kind = string(m.fault.Kind)
			case touched[f.Group]:
				kind = "beside a fault"
			default:
				c.healthy++
				if u := math.Hypot(f.ExpectedU, f.MeasuredU); f.Board == "" && f.ExpectedU > 0 && !f.Unread &&
					f.Band.Coverage < 1 {
					c.z = append(c.z, (f.MeasuredA-f.ExpectedA)/u)
				}
				if bad(f.Verdict) {
					c.falseAlarm++
					c.note("model %d, healthy: %s", m.seed, inWords(f))
				}
				if f.Verdict == compare.NotMeasured || f.Unread {
					c.note("model %d, not read: %s", m.seed, inWords(f))
				}
			}
			if c.verdicts[kind] == nil {
				c.verdicts[kind] = map[compare.Verdict]int{}
			}
			c.verdicts[kind][f.Verdict]++
		}
	}
}

// faulty counts the group with the fault.
func (c *confusion) faulty(t *testing.T, m model) {
	kind := string(m.fault.Kind)
	k := c.byKind[kind]
	c.seeded++
	k[0]++
	found, named, untold, far := false, false, false, 0.0
	for _, cl := range m.closures {
		reach := 0.0
		for _, f := range cl.Groups {
			if f.Group != m.fault.Group {
				continue
			}
			effect, ok := m.effect(t, f)
			u := math.Hypot(f.ExpectedU, f.MeasuredU)
			d := math.Abs(effect) / u
			if !ok || u == 0 {
				d = math.Inf(1) // no telling how large, so it is taken for large
			}
			reach, far = max(reach, d), max(far, d)
			found = found || bad(f.Verdict)
			untold = untold || f.Verdict == compare.CantTell
			if bad(f.Verdict) && len(f.Causes) > 0 &&
				(f.Causes[0].Name == kind || slices.Contains(f.Causes[0].Kinds, kind)) {
				named = true
			}
			switch {
			case d >= 6:
				c.far++
				if f.Verdict == compare.InBand {
					c.farInBand++
					c.note("model %d, %+v, d' %.1f: %s", m.seed, *m.fault, d, inWords(f))
				}
				if f.Verdict == compare.CantTell {
					c.farUntold++
					c.note("model %d, %+v, d' %.1f, can't tell: %s", m.seed, *m.fault, d, inWords(f))
				}
			case d >= 3.29:
				c.near++
				if f.Verdict == compare.InBand {
					c.nearInBand++
					c.note("model %d, %+v, d' %.1f: %s", m.seed, *m.fault, d, inWords(f))
				}
			}
			if bad(f.Verdict) && !named {
				c.note("model %d, %+v, effect %.2f mA, d' %.1f, not named: %s", m.seed, *m.fault, effect*1e3, d,
					inWords(f))
			}
		}
		if reach >= 6 && ready(cl.Verdict) {
			c.farReady++
			c.note("model %d, %+v: %s %s", m.seed, *m.fault, cl.Closure, cl.Verdict)
		}
	}
	if found {
		c.found++
		k[1]++
	} else if untold {
		c.untold++
	}
	if named {
		c.named++
		k[2]++
	}
	if far >= 6 {
		k[3]++
	}
	c.byKind[kind] = k
}

// effect is what the fault makes of the draw of a finding's group, in A, under
// the conditions of its reading; false where the faulty circuit can't be solved.
func (m model) effect(t *testing.T, f compare.Finding) (float64, bool) {
	for _, r := range m.records {
		if r.Step.ID != f.StepID {
			continue
		}
		cond := compare.SceneOf(r, m.judge.Leads)
		w, err := wiring.Build(m.plan, m.plan.Jacks[0].Name, wiring.Options{SeriesOhm: cond.BurdenOhm + cond.LeadsOhm})
		if err != nil {
			t.Error(err)
			return 0, false
		}
		gi := slices.IndexFunc(m.plan.Groups, func(g plan.Group) bool { return g.Name == f.Group })
		src := circuit.Source{EmfV: f.VoltsSet}
		w.Alone(gi)
		healthy, err := w.AddsAmps(gi, src)
		if err != nil {
			t.Error(err)
			return 0, false
		}
		// The fault may be one of another group: it doesn't bear on this one.
		if m.fault.Group != f.Group || m.fault.Kind != fault.StuckDark && fault.Apply(w, *m.fault) != nil {
			return 0, false
		}
		faulty, err := w.AddsAmps(gi, src)
		if m.fault.Kind == fault.StuckDark {
			return -healthy, true
		}
		return faulty - healthy, err == nil
	}
	return 0, false
}

func groupOf(p *plan.Plan, name string) plan.Group {
	return p.Groups[slices.IndexFunc(p.Groups, func(g plan.Group) bool { return g.Name == name })]
}

func insideOf(p *plan.Plan, closure string) string {
	for _, c := range p.Closures {
		if c.Name == closure {
			return c.Inside
		}
	}
	return ""
}

func percentOf(n, of int) float64 { return 100 * float64(n) / math.Max(1, float64(of)) }

func (c *confusion) print(t *testing.T) {
	all := []compare.Verdict{compare.InBand, compare.Low, compare.High, compare.StuckLit, compare.StuckDark,
		compare.OffPace, compare.CantTell, compare.NotMeasured}
	var s strings.Builder
	fmt.Fprintf(&s, "\n%-24s", "rows by seeded fault")
	for _, v := range all {
		fmt.Fprintf(&s, "%13s", v)
	}
	for _, k := range slices.Sorted(maps.Keys(c.verdicts)) {
		fmt.Fprintf(&s, "\n%-24s", k)
		for _, v := range all {
			fmt.Fprintf(&s, "%13d", c.verdicts[k][v])
		}
	}
	fmt.Fprintf(&s, "\n\n%-24s%10s%10s%10s%10s", "groups by seeded fault", "seeded", "found", "named", "d' >= 6")
	for _, k := range slices.Sorted(maps.Keys(c.byKind)) {
		x := c.byKind[k]
		fmt.Fprintf(&s, "\n%-24s%10d%10d%10d%10d", k, x[0], x[1], x[2], x[3])
	}
	t.Log(s.String())
	t.Logf("faults %d: found %d, named first %d, can't tell %d", c.seeded, c.found, c.named, c.untold)
	t.Logf(
		"d' >= 6: %d rows, in band %d, can't tell %d, closures ready %d; d' 3.29 to 6: %d rows, in band %d (%.1f %%)",
		c.far, c.farInBand, c.farUntold, c.farReady, c.near, c.nearInBand, percentOf(c.nearInBand, c.near))
	cant := c.verdicts["healthy"][compare.CantTell]
	t.Logf("healthy rows %d: false alarms %d (%.2f %%), can't tell %d (%.1f %%); healthy closures %d, kept open %d",
		c.healthy, c.falseAlarm, percentOf(c.falseAlarm, c.healthy), cant, percentOf(cant, c.healthy), c.closures,
		c.keptOpen)
	sum, most := 0.0, 0.0
	for _, z := range c.z {
		sum, most = sum+z*z, max(most, math.Abs(z))
	}
	t.Logf("healthy groups on joints %d: RMS of measured less expected over u %.2f, most %.2f", len(c.z),
		math.Sqrt(sum/max(1, float64(len(c.z)))), most)
	for _, x := range c.odd {
		t.Log(x)
	}
}

// short is the whole of it in a line.
func (c *confusion) short() string {
	cant := c.verdicts["healthy"][compare.CantTell]
	return fmt.Sprintf("faults %d: found %d, named %d, can't tell %d; d' >= 6 in band %d, ready %d; 3.29 to 6 in "+
		"band %d of %d; healthy false %.2f %%, can't tell %.1f %%; closures kept open %d of %d",
		c.seeded, c.found, c.named, c.untold, c.farInBand, c.farReady, c.nearInBand, c.near,
		percentOf(c.falseAlarm, c.healthy), percentOf(cant, c.healthy), c.keptOpen, c.closures)
}

// over is true where n of total can't be chance at a rate (3 sd, binomial).
func over(n, total int, rate float64) bool {
	mean := rate * float64(total)
	return float64(n) > mean+3*math.Sqrt(mean*(1-rate))+0.5
}

func (c *confusion) check(t *testing.T) {
	if over(c.falseAlarm, c.healthy, 0.01) {
		t.Errorf("%d of %d healthy rows were called wrong", c.falseAlarm, c.healthy)
	}
	if c.farInBand > 0 || c.farReady > 0 {
		t.Errorf("large faults: %d rows in band, %d closures ready", c.farInBand, c.farReady)
	}
	if over(c.nearInBand, c.near, 0.05) {
		t.Errorf("%d of %d faults of d' 3.29 to 6 were called in band", c.nearInBand, c.near)
	}
}
