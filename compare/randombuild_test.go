package compare_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/words"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
)

// how is in what way a random build is made and measured. The zero how is the
// bench's own law and a second voltage where it helps.
type how struct {
	law   load.Law
	sweep bool    // every steady group over its voltages, as the command does at stage fitted
	wider float64 // times the spreads that the plan states; 0: 1
	// loose: each feed is clipped at its own wire, before the parts are joined. day is that
	// of the test: each has a room of its own; 0: the only one.
	loose bool
	day   int
}

// model is one random build, measured and judged.
type model struct {
	seed     uint64
	how      how
	plan     *plan.Plan
	fault    *fault.Fault // nil: healthy
	records  []capture.StepRecord
	closures []compare.ClosureFinding
	judge    *compare.Judge
}

var benchLeads = compare.Leads{Ohm: 0.1, HalfOhm: 0.05}

// measureModel makes a random build of a seed, measures every closure of it
// unattended over the memory ports of a simulated bench, and judges it.
func measureModel(ctx context.Context, seed uint64, h how) (m model, err error) {
	src := randomPlan(seed)
	p, err := parsed(src)
	if err != nil {
		return m, err
	}
	r := rand.New(rand.NewPCG(seed, 0xfa17))
	var f *fault.Fault
	if r.IntN(2) == 0 {
		f = anyFault(p, r)
	}
	return measured(ctx, seed, src, f, h)
}

func parsed(src string) (*plan.Plan, error) {
	p, problems := plan.Parse("plan.toml", []byte(src))
	if len(problems) > 0 {
		return nil, fmt.Errorf("%v", problems[0])
	}
	return p, nil
}

// measured measures every closure of a plan with a fault, or nil for none,
// unattended over the memory ports of a simulated bench.
func measured(ctx context.Context, seed uint64, src string, f *fault.Fault, h how) (m model, err error) {
	m.seed, m.fault, m.how = seed, f, h
	ready, err := prepared.of(src, h)
	if err != nil {
		return m, err
	}
	p := ready.plan
	m.plan = p
	r := rand.New(rand.NewPCG(seed, 0xa1b1+uint64(h.day)))
	var faults []fault.Fault
	if f != nil {
		faults = append(faults, *f)
	}
	c := clock.NewSimulated(time.Date(2026, 11, 25+h.day, 8, 0, 0, 0, time.UTC))
	ambient := 20 + 10*r.Float64() // what the budget takes for a room
	l, err := load.New(made(src, h.wider), faults, seed, load.Options{AmbientC: &ambient, Law: h.law, Loose: h.loose})
	if err != nil {
		return m, err
	}
	b, err := rig.New(ctx, c, l, rig.Options{Seed: seed, MemoryPorts: true, Buttons: l.Buttons(), AmbientC: ambient})
	if err != nil {
		return m, err
	}
	defer c.Outside(func() { b.Close() })
	names := b.Ports()
	cfg := bench.Default()
	cfg.Supply = bench.Supply{Port: names.Supply, Profile: "scpi supply"}
	cfg.Meter = bench.Meter{Port: names.Meter, Profile: "scpi meter"}
	cfg.Relays = bench.Relays{Port: names.Relays, Profile: "scpi relays"}
	open, err := bench.Open(ctx, c, b.Opener(), cfg, bench.Overrides{})
	if err != nil {
		return m, err
	}
	defer open.Close()
	set := capture.Bench{Clock: c, Supply: open.Supply, Meter: open.Meter, Relays: open.Relays,
		SupplyName: compare.SupplyName, MeterName: compare.MeterName, Leads: &benchLeads,
		Channels: map[string]int{},
		Buttons:  map[string]int{}}
	for i, name := range l.Terminals() {
		set.Channels[name] = i + 1
	}
	for i, name := range l.Buttons() {
		set.Buttons[name] = len(l.Terminals()) + 1 + i
	}
	if m.judge, err = compare.NewJudge(ready.expected, rule.Default(), benchLeads); err != nil {
		return m, err
	}
	m.records, err = capture.Run(ctx, set, compare.NewGuide(m.judge, ready.budget, ready.steps, false),
		capture.Unattended{}, noRecord{},
		capture.Options{Stage: h.stage(), Rand: rand.New(rand.NewPCG(seed, 2))})
	switch {
	case err != nil:
		return m, err
	case b.Output().On:
		return m, fmt.Errorf("the output is still on")
	case l.Err() != nil:
		return m, l.Err()
	}
	return m, nil
}

