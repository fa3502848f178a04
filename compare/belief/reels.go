package belief

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// Reel is what the groups of a build say of the pieces of one reel of lights.
type Reel struct {
	Reel   string   // its name in the plan, or the part's own
	Parts  []string // of the plan that are of it
	Groups []string // that have pieces of it
	// Rel is by how much the pieces draw more than planned (less: negative), a
	// fraction; U its standard uncertainty.
	Rel, U float64
	// Beyond: the pieces lie further off than their tolerance lets a whole reel
	// lie. Groups that all lack a light would look so, too.
	Beyond bool

	parts []reelPart
}

// reelPart is one part that a reel was used as: where its common deviation lies, in
// the unit of the parameter (a fraction of the draw, V), with what single pieces
// deviate besides.
type reelPart struct {
	factor         wiring.Factor
	mean, sd, ownU float64
}

// Reels sums up, by reel of lights, what all groups together say of it: by how much
// each draws more at the highest voltage that it was read at, over the groups that
// have hardly anything else.
func Reels(ms []Measured) ([]Reel, error) {
	if len(ms) == 0 {
		return nil, nil
	}
	t, err := newTogether(nil, ms)
	if err != nil || t.size() == 0 {
		return nil, err
	}
	t.weigh(t.lacksOfAll())
	mean, cov := t.standing()
	var out []Reel
	for _, name := range t.reels() {
		if r, ok := t.reel(name, mean, cov); ok {
			out = append(out, r)
		}
	}
	return out, nil
}

// standing is where the factors stand by all readings, over all worlds.
func (t *together) standing() (mean, cov []float64) {
	n := len(t.keys)
	whole := cloud{n: n}
	for w := range t.worlds {
		p := t.result.worlds[w].p
		if p < math.Exp(-farWorld) {
			continue
		}
		u := &t.worlds[w].units[0]
		live := make([]int, len(u.alts))
		for i := range live {
			live[i] = i
		}
		c := t.result.worlds[w].units[0].others.after(u, live)
		for _, x := range c.parts {
			x.logW += math.Log(p)
			whole.parts = append(whole.parts, x)
		}
	}
	one := whole.parts[0]
	for i := range whole.parts[1:] {
		one = one.merged(&whole.parts[1+i], n)
	}
	return one.mean, one.cov
}

func (t *together) reel(name string, mean, cov []float64) (Reel, bool) {
	r := Reel{Reel: name}
	by := make([]float64, len(t.keys)) // of the draw, for one standard deviation of each factor
	groups, planned := 0.0, 0.0
	for i, m := range t.ms {
		e := m.Ensemble
		top, ok := t.top(i)
		of := 0.0
		// A group that has none of this reel draws nothing by it.
		if drawn := e.reels[name]; ok && top < len(drawn) && e.m.healthy.mean[top] > 0 {
			of = drawn[top] / e.m.healthy.mean[top]
		}
		if of < leastOfReel {
			continue
		}
		r.Groups = append(r.Groups, e.Groups...)
		groups++
		for f, k := range e.keys {
			if p := e.params[f]; p.factor.Reel == name && ofLights(p.factor.Kind) {
				if n := slices.Index(t.keys, k); n >= 0 {
					by[n] += e.m.healthy.load[f*e.m.n+top] / (of * e.m.healthy.mean[top])
				}
				r.add(p, k, t, mean, cov)
			}
		}
	}
	if groups == 0 {
		return r, false
	}
	v := 0.0
	for i, x := range by {
		by[i] = x / groups
		r.Rel += by[i] * mean[i]
		planned += math.Sqrt(3) * math.Abs(by[i]) // no further does a rectangular factor go
	}
	for i, x := range by {
		for j, y := range by {
			v += x * y * cov[i*len(by)+j]
		}
	}
	r.U = math.Sqrt(math.Max(0, v))
	r.Beyond = math.Abs(r.Rel)-2*r.U > planned
	return r, true
}

// leastOfReel: groups that have less than this part of their draw from a reel tell
// what else they have.
const leastOfReel = 0.2

// add keeps where a part's common deviation lies.
func (r *Reel) add(p param, k FactorKey, t *together, mean, cov []float64) {
	if !slices.Contains(r.Parts, p.factor.Part) {
		r.Parts = append(r.Parts, p.factor.Part)
	}
	n := slices.Index(t.keys, k)
	if n < 0 || slices.ContainsFunc(r.parts, func(x reelPart) bool { return x.factor == p.factor }) {
		return
	}
	common, own := 0.0, 0.0 // of the variance
	for w := range t.worlds {
		s := t.worlds[w].s
		x, q := shifted(p.share, shareShifts[s.shift].logit), t.result.worlds[w].p*s.tolerance*s.tolerance
		common, own = common+q*x, own+q*(1-x)
	}
	half := p.half / math.Sqrt(3)
	c := half * math.Sqrt(common)
	r.parts = append(r.parts, reelPart{p.factor, c * mean[n], c * math.Sqrt(cov[n*len(t.keys)+n]),
		half * math.Sqrt(own)})
}

// ofLights reports a factor of what reels hold: LEDs, resistors, whole parts.
func ofLights(k wiring.ParamKind) bool {
	return k == wiring.BranchSpread || k == wiring.BranchOhms || k == wiring.LEDVolts
}

// Part makes an entry of the part book from what was learned: another nominal, and
// for the tolerance what is left of it for a single piece, with the share that its
// pieces still have in common. base is the part as the plan used it; name is that of
// the entry. The next build that names it starts from there.
//
// Strips and pre-resistored SMDs change their current, LEDs their voltages. What
// was learned of the maker's own resistors belongs to no part.
func (r Reel) Part(base plan.Part, name, source string) (plan.Part, error) {
	kind := wiring.BranchSpread
	if base.Kind == plan.PartLED {
		kind = wiring.LEDVolts
	} else if base.Kind != plan.PartStrip && base.Kind != plan.PartSMD {
		return plan.Part{}, fmt.Errorf("%s is a %s: reels hold strips, SMDs and LEDs", base.Name, base.Kind)
	}
	i := slices.IndexFunc(r.parts, func(x reelPart) bool {
		return x.factor.Kind == kind &&
			x.factor.Part == base.Name
	})
	if i < 0 {
		return plan.Part{}, fmt.Errorf("nothing was learned of %s, reel %q", base.Name, r.Reel)
	}
	x := r.parts[i]
	total := x.sd*x.sd + x.ownU*x.ownU
	p := base
	p.Name, p.Source, p.Share = name, source, 0
	if total > 0 {
		p.Share = x.sd * x.sd / total
	}
	half := math.Sqrt(3 * total) // rectangular, as tolerances are
	if kind == wiring.LEDVolts {
		p.Points = slices.Clone(base.Points)
		for k := range p.Points {
			if p.Points[k].Volts += x.mean; !(p.Points[k].Volts > 0) {
				return plan.Part{}, fmt.Errorf("%s would have no forward voltage left", base.Name)
			}
		}
		p.SpreadVolts = half
		return p, nil
	}
	if !(x.mean > -1) {
		return plan.Part{}, fmt.Errorf("%s would draw nothing", base.Name)
	}
	p.Amps = base.Amps * (1 + x.mean)
	p.Tolerance = math.Min(0.9, half/(1+x.mean))
	return p, nil
}
