package returns

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sealworthy/capture"
	"sealworthy/compare/fault"
	"sealworthy/compare/information"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
)

// Seen is what somebody saw of the lights of a group while the model was lit.
type Seen struct {
	Group string    `json:"group"`
	Look  look.Look `json:"look"`
	// Client: it is what the client said, of less weight than a maker's look.
	Client bool `json:"client,omitempty"`
}

// evidence is what is known of a return besides its draw: the log likelihood of
// each hypothesis, and that of a fault which nobody listed.
type evidence struct {
	of      func(Hypothesis) float64
	unknown float64
}

// nothingKnown is no evidence.
func nothingKnown() evidence { return evidence{of: func(Hypothesis) float64 { return 0 }} }

// and is both together.
func (e evidence) and(b evidence) evidence {
	return evidence{func(h Hypothesis) float64 { return e.of(h) + b.of(h) }, e.unknown + b.unknown}
}

// seen weighs what was seen by how often looks are wrong.
func seen(p *plan.Plan, all []Seen, r look.Rates) evidence {
	if len(all) == 0 {
		return nothingKnown()
	}
	e := evidence{of: func(h Hypothesis) float64 {
		ln := 0.0
		for _, s := range all {
			is := h.lights[s.Group]
			if is.Of == 0 {
				is.Of = lightsOf(p, s.Group)
			}
			is.MayFlicker *= r.JointFlickers
			if s.Client {
				ln += r.LogHeard(s.Look, is)
			} else {
				ln += r.LogSaw(s.Look, is)
			}
		}
		return ln
	}}
	// What isn't listed may darken any one group, or none.
	for _, s := range all {
		if !s.Client {
			e.unknown += math.Log(math.Exp(r.LogSaw(s.Look, look.Lights{}))*0.9 + math.Exp(r.LogOfUnknown(s.Look,
				lightsOf(p, s.Group)))*0.1)
		}
	}
	return e
}

// SeenIn takes what a maker saw of the lights of a return: of the last look in its
// steps. A group of which nothing was said isn't in it.
func SeenIn(p *plan.Plan, steps []capture.StepRecord) []Seen {
	for _, r := range slices.Backward(steps) {
		if r.Step.Kind != capture.Look || r.Stage != returned || r.Seen == "" {
			continue
		}
		var out []Seen
		for _, name := range r.Step.Groups {
			g, ok := p.Group(name)
			if !ok {
				continue
			}
			if l := look.Parse(look.Of(r.Seen, name, r.Step.Groups), g); l.Saw != look.NotLooked {
				out = append(out, Seen{Group: name, Look: l})
			}
		}
		return out
	}
	return nil
}

// SeenAs reads what was told of a look at a return in one go: what isn't named is
// all right, but for colours where whoever looked can't judge them. why says what of it wasn't
// understood.
func SeenAs(p *plan.Plan, s *Signature, told string, judgesColours bool) (out []Seen, why string) {
	named, why := named(p, s, told)
	all := strings.TrimSpace(told)
	blind := strings.EqualFold(all, look.RightNoColours)
	if why != "" && !blind && !strings.EqualFold(all, look.Right) {
		return nil, why
	}
	out = whole(named, s.Names())
	for i := range out {
		if blind || !judgesColours {
			out[i].Look = out[i].Look.ColoursAside()
		}
	}
	return out, ""
}

// Heard reads a client's words: only what they name counts, and of what they say of a group what is
// understood. why says what of it wasn't.
func Heard(p *plan.Plan, s *Signature, words string) (out []Seen, why string) {
	out, why = named(p, s, words)
	for i := range out {
		out[i].Client = true
	}
	return out, why
}

// understood is the part of what was said of a group that is understood, where the whole of it isn't.
func understood(said string, g plan.Group) look.Look {
	whole := look.Parse(said, g)
	if whole.Saw != look.Otherwise || whole.What != "" {
		return whole
	}
	for part := range strings.SplitSeq(said, " and ") {
		if l := look.Parse(part, g); l.Saw == look.SomeDark || l.What != "" {
			return l
		}
	}
	return whole
}

