package machine

import (
	"math"
	"math/rand/v2"
	"slices"

	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/plan"
)

// Truth is the model as it really is: its pieces, each drawn within its tolerance,
// what is wrong with it, and what only an eye can see. One goroutine uses it.
type Truth struct {
	counts bool       // who looks counts what is lit, too
	plan   *plan.Plan // as it was built, whatever the plan is edited to
	pieces uint64
	faults []fault.Fault
	eye    map[string]string // group to what is wrong and no current shows
	load   *load.Load
	meter  meter
}

// meter is the bench's ammeter: constant errors within what it states, and noise.
type meter struct {
	gain, offset float64
}

// accuracy is what a bench states of its readings of current, supply and leads in
// it: a limit of error, and the noise of one reading.
type accuracy struct {
	rel, floorA      float64
	noiseRel, noiseA float64
}

// directMeter is that of the bench without an engine; portsMeter that of the
// simulated one behind ports, with what its supply and its leads may be off.
// Invented, the second after the built-in profiles.
var (
	directMeter = accuracy{rel: 0.001, floorA: 2e-5, noiseRel: 1e-4, noiseA: 2e-6}
	portsMeter  = accuracy{rel: 0.006, floorA: 1e-4, noiseRel: 1e-3, noiseA: 2e-5}
)

// own is the standard uncertainty of a mean of n readings, its instrument's alone.
func (m accuracy) own(amps float64, n int) float64 {
	limit := (m.rel*math.Abs(amps) + m.floorA) / math.Sqrt(3)
	noise := (m.noiseRel*math.Abs(amps) + m.noiseA) / math.Sqrt(float64(max(1, n)))
	return math.Hypot(limit, noise)
}

// kindsOfEye are faults that only a look sees.
var kindsOfEye = []string{"wrong colour", "the wrong window is lit", "a fibre is broken"}

// DrawTruth draws the pieces of a build and none, one or two faults.
func DrawTruth(b Build, seed uint64) (*Truth, error) {
	p, err := b.Parse()
	if err != nil {
		return nil, err
	}
	r := rand.New(rand.NewPCG(seed, 0x7a07))
	t := &Truth{plan: p, pieces: seed, eye: map[string]string{}}
	t.meter = meter{gain: directMeter.rel * (2*r.Float64() - 1), offset: directMeter.floorA * (2*r.Float64() - 1)}
	for range []int{0, 0, 1, 1, 2}[r.IntN(5)] {
		if r.Float64() < 0.2 {
			t.eye[p.Groups[r.IntN(len(p.Groups))].Name] = kindsOfEye[r.IntN(len(kindsOfEye))]
			continue
		}
		if f, ok := drawFault(p, "", r); ok {
			t.add(f)
		}
	}
	if alike := rand.New(rand.NewPCG(seed, 0xa11)); seed >= keptPieces && alike.Float64() < 0.08 {
		t.faults = lacksOfAReel(p, alike)
	}
	return t, t.settle()
}

// keptPieces: what was added to the drawing of pieces later begins at a seed of
// which no kept script makes use.
const keptPieces = 2000

// lacksOfAReel is one dark light in each group of a reel: none looks odd beside the
// others.
func lacksOfAReel(p *plan.Plan, r *rand.Rand) []fault.Fault {
	by := map[string][]plan.Group{}
	most := ""
	for _, g := range p.Groups {
		if len(g.Lights) == 0 {
			continue
		}
		part := g.Lights[0].Part
		if by[part] = append(by[part], g); len(by[part]) > len(by[most]) {
			most = part
		}
	}
	var out []fault.Fault
	for _, g := range by[most] {
		lacks := slices.DeleteFunc(fault.Possible(p, g),
			func(f fault.Fault) bool { return f.Kind != fault.OpenBranch && f.Kind != fault.DarkSegment })
		if len(lacks) > 0 {
			out = append(out, lacks[r.IntN(len(lacks))])
		}
	}
	return out
}

// drawHealthy draws the pieces of a build with nothing wrong.
func drawHealthy(b Build, seed uint64) (*Truth, error) {
	p, err := b.Parse()
	if err != nil {
		return nil, err
	}
	t := &Truth{plan: p, pieces: seed, eye: map[string]string{}}
	return t, t.settle()
}

// drawFault draws a fault of any kind, in a group or above one where place is
// empty, else at the place. Half of those in a group are the least that can be.
func drawFault(p *plan.Plan, place string, r *rand.Rand) (fault.Fault, bool) {
	var groups []plan.Group
	for _, g := range p.Groups {
		if place == "" || g.Name == place || g.Board != "" && g.Board == place {
			groups = append(groups, g)
		}
	}
	upstream := slices.ContainsFunc(p.Joints, func(j plan.Joint) bool { return j.Name == place }) ||
		slices.ContainsFunc(p.Returns, func(x plan.Return) bool { return x.Name == place })
	if upstream || place == "" && r.Float64() < 0.25 {
		ks := fault.UpstreamKinds()
		for range 20 {
			at := place
			if at == "" && len(p.Joints) > 0 {
				at = p.Joints[r.IntN(len(p.Joints))].Name
			}
			ohms := math.Exp(math.Log(3) + r.Float64()*math.Log(100)) // 3 to 300 ohm
			if f, err := fault.Upstream(p, ks[r.IntN(len(ks))], at, ohms); err == nil {
				return f, true
			}
		}
		return fault.Fault{}, false
	}
	if len(groups) == 0 {
		return fault.Fault{}, false
	}
	all := fault.Possible(p, groups[r.IntN(len(groups))])
	least := r.Float64() < 0.3
	if least { // of the longest group: near the limit
		all = fault.Possible(p, slices.MaxFunc(groups, func(a, b plan.Group) int { return branches(a) - branches(b) }))
	}
	if least || r.Float64() < 0.4 {
		all = slices.DeleteFunc(all, func(f fault.Fault) bool {
			return f.Kind != fault.OpenBranch &&
				f.Kind != fault.DarkSegment
		})
	}
	if len(all) == 0 {
		return fault.Fault{}, false
	}
	f := all[r.IntN(len(all))]
	if f.Kind == fault.BadJoint {
		f.Ohms = math.Exp(math.Log(10) + r.Float64()*math.Log(100))
	}
	return f, true
}

