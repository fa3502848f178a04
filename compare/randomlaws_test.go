package compare_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/load"
	"sealworthy/compare/plan"
)

// ways are in what ways random builds are made and measured, the columns of the
// table. The law that the parts follow is the plan's own or one that nothing in
// the judgement knows.
var ways = []struct {
	name string
	how  how
}{
	{"own law, sweep", how{law: load.PlanLaw, sweep: true}},
	{"own law, none", how{law: load.PlanLaw}},
	{"other law, sweep", how{law: load.OtherLaw, sweep: true}},
	{"other law, none", how{law: load.OtherLaw}},
	{"own law, twice", how{law: load.PlanLaw, sweep: true, wider: 2}},
	{"other law, twice", how{law: load.OtherLaw, sweep: true, wider: 2}},
}

// made is the plan of a build as its pieces are made: with times the spread that
// the plan states.
func made(src string, times float64) *plan.Plan {
	p, _ := plan.Parse("plan.toml", []byte(src))
	if times == 0 {
		return p
	}
	widen := func(v *plan.Value) {
		v.HalfWidth = math.Min(times*v.HalfWidth, 0.9*v.Nominal)
	}
	for g := range p.Groups {
		for l := range p.Groups[g].Lights {
			x := &p.Groups[g].Lights[l]
			widen(&x.BranchSpread)
			widen(&x.Ohms)
			for k := range x.Series {
				widen(&x.Series[k].Volts)
			}
		}
	}
	for b := range p.Boards {
		widen(&p.Boards[b].Standing)
	}
	return p
}

// said is a probability that was put to a group, and whether it was right.
type said struct {
	build   int
	p       float64
	healthy bool
}

// The bins of d', the effect of a fault over the doubt, and of what was said.
var (
	distances = []float64{0, 3.29, 4, 5, 6, 8, math.Inf(1)}
	sayings   = []float64{0, 0.01, 0.05, 0.2, 0.5, 0.8, 0.95, 0.99, 0.999, 1.0000001}
)

// lawTally is what was said of the builds of one way.
type lawTally struct {
	builds int
	rows   map[string]count
	hides  float64 // expected of rowUntold: see couldHide
	said   []said
	odd    []string
}

func (c *lawTally) count(row string, hit bool) {
	x := c.rows[row]
	x.of++
	if hit {
		x.n++
	}
	c.rows[row] = x
}

// The rows of the table.
const (
	rowWrong   = "healthy called low or high"
	rowTiny    = "healthy where below .01 was said"
	rowSure    = "healthy where .99 to .999 was said"
	rowCause   = "first cause said .99 or more: right"
	rowBand    = "healthy in the printed 95 % band"
	rowUntold  = "healthy: can't tell by current"
	rowLooked  = "healthy: can't tell with a look"
	rowInTurn  = "outputs in turn: can't tell"
	rowUnknown = "as found, envelope: can't tell"
)

// Why a healthy group can't be told.
const (
	whyTolerance = "  of it: tolerance"
	whyBoard     = "  of it: board with several groups"
	whyLimit     = "  of it: stopped by the test's limit"
	whyUnread    = "  of it: unread otherwise"
)

var whys = []string{whyTolerance, whyBoard, whyLimit, whyUnread}

// afterLook is the row of a reason after a look.
func afterLook(why string) string { return "  looked at, " + strings.TrimPrefix(why, "  of it: ") }

func passedRow(bin int) string {
	if bin == len(distances)-2 {
		return fmt.Sprintf("faults passed, d' from %g", distances[bin])
	}
	return fmt.Sprintf("faults passed, d' %g to %g", distances[bin], distances[bin+1])
}

