package machine

import (
	"fmt"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/plan"
)

// Breach is a word that wasn't earned.
type Breach struct {
	Rule    string // which rule of the oracle
	Closure string
	Group   string
	Text    string // what was said, and what is so
}

func (b Breach) String() string {
	return fmt.Sprintf("%s is called ready (%s): %s %s", b.Closure, b.Rule, b.Group, b.Text)
}

// The rules of the oracle.
const (
	RuleVisible  = "a fault that can be seen by current"
	RuleMeasured = "not measured since"
	RuleLooked   = "not looked at since"
	RuleSeen     = "what was seen is wrong"
	RuleDamage   = "the record is damaged"
	RuleWords    = "damage was taken as it stands"
	RuleBurns    = "the plan may burn something"
	RuleHidden   = "fed through what it hides"
	RuleGone     = "the plan lost it with its fault"
	RuleTicked   = "a thing that no test tells of"
	RuleFitted   = "the plan was changed to fit a fault"
)

// oracle keeps what happened, in the order in which it happened, and nothing that
// the program said.
type oracle struct {
	meter  accuracy
	now    int // counts what happened
	groups map[string]*known
	// damage that wasn't answered; words: some was answered by words once.
	damage  map[string]string // by file
	words   bool
	retest  int
	ticked  map[string][]int // by closure and item
	touched map[string]int   // places, by name
}

// known is what is known of one group. Times are counts of oracle.now; 0: never.
type known struct {
	at       map[float64]measured // the latest by the voltage that it was measured at
	broke    int                  // a test that began with it and didn't end
	misfits  []string             // what the plan said of its lights when a reading plainly didn't fit it
	reworked []int
	looked   []looked
}

// measured is one measurement that is on disk.
type measured struct {
	when     int
	stage    string
	trueA    float64 // what it really drew then
	readings int
	gross    bool
	onTopOf  float64 // A, what was on below it: its error is the reading's, too
	faultA   float64 // what faults make of it
}

// off is how far what was measured is from what a plan says.
func (m measured) off(a accuracy, n nominal) deviation {
	return deviationOf(a, m.trueA, m.onTopOf, n, m.readings)
}

// looked is one look at a group.
type looked struct {
	at     int
	right  bool
	stage  string
	lights string // number and kind, by the plan of then
}

func newOracle(m accuracy) *oracle {
	return &oracle{meter: m, damage: map[string]string{}, groups: map[string]*known{}, ticked: map[string][]int{},
		touched: map[string]int{}}
}

func (o *oracle) of(group string) *known {
	if o.groups[group] == nil {
		o.groups[group] = &known{at: map[float64]measured{}}
	}
	return o.groups[group]
}

func (o *oracle) tick() int { o.now++; return o.now }

// touchedAt is when it was last told that something of a group was touched, or
// that all of it has to be measured anew.
func (o *oracle) touchedAt(k *known) int {
	last := o.retest
	for _, at := range k.reworked {
		last = max(last, at)
	}
	return last
}

// stageRank orders the stages.
func stageRank(stage string) int {
	return slices.Index([]string{compare.Loose, compare.Fitted, compare.Closed, compare.Delivered, compare.Returned},
		stage)
}

// Began tells the oracle that the begin of a step that powers a feed is on disk.
func (w *World) Began(s capture.Step) {
	at := w.o.tick()
	for _, g := range s.Groups {
		w.o.of(g).broke = at // until its end is on disk
	}
}

// Measured tells the oracle that a step is on disk with so many readings.
func (w *World) Measured(s capture.Step, readings int) {
	at := w.o.tick()
	for _, g := range s.Groups {
		a, err := w.truth.draw(g, s.Volts)
		if err != nil {
			continue // it can't be said what it draws: nothing is claimed
		}
		k := w.o.of(g)
		m := measured{at, w.stage, a, readings, w.truth.gross(g), w.below(s), 0}
		if whole, err := w.truth.wholeAt(g, s.Volts); err == nil {
			m.faultA = a - whole
		}
		k.at[s.Volts], k.broke = m, 0
		if n, ok := w.kit.by[g]; ok && s.Volts == w.kit.plan.Jacks[0].Volts && m.off(w.o.meter, n).visible() {
			k.misfits = append(k.misfits, w.kit.source)
		}
	}
}

