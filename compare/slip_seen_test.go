package compare_test

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"sealworthy/compare"
	"sealworthy/compare/coverage"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
)

// tally is what was said of faults of a kind and what was seen: how many the current
// doesn't stop if all is called right, and how many pass the look as well.
type tally struct {
	n                    int
	saidBlind, saidWhole float64
	varBlind, varWhole   float64
	sawBlind, sawWhole   int
}

// gradeOf grades the groups of a plan one by one, as budget does, so that each kind of
// each group stands alone.
func gradeOf(t *testing.T, p *plan.Plan) map[string]map[fault.Kind]coverage.Seen {
	t.Helper()
	r := slipMeter.Ranges[0]
	meter := &scene.Accuracy{OfReading: r.Accuracy.OfReading, FloorA: r.Accuracy.Floor, ResolutionA: r.Resolution,
		RangeA: r.Max}
	b, err := compare.NewExpected(p).At(scene.Scene{LeadsOhm: benchLeads.Ohm, LeadsHalfOhm: benchLeads.HalfOhm,
		Accuracy: meter})
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]map[fault.Kind]coverage.Seen{}
	for _, g := range p.Groups {
		q := *p
		q.Closures = []plan.Closure{{Name: g.Closure}}
		q.Groups = slices.Clone(p.Groups)
		for i := range q.Groups {
			if q.Groups[i].Name != g.Name {
				q.Groups[i].Closure = ""
			}
		}
		cs, err := compare.Grade(&q, b, compare.StepOptions{Stage: compare.Fitted, Sweep: true}, rule.Default(), nil)
		if err != nil {
			t.Fatal(err)
		}
		out[g.Name] = map[fault.Kind]coverage.Seen{}
		for _, k := range cs[0].Kinds {
			out[g.Name][k.Kind] = k.Seen
		}
	}
	return out
}

// TestCoverageSaidAgainstSeen: of every fault of random builds, with the scatter of
// the parts, the room and the bench drawn anew for each, no more pass than the grade
// said before anything was measured, and not far fewer. The grade leaves the device
// law open, wider than the parts of either truth vary: what it says to pass is on the
// safe side where that is what hides a fault.
func TestCoverageSaidAgainstSeen(t *testing.T) {
	if raceEnabled {
		t.Skip("statistics run without the race detector")
	}
	builds, first, share := 3, uint64(1), 0.15
	if os.Getenv("SEALWORTHY_LONG") != "" {
		builds, first, share = 20, rand.Uint64()>>16, 1
		t.Logf("seeds from %d", first)
	}
	for _, x := range []struct {
		name string
		law  load.Law
	}{{"the plan's own law", load.PlanLaw}, {"another law", load.OtherLaw}} {
		all := map[fault.Kind]*tally{}
		for i := range uint64(builds) {
			everyFaultOf(t, first+i, share, x.law, all)
		}
		t.Log(x.name + saidAgainstSeen(t, all))
	}
}

// everyFaultOf adds a share of all faults of one random build.
func everyFaultOf(t *testing.T, seed uint64, share float64, law load.Law, all map[fault.Kind]*tally) {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 0x5119))
	p := steadyPlan(t, seed)
	said := gradeOf(t, p)
	j := slipJudge(t, p)
	for _, g := range p.Groups {
		for _, f := range everyFault(p, g) {
			if r.Float64() >= share {
				continue
			}
			s, ok := said[g.Name][f.Kind]
			if !ok {
				t.Fatalf("build %d: nothing is said of %+v", seed, f)
			}
			if all[f.Kind] == nil {
				all[f.Kind] = &tally{}
			}
			blind, whole := slips(t, p, j, withOhms(f, r), r, law)
			all[f.Kind].add(s, blind, whole)
		}
	}
}

func (x *tally) add(s coverage.Seen, blind, whole bool) {
	pb, pw := 1-s.ByCurrent.Faults/s.All.Faults, s.Missed.Faults/s.All.Faults
	x.n++
	x.saidBlind, x.saidWhole = x.saidBlind+pb, x.saidWhole+pw
	x.varBlind, x.varWhole = x.varBlind+pb*(1-pb), x.varWhole+pw*(1-pw)
	if blind {
		x.sawBlind++
	}
	if whole {
		x.sawWhole++
	}
}