func branches(g plan.Group) int {
	n := 0
	for _, l := range g.Lights {
		n += l.Branches()
	}
	return n
}

// add puts a fault in, if there isn't one at its place yet: two at one place make
// no other model.
func (t *Truth) add(f fault.Fault) {
	if !slices.ContainsFunc(t.faults, func(x fault.Fault) bool { return x.Group == f.Group && x.Kind == f.Kind }) {
		t.faults = append(t.faults, f)
	}
}

// settle makes the load anew after a change. A pair of faults that can't be
// together loses its last.
func (t *Truth) settle() error {
	for {
		l, err := load.New(t.plan, t.faults, t.pieces, load.Options{})
		if err == nil {
			_, err = t.draws(l)
		}
		if err == nil {
			t.load = l
			return nil
		}
		if len(t.faults) == 0 {
			return err
		}
		t.faults = t.faults[:len(t.faults)-1]
	}
}

func (t *Truth) draws(l *load.Load) (map[string]float64, error) {
	out := map[string]float64{}
	for _, g := range t.plan.Groups {
		a, err := l.Alone(g.Name, t.plan.Jacks[0].Volts)
		if err != nil {
			return nil, err
		}
		out[g.Name] = a
	}
	return out, nil
}

// without is what each group would draw if nothing were wrong with it.
func (t *Truth) without() (map[string]float64, error) {
	l, err := load.New(t.plan, nil, t.pieces, load.Options{})
	if err != nil {
		return nil, err
	}
	return t.draws(l)
}

// wholeAt is what a group would draw at a voltage if nothing were wrong with anything.
func (t *Truth) wholeAt(group string, volts float64) (float64, error) {
	if len(t.faults) == 0 {
		return t.draw(group, volts)
	}
	l, err := load.New(t.plan, nil, t.pieces, load.Options{})
	if err != nil {
		return 0, err
	}
	return l.Alone(group, volts)
}

// Touch changes what is at a place: "cures" takes away what is wrong there,
// "breaks" puts a fault there, drawn by n; anything else leaves it as it is.
func (t *Truth) Touch(place, what string, n uint64) error {
	switch what {
	case "cures":
		t.faults = slices.DeleteFunc(t.faults, func(f fault.Fault) bool {
			return f.At == place || f.At == "" &&
				t.at(f.Group, place)
		})
		for g := range t.eye {
			if t.at(g, place) {
				delete(t.eye, g)
			}
		}
	case "breaks":
		if f, ok := drawFault(t.plan, place, rand.New(rand.NewPCG(n, 0xbad))); ok {
			t.add(f)
		}
	}
	return t.settle()
}

// at tells whether a group is the place, or on that board.
func (t *Truth) at(group, place string) bool {
	g, _ := t.plan.Group(group)
	return group == place || g.Board == place && place != ""
}

// gross tells whether a fault of a group shows otherwise than by its draw alone: a
// board's output that stays lit or dark.
func (t *Truth) gross(group string) bool {
	return slices.ContainsFunc(t.faults, func(f fault.Fault) bool {
		return f.Group == group && (f.Kind == fault.StuckDark || f.Kind == fault.Overloaded)
	})
}

// Healthy tells that nothing at all is wrong.
func (t *Truth) Healthy() bool { return len(t.faults) == 0 && len(t.eye) == 0 }

// draw is what a group really draws alone.
func (t *Truth) draw(group string, volts float64) (float64, error) { return t.load.Alone(group, volts) }

// deviationOf is how far a draw is off what a plan says, for a mean of so many
// readings on top of what was on below it.
func deviationOf(m accuracy, amps, below float64, n nominal, readings int) deviation {
	o := m.own(amps, readings)
	if below > 0 { // two readings, and their difference
		o = math.Hypot(m.own(amps+below, readings), m.own(below, readings))
	}
	law := lawRel * n.amps
	return deviation{delta: amps - n.amps, u: math.Sqrt(n.u*n.u + law*law + o*o), own: o, least: n.least}
}

const allRight = "all right"

// under lists the groups that hang on a joint, board or return, or are it.
func under(p *plan.Plan, place string) []string {
	var out []string
	for _, g := range p.Groups {
		if slices.Contains(roadTo(p, g), place) {
			out = append(out, g.Name)
		}
	}
	return out
}

// roadTo lists all that a group's current goes through: itself, its board, the
// joints from it up to the jack, the returns.
func roadTo(p *plan.Plan, g plan.Group) []string {
	out := []string{g.Name}
	b, ok := p.Board(g.Board)
	if ok {
		out = append(out, b.Name)
	}
	road := slices.Concat(p.UpFrom(p.JointOf(g)), p.BackFrom(g.Return), p.BackFrom(b.Return))
	return append(out, slices.DeleteFunc(road, func(at string) bool { return p.JackAt(at) >= 0 })...)
}