// below is what the other feeds of a step draw, A.
func (w *World) below(s capture.Step) float64 {
	sum := 0.0
	for _, other := range s.On {
		if other != s.Feed {
			if a, err := w.truth.draw(other, s.Volts); err == nil {
				sum += a
			}
		}
	}
	return sum
}

// Saw tells the oracle of a look that is on disk, in this package's own words.
func (w *World) Saw(groups []string, seen string) {
	at := w.o.tick()
	for _, g := range groups {
		w.o.of(g).looked = append(w.o.of(g).looked, looked{at: at, right: saidRight(seen, g), stage: w.stage,
			lights: lightsOf(w.kit.plan, g)})
	}
}

// breaches holds verdicts against what is known. burn are the groups in which the
// plan as it is may burn something at its own voltage.
func (o *oracle) breaches(p *plan.Plan, by map[string]nominal, built built, burn []string,
	verdicts []compare.ClosureFinding) []Breach {
	var out []Breach
	for _, v := range verdicts {
		if v.Verdict != compare.ReadyToClose {
			continue
		}
		say := func(rule, group, format string, a ...any) {
			out = append(out, Breach{rule, v.Closure, group, fmt.Sprintf(format, a...)})
		}
		if len(o.damage) > 0 {
			say(RuleDamage, "", "%v", o.damage)
		}
		if o.words {
			say(RuleWords, "", "")
		}
		hides := within(p, v.Closure)
		o.things(p, hides, say)
		o.gone(p, built, hides, say)
		for _, g := range p.Groups {
			own := slices.Contains(hides, g.Closure)
			if !own && !fedThrough(p, g, hides) {
				continue
			}
			if slices.Contains(burn, g.Name) {
				say(RuleBurns, g.Name, "")
			}
			o.group(p, g, by[g.Name], own, say)
			o.fitted(g, by[g.Name], built, say)
		}
	}
	return out
}

// built is the plan that the model was built by, with what it says of its groups.
type built struct {
	plan *plan.Plan
	by   map[string]nominal
}

// gone holds groups that the plan doesn't have any more: what was visibly wrong with
// one, and not told to be touched since, is in there still.
func (o *oracle) gone(p *plan.Plan, was built, closures []string, say func(rule, group, format string, a ...any)) {
	for _, g := range was.plan.Groups {
		still := slices.ContainsFunc(p.Groups, func(x plan.Group) bool { return x.Name == g.Name })
		m := o.of(g.Name).at[was.plan.Jacks[0].Volts]
		if still || !slices.Contains(closures, g.Closure) || m.when == 0 || m.when < o.touchedAt(o.of(g.Name)) {
			continue
		}
		if m.gross || m.off(o.meter, was.by[g.Name]).visible() {
			say(RuleGone, g.Name, "was off by %.3f mA", 1e3*m.off(o.meter, was.by[g.Name]).delta)
		}
	}
}

// things holds what closures hide without a group on it: no test tells of it, so it
// must have been ticked by hand since it was last touched.
func (o *oracle) things(p *plan.Plan, closures []string, say func(rule, group, format string, a ...any)) {
	for _, c := range closures {
		for _, name := range bareThings(p, c) {
			at := 0
			for _, x := range o.ticked[c+"/"+name] {
				at = max(at, x)
			}
			if at == 0 || at < max(o.touched[name], o.retest) {
				say(RuleTicked, name, "in %s was not ticked since it was touched", c)
			}
		}
	}
}

// bareThings are the joints, returns and boards of a closure on which no group hangs.
func bareThings(p *plan.Plan, closure string) []string {
	var out []string
	add := func(name, in string) {
		if in == closure && len(under(p, name)) == 0 {
			out = append(out, name)
		}
	}
	for _, j := range p.Joints {
		add(j.Name, j.Closure)
	}
	for _, r := range p.Returns {
		add(r.Name, r.Closure)
	}
	for _, b := range p.Boards {
		add(b.Name, b.Closure)
	}
	for _, c := range p.Closures {
		if c.Name == closure {
			out = append(out, c.Holds...)
		}
	}
	return out
}