// slips measures one group with a fault, and tells whether it passes if all is called
// right, and whether it passes what a maker sees of it.
func slips(t *testing.T, p *plan.Plan, j *compare.Judge, f fault.Fault, r *rand.Rand, law load.Law) (blind,
	whole bool) {
	t.Helper()
	b, err := newReadBuild(p, []fault.Fault{f}, r, law)
	if err != nil {
		t.Fatal(err)
	}
	ok, err := b.read(f.Group)
	if err != nil || !ok {
		return false, false // it can't even be solved, or the ramp stops it
	}
	b.look([]string{f.Group}, nil)
	_, rows, err := b.rows(j)
	if err != nil {
		t.Fatal(err)
	}
	if blind = rows[f.Group].Verdict == compare.InBand; !blind {
		return false, false
	}
	_, notices := b.sees(f)
	return true, !notices
}

// What the grade may be off beside chance, as a share of a kind's faults: little where
// more pass than it said, or pass the look as well, more where fewer pass the current.
const (
	slackMore  = 0.10
	slackFewer = 0.30
)

// saidAgainstSeen prints the table and holds it: 4 standard deviations of the sum
// (binomial, each fault with its own probability), and the slack.
func saidAgainstSeen(t *testing.T, all map[fault.Kind]*tally) string {
	t.Helper()
	var s strings.Builder
	fmt.Fprintf(&s, "\n%-24s%8s%18s%18s", "kind", "faults", "pass current", "pass both")
	var sum tally
	for _, k := range slices.SortedFunc(maps.Keys(all), func(a, b fault.Kind) int { return cmp.Compare(a, b) }) {
		x := all[k]
		line := func(said, variance, slackFewer float64, saw int) string {
			z := (float64(saw) - said) / math.Sqrt(math.Max(variance, 0.25))
			chance := 4 * math.Sqrt(math.Max(variance, 0.25))
			if d := float64(saw) - said; d > chance+slackMore*float64(x.n) || -d > chance+slackFewer*float64(x.n) {
				t.Errorf("%s: of %d, %.1f were said to pass, %d did (z %.1f)", k, x.n, said, saw, z)
			}
			return fmt.Sprintf("%8.1f %4d %+4.1f", said, saw, z)
		}
		fmt.Fprintf(&s, "\n%-24s%8d%s%s", k, x.n,
			line(x.saidBlind, x.varBlind, slackFewer, x.sawBlind),
			line(x.saidWhole, x.varWhole, slackMore, x.sawWhole))
		sum.n += x.n
		sum.saidBlind, sum.saidWhole = sum.saidBlind+x.saidBlind, sum.saidWhole+x.saidWhole
		sum.sawBlind, sum.sawWhole = sum.sawBlind+x.sawBlind, sum.sawWhole+x.sawWhole
	}
	fmt.Fprintf(&s, "\n%-24s%8d%8.1f %4d     %8.1f %4d", "all", sum.n, sum.saidBlind, sum.sawBlind, sum.saidWhole,
		sum.sawWhole)
	return s.String()
}

// drawnFaults are the faults of one build, each group's drawn at the priors: mostly
// none.
func drawnFaults(p *plan.Plan, pr fault.Priors, r *rand.Rand) []fault.Fault {
	var out []fault.Fault
	for _, g := range p.Groups {
		fs := everyFault(p, g)
		total := 0.0
		for _, f := range fs {
			total += pr.Fault.In(g, f)
		}
		// However many places a group has, faults weigh no more than this together.
		weigh := math.Min(1, 0.5/total)
		x := r.Float64() * (pr.None + total*weigh)
		for _, f := range fs {
			if x -= pr.Fault.In(g, f) * weigh; x < 0 {
				out = append(out, withOhms(f, r))
				break
			}
		}
	}
	return out
}

// passed is what was said and what was so of one build's closures that passed.
type passed struct {
	closures   int
	said       float64
	saw        int
	saidByKind map[fault.Kind]float64
	sawByKind  map[fault.Kind]int
}