// says are what a judgement goes by, one more in each: what the last adds shows
// in the difference.
var says = []string{"one voltage, the plan", "and a second voltage", "and the reels", "and the eye"}

// judged is a model judged by the first n+1 of says.
func (m model) judged(n int) (model, error) {
	j, err := compare.NewJudge(m.judge.Expected, rule.Default(), benchLeads)
	if err != nil {
		return m, err
	}
	j.OneReading, j.PlanOnly = n < 1, n < 2
	h := compare.History{Steps: m.records}
	if n >= 3 {
		h.Steps = append(slices.Clone(h.Steps), m.looks()...)
		h.Nothing = []capture.Order{0} // asked, the maker says that nothing was touched
	}
	m.judge = j
	if m.closures, err = j.Findings(h, ""); err != nil || n < 3 {
		return m, err
	}
	if counted := m.counts(); len(counted) > 0 {
		h.Steps = append(h.Steps, counted...)
		m.closures, err = j.Findings(h, "")
	}
	return m, err
}

// miscounts is how often a maker counts one too many or too few: more often than is taken for
// granted.
const miscounts = 0.05

// counts are a maker's counts of what is lit in the groups that it's asked of. What he
// overlooked he counts with the rest.
func (m model) counts() []capture.StepRecord {
	r := rand.New(rand.NewPCG(m.seed, 0xc0c0))
	at := m.records[len(m.records)-1].Ended.Add(time.Hour)
	var out []capture.StepRecord
	for _, c := range m.closures {
		for _, f := range c.Groups {
			if !slices.Contains(f.Settle, words.CountLit(f.Group)) {
				continue
			}
			_, lit := fault.Darkens(m.plan, fault.Fault{Kind: fault.StuckDark, Group: f.Group})
			if x := m.fault; x != nil && x.Group == f.Group && x.Kind == fault.ExtraBranch {
				more, _ := fault.Darkens(m.plan, fault.Fault{Kind: fault.OpenBranch, Group: x.Group, Light: x.Light})
				lit += more
			}
			if r.Float64() < miscounts {
				lit += 2*r.IntN(2) - 1
			}
			out = append(out, capture.StepRecord{Step: capture.Step{ID: c.Closure + "/look", Kind: capture.Look,
				Closure: c.Closure, Feed: c.Closure, Groups: []string{f.Group}}, Stage: compare.Fitted, Began: at,
				Ended: at, Outcome: capture.Measured, Seen: f.Group + ": " + look.RightCounted(lit)})
		}
	}
	return out
}

// looks are a maker's looks at every closure: dark lights are counted, one in
// fifty times they are overlooked, as is all that only makes a light dim or bright.
func (m model) looks() []capture.StepRecord {
	r := rand.New(rand.NewPCG(m.seed, 0xe1e))
	at := m.records[len(m.records)-1].Ended
	var out []capture.StepRecord
	for _, c := range m.plan.Closures {
		seen := look.Right
		var groups []string
		for _, g := range m.plan.Groups {
			if g.Closure == c.Name {
				groups = append(groups, g.Name)
			}
		}
		if m.fault != nil && slices.Contains(groups, m.fault.Group) && r.Float64() > 0.02 {
			n, of := fault.Darkens(m.plan, *m.fault)
			wrong := ""
			switch {
			case m.fault.Kind == fault.Overloaded:
				wrong = "stays lit"
			case n > 0:
				wrong = fmt.Sprintf("%d of %d dark", n, of)
			}
			if wrong != "" {
				seen = groupByGroup(groups, m.fault.Group, wrong)
			}
		}
		at = at.Add(time.Minute)
		out = append(out,
			capture.StepRecord{Step: capture.Step{ID: c.Name + "/look", Kind: capture.Look, Closure: c.Name,
				Feed: c.Name, Groups: groups},
				Stage: compare.Fitted, Began: at, Ended: at, Outcome: capture.Measured, Seen: seen})
	}
	return out
}