// group holds one group that a closure answers for.
func (o *oracle) group(p *plan.Plan, g plan.Group, n nominal, own bool,
	say func(rule, group, format string, a ...any)) {
	k := o.of(g.Name)
	m := k.at[p.Jacks[0].Volts] // what was read at other voltages passes nothing
	since, d := o.touchedAt(k), m.off(o.meter, n)
	rule, visible := RuleMeasured, RuleVisible
	if !own {
		rule, visible = RuleHidden, RuleHidden
	}
	switch {
	case m.when == 0:
		say(rule, g.Name, "was never measured")
	case m.when < since:
		say(rule, g.Name, "was measured before it was touched")
	case k.broke > m.when:
		say(rule, g.Name, "is in a test that broke off")
	case stageRank(m.stage) < stageRank(compare.Fitted):
		say(rule, g.Name, "was measured loose only")
	case m.gross:
		say(visible, g.Name, "stays lit or dark")
	case d.visible():
		say(visible, g.Name, "is off by %.3f mA, u %.3f, own noise %.3f, limit %.3f", 1e3*d.delta, 1e3*d.u, 1e3*d.own,
			1e3*ruleK*d.u)
	}
	if !own || g.Sealed { // nothing is to be seen of a wire
		return
	}
	if len(k.looked) == 0 {
		say(RuleLooked, g.Name, "was never looked at")
		return
	}
	last := k.looked[len(k.looked)-1]
	switch {
	case !last.right:
		say(RuleSeen, g.Name, "was seen not to be right")
	case last.at < since:
		say(RuleLooked, g.Name, "was looked at before it was touched")
	case last.lights != lightsOf(p, g.Name):
		say(RuleLooked, g.Name, "has other lights by the plan than when it was looked at")
	case stageRank(last.stage) < stageRank(m.stage):
		say(RuleLooked, g.Name, "was looked at at an earlier stage")
	}
}

// fitted holds a group at which a fault shows plainly beside what it was built by, and showed beside the plan of then,
// to no other plan: none is proof of a reading that it was changed after.
func (o *oracle) fitted(g plan.Group, now nominal, was built, say func(rule, group, format string, a ...any)) {
	k := o.of(g.Name)
	m, ok := k.at[was.plan.Jacks[0].Volts]
	before, known := was.by[g.Name]
	if !ok || !known || len(k.misfits) == 0 || before == now {
		return
	}
	d := m.off(o.meter, before)
	d.delta = m.faultA
	if d.visible() {
		say(RuleFitted, g.Name, "a fault makes %.3f mA of %.3f, which is %.3f by the plan now", 1e3*m.faultA,
			1e3*before.amps, 1e3*now.amps)
	}
}

// lightsOf is what lights a group has by a plan, in number and kind.
func lightsOf(p *plan.Plan, group string) (s string) {
	g, _ := p.Group(group)
	for _, l := range g.Lights {
		s += fmt.Sprintf("%s x%d x%d in %d;", l.Part, l.Count, l.Segments, len(l.Series))
	}
	return s
}

// within lists a closure and all that closes inside it.
func within(p *plan.Plan, closure string) []string {
	out := []string{closure}
	for changed := true; changed; {
		changed = false
		for _, c := range p.Closures {
			if slices.Contains(out, c.Inside) && !slices.Contains(out, c.Name) {
				out, changed = append(out, c.Name), true
			}
		}
	}
	return out
}

// fedThrough tells whether a group gets its current through a joint, board or
// return that one of the closures hides.
func fedThrough(p *plan.Plan, g plan.Group, closures []string) bool {
	road := roadTo(p, g)
	for _, j := range p.Joints {
		if slices.Contains(closures, j.Closure) && slices.Contains(road, j.Name) {
			return true
		}
	}
	for _, b := range p.Boards {
		if slices.Contains(closures, b.Closure) && b.Name == g.Board {
			return true
		}
	}
	for _, r := range p.Returns {
		if slices.Contains(closures, r.Closure) && slices.Contains(road, r.Name) {
			return true
		}
	}
	return false
}