// onePassed measures, looks at and judges one build drawn at the priors.
func onePassed(t *testing.T, seed uint64, pr fault.Priors) passed {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 0x51c1))
	p := steadyPlan(t, seed)
	p.Closures = nil
	for i := range p.Groups { // each closes by itself: the more of them pass
		p.Groups[i].Closure = fmt.Sprintf("part %d", i+1)
		p.Closures = append(p.Closures, plan.Closure{Name: p.Groups[i].Closure})
	}
	out := passed{saidByKind: map[fault.Kind]float64{}, sawByKind: map[fault.Kind]int{}}
	faults := drawnFaults(p, pr, r)
	b, err := newReadBuild(p, faults, r, load.PlanLaw)
	if err != nil {
		return out // such a circuit can't be solved: it wouldn't have passed
	}
	var read []string
	for _, g := range p.Groups {
		ok, err := b.read(g.Name)
		if err == nil && ok {
			read = append(read, g.Name)
		}
	}
	wrong := map[string]string{}
	for _, f := range faults {
		if n, notices := b.sees(f); notices {
			_, of := fault.Darkens(p, f)
			wrong[f.Group] = fmt.Sprintf("%d of %d dark", n, max(n, of))
		}
	}
	b.look(read, wrong)
	j := slipJudge(t, p)
	j.Priors = &pr
	cs, _, err := b.rows(j)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range cs {
		if c.Slip == nil || len(c.Slip.Uncounted) > 0 {
			continue
		}
		out.closures++
		out.said += c.Slip.P
		for _, k := range c.Slip.Kinds {
			out.saidByKind[k.Kind] += k.P
		}
		holds := false
		for _, f := range faults {
			if groupOf(p, f.Group).Closure == c.Closure {
				holds = true
				out.sawByKind[f.Kind]++
			}
		}
		if holds {
			out.saw++
		}
	}
	return out
}

// often are the priors of a maker whose joints are bad: so few builds have enough
// faults that pass to be counted.
func often() fault.Priors {
	pr := fault.DefaultPriors()
	pr.None, pr.Fault.BadJoint, pr.Fault.BranchJoint = 0.7, 0.2, 0.01
	return pr
}

// TestSlipSaidAgainstCounted: of builds whose faults are drawn at the priors, as many
// of the closures that passed hold a fault as was said beside their verdicts. Builds
// are resampled whole, for the groups of one share their reels and their bench.
func TestSlipSaidAgainstCounted(t *testing.T) {
	if raceEnabled {
		t.Skip("statistics run without the race detector")
	}
	slipCounted(t, "joints often bad", often(), 10, 100)
	if os.Getenv("SEALWORTHY_LONG") == "" {
		return
	}
	first := rand.Uint64() >> 16
	t.Logf("seeds from %d", first)
	slipCounted(t, "joints often bad", often(), 150, first)
	slipCounted(t, "common practice", fault.DefaultPriors(), 300, first)
}

func slipCounted(t *testing.T, what string, pr fault.Priors, builds int, first uint64) {
	t.Helper()
	var all []passed
	for i := range uint64(builds) {
		all = append(all, onePassed(t, first+i, pr))
	}
	said, saw, closures := 0.0, 0, 0
	kinds, seen := map[fault.Kind]float64{}, map[fault.Kind]int{}
	for _, x := range all {
		said, saw, closures = said+x.said, saw+x.saw, closures+x.closures
		for k, p := range x.saidByKind {
			kinds[k] += p
		}
		for k, n := range x.sawByKind {
			seen[k] += n
		}
	}
	t.Logf("%s: %d builds, %d closures passed: %.2f were said to hold a fault, %d did", what, builds, closures,
		said, saw)
	for _, k := range slices.SortedFunc(maps.Keys(kinds),
		func(a, b fault.Kind) int { return cmp.Compare(kinds[b], kinds[a]) }) {
		if kinds[k] > 0.05 || seen[k] > 0 {
			t.Logf("    %-24s said %6.2f, counted %d", k, kinds[k], seen[k])
		}
	}
	if closures < builds/2 {
		t.Errorf("only %d closures of %d builds passed", closures, builds)
	}
	low, high := resampled(all, 0.001)
	t.Logf("    counted less said, 99.9 %% of resampled builds: %.2f to %.2f", low, high)
	// Too few to resample: the binomial's own scatter is the least.
	least := 3.3 * math.Sqrt(math.Max(said, 1))
	if d := float64(saw) - said; (low > 0 || high < 0) && math.Abs(d) > least {
		t.Errorf("%s: said %.2f, counted %d", what, said, saw)
	}
}

// resampled is the interval of counted less said over builds drawn with replacement
// (Efron's bootstrap), leaving so much out at both ends together.
func resampled(all []passed, out float64) (low, high float64) {
	r := rand.New(rand.NewPCG(1, 1))
	const times = 4000
	var ds []float64
	for range times {
		d := 0.0
		for range all {
			x := all[r.IntN(len(all))]
			d += float64(x.saw) - x.said
		}
		ds = append(ds, d)
	}
	slices.Sort(ds)
	n := int(out / 2 * times)
	return ds[n], ds[times-1-n]
}