func named(p *plan.Plan, s *Signature, words string) (out []Seen, why string) {
	groups := slices.DeleteFunc(slices.Clone(p.Groups),
		func(g plan.Group) bool { return !slices.Contains(s.Names(), g.Name) })
	u := look.Read(words, groups)
	for _, x := range u.Seen {
		i := slices.IndexFunc(groups, func(g plan.Group) bool { return g.Name == x.Group })
		if l := understood(x.Words, groups[i]); l.Saw != look.NotLooked {
			out = append(out, Seen{Group: x.Group, Look: l})
		}
	}
	if !u.Whole {
		why = fmt.Sprintf("%q isn't understood whole: say the group, how many, and what, as \"%s: 2 dark\"", words,
			s.Names()[0])
	}
	return out, why
}

// coloursOpen says which groups were said to be of a wrong colour, by anybody, where no maker
// who can judge colours found them right: what they draw doesn't tell.
func coloursOpen(all []Seen) []string {
	var groups []string
	for _, s := range all {
		if s.Look.What == look.Colour && !slices.Contains(groups, s.Group) && !foundRight(all, s.Group) {
			groups = append(groups, s.Group)
		}
	}
	if groups == nil {
		return nil
	}
	return []string{"a wrong colour was named, which no current tells; somebody who can judge colours has to look at: " +
		strings.Join(groups, ", ")}
}

// foundRight: a maker who can judge colours found a group all right.
func foundRight(all []Seen, group string) bool {
	return slices.ContainsFunc(all, func(s Seen) bool {
		return s.Group == group && !s.Client && s.Look.Saw == look.AllLit && s.Look.SaysOf(look.Colour)
	})
}

// Names are those of its groups.
func (s *Signature) Names() []string {
	var out []string
	for _, g := range s.Groups {
		out = append(out, g.Group)
	}
	return out
}

// lightsOf is how many lights the eye can count in a group; 0: not known.
func lightsOf(p *plan.Plan, group string) int {
	_, of := fault.Darkens(p, fault.Fault{Kind: fault.StuckDark, Group: group})
	return of
}

// unlit is a group all of whose lights are dark. One of which no light is known is
// seen as one.
func (m *model) unlit(group string) map[string]look.Lights {
	return map[string]look.Lights{group: look.Fed(0, max(1, lightsOf(m.p, group)))}
}

// oneKind is how the lights of a group look with so many faults of a kind in one
// of them.
func (m *model) oneKind(k fault.Kind, group string, light, times int) map[string]look.Lights {
	n, of := fault.Darkens(m.p, fault.Fault{Kind: k, Group: group, Light: light})
	return map[string]look.Lights{group: {Dark: min(n*times, of), Of: of}}
}

// behindJoint marks how groups look behind a joint, and whether anybody sees it.
// placeA is what they draw through a good one.
func (m *model) behindJoint(h *Hypothesis, placeA float64, groups ...string) {
	m.markSlight(h, placeA)
	h.hidden = hidden(math.Abs(h.DeltaA[m.atService()]) / math.Max(placeA, 1e-9))
	h.lights = map[string]look.Lights{}
	for _, g := range groups {
		is := look.Fed(1+h.DeltaA[m.atService()]/math.Max(placeA, 1e-9), max(1, lightsOf(m.p, g)))
		is.MayFlicker = 1 // as often as a bad joint does
		h.lights[g] = is
	}
}

// names of all groups.
func (m *model) names() []string {
	var out []string
	for _, g := range m.groups {
		out = append(out, g.g.Name)
	}
	return out
}

// slightShare of the draw of what hangs on a place: nobody sees whether its
// lights get so much less (a tenth less current is some 3 % less bright to the eye,
// by a cube root; from memory). slightLeak is that of a leak, of the whole draw.
// noticedShare is how much less any client sends back by himself; of a third less four in five
// make nothing (from memory, of rooms that were dimmed; judgement for the rest).
const (
	slightShare  = 0.10
	noticedShare = 0.50
	slightLeak   = 0.001
)