// add counts what current alone says of a build, and what it says with a look.
func (c *lawTally) add(t *testing.T, m, looked model) {
	build := c.builds
	c.builds++
	touched := map[string]bool{} // by the fault: all of its board
	if m.fault != nil {
		of := groupOf(m.plan, m.fault.Group)
		for _, g := range m.plan.Groups {
			touched[g.Name] = g.Name == of.Name || g.Board != "" && g.Board == of.Board
		}
		c.fault(t, m)
	}
	for _, cl := range m.closures {
		for _, f := range cl.Groups {
			faulty := m.fault != nil && f.Group == m.fault.Group
			if touched[f.Group] && !faulty {
				continue
			}
			if f.PHealthy > 0 {
				c.said = append(c.said, said{build, f.PHealthy, !faulty})
				if f.PHealthy < 0.01 {
					c.count(rowTiny, !faulty)
				} else if f.PHealthy >= 0.99 && f.PHealthy < 0.999 {
					c.count(rowSure, !faulty)
				}
			}
			if bad(f.Verdict) && len(f.Causes) > 0 && f.Causes[0].P >= 0.99 {
				first := f.Causes[0]
				right := faulty && (first.Name == string(m.fault.Kind) ||
					slices.Contains(first.Kinds, string(m.fault.Kind)))
				c.count(rowCause, right)
				if !right {
					c.note(m, f)
				}
			}
			if !faulty {
				c.healthy(m, f)
			}
		}
	}
	for _, cl := range looked.closures {
		for _, f := range cl.Groups {
			if !touched[f.Group] && planned(groupOf(m.plan, f.Group)) {
				untold := f.Verdict == compare.CantTell
				c.count(rowLooked, untold)
				why, _ := m.why(f)
				for _, w := range whys {
					c.count(afterLook(w), untold && w == why)
				}
			}
		}
	}
}

// planned: something is known of what a group draws, but for how much it varies.
func planned(g plan.Group) bool {
	return !g.AsFound && !slices.ContainsFunc(g.Lights, func(l plan.Light) bool { return l.Envelope != nil })
}

func (c *lawTally) healthy(m model, f compare.Finding) {
	g := groupOf(m.plan, f.Group)
	untold := f.Verdict == compare.CantTell
	if !planned(g) {
		c.count(rowUnknown, untold)
		return
	}
	c.count(rowWrong, bad(f.Verdict))
	if bad(f.Verdict) {
		c.note(m, f)
	}
	c.count(rowUntold, untold)
	c.hides += couldHide(f)
	why, siblings := m.why(f)
	// Whatever the verdict: to leave out what can't be told leaves out what lies far off.
	if !f.Unread && f.Band.Coverage > 0 && f.Band.Coverage < 1 {
		c.count(rowBand, f.MeasuredA >= f.Band.LowA && f.MeasuredA <= f.Band.HighA)
	}
	for _, w := range whys {
		c.count(w, untold && w == why)
	}
	for _, b := range m.plan.Boards {
		if b.Name == g.Board && b.Run == plan.Alternate && siblings > 1 {
			c.count(rowInTurn, untold)
		}
	}
}

// couldHide is how often a rule that excludes the smallest lack at 5 % can't pass a healthy
// group on one reading, by the doubt that is left once the group's reel, board and meter have
// been weighed: the reading has to be above the lack's own 95th percentile, so it passes with
// Φ(d' - 1.645). A reading at another voltage can only better that.
func couldHide(f compare.Finding) float64 {
	u := math.Hypot(f.ExpectedU, f.MeasuredU)
	if f.Unread || !(u > 0) || !(f.SmallestA > 0) {
		return 1
	}
	return 1 - distuv.UnitNormal.CDF(f.SmallestA/u-distuv.UnitNormal.Quantile(0.95))
}

// why is what keeps a group from being told, if it isn't; and how many groups share its
// board, itself among them.
func (m model) why(f compare.Finding) (why string, siblings int) {
	g := groupOf(m.plan, f.Group)
	for _, x := range m.plan.Groups {
		if g.Board != "" && x.Board == g.Board {
			siblings++
		}
	}
	stopped := slices.ContainsFunc(m.records, func(r capture.StepRecord) bool {
		return r.Step.ID == f.StepID && r.Outcome == capture.Tripped
	})
	switch {
	case stopped:
		return whyLimit, siblings
	case f.Unread:
		return whyUnread, siblings
	case siblings > 1:
		return whyBoard, siblings
	}
	return whyTolerance, siblings
}