// groupByGroup is a look in which one group isn't right.
func groupByGroup(groups []string, one, wrong string) string {
	var parts []string
	for _, g := range groups {
		if g == one {
			parts = append(parts, g+": "+wrong)
		} else {
			parts = append(parts, g+": "+look.Right)
		}
	}
	return strings.Join(parts, "; ")
}

// anyFault picks a kind that the plan can have, then a place.
func anyFault(p *plan.Plan, r *rand.Rand) *fault.Fault {
	kinds := fault.Kinds()
	for {
		k := kinds[r.IntN(len(kinds))]
		var fit []fault.Fault
		for _, g := range p.Groups {
			if g.AsFound {
				continue
			}
			for _, f := range fault.Possible(p, g) {
				if f.Kind == k {
					fit = append(fit, f)
				}
			}
		}
		if len(fit) > 0 {
			return &fit[r.IntN(len(fit))]
		}
	}
}

// TestRandomModels: what the whole judgement says of random builds, of which
// every second has one fault of any kind at any place. SEALWORTHY_MODEL=n
// measures build n alone and prints what is said of it.
func TestRandomModels(t *testing.T) {
	if raceEnabled {
		t.Skip("statistics run without the race detector")
	}
	if s := os.Getenv("SEALWORTHY_MODEL"); s != "" {
		seed, err := strconv.ParseUint(s, 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		oneModel(t, seed)
		return
	}
	n := 20
	if os.Getenv("SEALWORTHY_LONG") != "" {
		n = 500
	}
	var cs []*confusion
	for range says {
		cs = append(cs, newConfusion())
	}
	t.Run("models", func(t *testing.T) {
		for seed := range uint64(n) {
			t.Run("", func(t *testing.T) {
				t.Parallel()
				m, err := measureModel(context.Background(), seed+1, how{})
				if err != nil {
					t.Fatalf("model %d: %v", seed+1, err)
				}
				for k, c := range cs {
					x, err := m.judged(k)
					if err != nil {
						t.Fatalf("model %d: %v", seed+1, err)
					}
					c.count(t, x)
				}
			})
		}
	})
	cs[len(cs)-1].print(t)
	for k, c := range cs {
		t.Logf("%-24s %s", says[k], c.short())
		c.check(t)
	}
}

// oneModel prints a build, its fault and all that is said of it.
func oneModel(t *testing.T, seed uint64) {
	t.Log("\n" + randomPlan(seed))
	m, err := measureModel(context.Background(), seed, how{})
	if err != nil {
		t.Fatal(err)
	}
	if m.fault != nil {
		t.Logf("seeded: %+v", *m.fault)
	}
	if m, err = m.judged(2); err != nil {
		t.Fatal(err)
	}
	for _, c := range m.closures {
		t.Logf("%s: %s %q", c.Closure, c.Verdict, c.Reasons)
		for _, f := range c.Groups {
			t.Log("  " + inWords(f))
		}
	}
}

// inWords is a finding as a maker reads it, with the figures behind it.
func inWords(f compare.Finding) string {
	s := fmt.Sprintf("%s %s: %s, measured %s (u %.3f), expected %s (u %.3f), least %.2f mA", f.Group, f.Pace,
		f.Verdict,
		words.Milliamps(f.MeasuredA, f.MeasuredU), f.MeasuredU*1e3, words.MilliampBand(f.Band.LowA, f.Band.HighA),
		f.ExpectedU*1e3, f.SmallestA*1e3)
	for _, c := range f.Causes {
		s += fmt.Sprintf("\n      cause %.2f %s %q: %s", c.P, c.Name, c.Kinds, c.Text)
	}
	for _, x := range f.Also {
		s += fmt.Sprintf("\n      at %.1f V: %.3f mA (u %.3f), expected %.3f (u %.3f)", x.Volts, x.MeasuredA*1e3,
			x.MeasuredU*1e3, x.ExpectedA*1e3, x.ExpectedU*1e3)
	}
	s += fmt.Sprintf("\n      healthy %.3f", f.PHealthy)
	for _, x := range f.Settle {
		s += "\n      settle: " + x
	}
	for _, x := range f.Notes {
		s += "\n      note: " + x
	}
	return s
}