// hidden is how probable it is that lights which get a share less aren't why a model comes back.
func hidden(less float64) float64 {
	noticed := math.Max(0, math.Min(1, (less-slightShare)/(noticedShare-slightShare)))
	return 1 - noticed*noticed
}

// atService is the index of the voltage nearest to that of the jack.
func (m *model) atService() int {
	best := 0
	for i, v := range m.volts {
		if math.Abs(v-m.serviceV) < math.Abs(m.volts[best]-m.serviceV) {
			best = i
		}
	}
	return best
}

// markSlight marks a hypothesis that changes so little of what its place draws
// that nobody would send the model back for it.
func (m *model) markSlight(h *Hypothesis, placeA float64) {
	h.slight = math.Abs(h.DeltaA[m.atService()]) < slightShare*placeA
}

// Shows reports whether a hypothesis can be seen from outside.
func (h Hypothesis) Shows() bool {
	for _, l := range h.lights {
		if l.Shows() {
			return true
		}
	}
	return false
}

// lookBits is the information about the place that is to be expected of one look at
// all lights, in bits: of each hypothesis that is alive, how probable each look is
// that any of them would give.
func (l *Library) lookBits(p *plan.Plan, hs []Alive, r look.Rates) float64 {
	var all []Hypothesis
	var groups []string
	var answer []int
	var ps []float64
	number := map[string]int{}
	alive := 0.0
	for _, a := range hs {
		alive += a.P
	}
	for _, a := range hs {
		h := Hypothesis{Class: fault.Nothing}
		if a.Index >= 0 {
			h = l.Hypotheses[a.Index]
		}
		k, known := number[h.answer()]
		if !known {
			k = len(number)
			number[h.answer()] = k
		}
		all, answer, ps = append(all, h), append(answer, k), append(ps, a.P/alive)
		for g := range h.lights {
			if !slices.Contains(groups, g) {
				groups = append(groups, g)
			}
		}
	}
	slices.Sort(groups)
	outcomes := looks(all)
	law := make([][]float64, len(all))
	for i, h := range all {
		sum := 0.0
		for _, o := range outcomes {
			x := math.Exp(seen(p, whole(o, groups), r).of(h))
			law[i] = append(law[i], x)
			sum += x
		}
		for k := range law[i] {
			law[i][k] /= sum
		}
	}
	q := information.NewQuestion(answer, ps)
	return math.Max(0, q.Now()-q.AfterOneOf(len(outcomes), func(k, o int) float64 { return law[k][o] }))
}

// whole is a look at all of these groups: what isn't named is all right.
func whole(named []Seen, groups []string) []Seen {
	out := slices.Clone(named)
	for _, g := range groups {
		if !slices.ContainsFunc(named, func(s Seen) bool { return s.Group == g }) {
			out = append(out, Seen{Group: g, Look: look.Look{Saw: look.AllLit}})
		}
	}
	return out
}

// looks lists the different looks that hypotheses would give somebody who
// overlooks nothing, all right of all among them, each with what it says of the
// groups that differ.
func looks(hs []Hypothesis) [][]Seen {
	out := [][]Seen{nil}
	for _, h := range hs {
		var x []Seen
		for g, l := range h.lights {
			switch {
			case l.Dark > 0:
				x = append(x, Seen{Group: g, Look: look.Look{Saw: look.SomeDark, Dark: l.Dark, Of: l.Of}})
			case l.Dim > 0:
				x = append(x, Seen{Group: g, Look: look.Look{Saw: look.Otherwise, What: look.Dim}})
			}
		}
		slices.SortFunc(x, func(a, b Seen) int { return strings.Compare(a.Group, b.Group) })
		if !slices.ContainsFunc(out, func(y []Seen) bool { return slices.Equal(x, y) }) {
			out = append(out, x)
		}
	}
	return out
}