// fault counts the group with the fault: passed where every row of it is in band.
func (c *lawTally) fault(t *testing.T, m model) {
	far, rows, passed := 0.0, 0, true
	for _, cl := range m.closures {
		for _, f := range cl.Groups {
			if f.Group != m.fault.Group {
				continue
			}
			rows++
			passed = passed && f.Verdict == compare.InBand
			effect, ok := m.effect(t, f)
			u := math.Hypot(f.ExpectedU, f.MeasuredU)
			if !ok || !(u > 0) {
				far = math.Inf(1) // no telling how large, so it is taken for large
				continue
			}
			far = math.Max(far, math.Abs(effect)/u)
		}
	}
	if rows == 0 {
		return
	}
	bin := 0
	for bin < len(distances)-2 && far >= distances[bin+1] {
		bin++
	}
	c.count(passedRow(bin), passed)
	if passed && bin > 0 {
		c.odd = append(c.odd, fmt.Sprintf("model %d, d' %.1f passed: %+v", m.seed, far, *m.fault))
	}
}

func (c *lawTally) note(m model, f compare.Finding) {
	of := "healthy"
	if m.fault != nil && f.Group == m.fault.Group {
		of = string(m.fault.Kind)
	}
	s := fmt.Sprintf("model %d, %q is %s: %s, measured %.2f, expected %.2f mA, P(healthy) %.2g", m.seed, f.Group, of,
		f.Verdict, f.MeasuredA*1e3, f.ExpectedA*1e3, f.PHealthy)
	if len(f.Causes) > 0 {
		s += fmt.Sprintf(", first cause %q %.3f", f.Causes[0].Name, f.Causes[0].P)
	}
	c.odd = append(c.odd, s)
}

// buildSeeds are the seeds of the builds: fixed and few, or with SEALWORTHY_LONG
// ten drawn at the run, of which each gives a tenth of the builds; those that a run has
// printed are taken again with SEALWORTHY_SEEDS.
func buildSeeds(t *testing.T) []uint64 {
	n, bases := 4, []uint64{0}
	if os.Getenv("SEALWORTHY_LONG") != "" {
		n, bases = 300, nil
		for range 10 {
			bases = append(bases, rand.Uint64N(1e9)*1e3)
		}
	}
	if s := os.Getenv("SEALWORTHY_BUILDS"); s != "" {
		x, err := strconv.Atoi(s)
		if err != nil {
			t.Fatal(err)
		}
		n = x
	}
	if s := os.Getenv("SEALWORTHY_SEEDS"); s != "" {
		bases = nil
		for _, f := range strings.Fields(s) {
			x, err := strconv.ParseUint(f, 10, 64)
			if err != nil {
				t.Fatal(err)
			}
			bases = append(bases, x)
		}
	}
	t.Logf("seeds %v", bases)
	var out []uint64
	for k := range n {
		out = append(out, bases[k%len(bases)]+uint64(k/len(bases))+1)
	}
	return out
}

// TestRandomModelsUnderBothLaws: what the whole judgement says of random builds
// whose parts follow the law that it knows, and one that it doesn't.
func TestRandomModelsUnderBothLaws(t *testing.T) {
	if raceEnabled {
		t.Skip("statistics run without the race detector")
	}
	all := make([]*lawTally, len(ways))
	for i := range all {
		all[i] = &lawTally{rows: map[string]count{}}
	}
	slowest, began := time.Duration(0), time.Now()
	for k, seed := range buildSeeds(t) {
		slowest, began = max(slowest, time.Since(began)), time.Now()
		if end, ok := t.Deadline(); ok && time.Until(end) < 4*slowest {
			t.Logf("no more builds than %d: the time of the test ends", k)
			break
		}
		for i, w := range ways {
			if w.how.wider > 0 && k%3 > 0 {
				continue // the fewest need to be of these
			}
			m, err := measureModel(context.Background(), seed, w.how)
			if err != nil {
				t.Fatalf("model %d, %s: %v", seed, w.name, err)
			}
			byCurrent, err := m.judged(2)
			if err != nil {
				t.Fatalf("model %d, %s: %v", seed, w.name, err)
			}
			looked, err := m.judged(3)
			if err != nil {
				t.Fatalf("model %d, %s: %v", seed, w.name, err)
			}
			all[i].add(t, byCurrent, looked)
		}
	}
	printLaws(t, all)
	for i, c := range all {
		c.check(t, i)
	}
}
