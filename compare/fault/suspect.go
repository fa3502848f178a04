package fault

import (
	"cmp"
	"slices"

	"sealworthy/compare/plan"
)

// mostSuspects is how many a group has at most, the likeliest first.
const mostSuspects = 30

// Suspect is one way in which the plan may be wrong about a group, with the
// change that puts it right.
type Suspect struct {
	Kind  Kind   `json:"kind"`
	Group string `json:"group"`
	Light int    `json:"light"` // which of the group's lights, from 0
	// Path and Value are the change, as plan.Edit takes it. Where the key isn't
	// in the file yet (count, in_series), Amend adds it.
	Path  string  `json:"path"`
	Value any     `json:"value"`
	Was   string  `json:"was"`   // what the plan says now, in words
	Is    string  `json:"is"`    // what it would say
	Prior float64 `json:"prior"` // its weight before anything is measured
	// Of a count: what is counted ("segments"), how many the plan says, and how many
	// it would say.
	What    string `json:"what,omitempty"`
	Planned int    `json:"planned,omitempty"` // how many the plan says; 0: it's no count
	Counted int    `json:"counted,omitempty"` // how many it would say

	Plan *plan.Plan `json:"-"` // the plan with the change
}

// Edit is the change as one line, PATH = VALUE.
func (s Suspect) Edit() string { return s.Path + " = " + tomlValue(s.Value) }

// Fault is the suspect in the form of a fault, for lists that hold both.
func (s Suspect) Fault() Fault { return Fault{Kind: s.Kind, Group: s.Group, Light: s.Light} }

// Suspects lists where the plan may be wrong about a group: counts that are off
// by one or a few, other parts of the same kind, other resistors. src is the
// plan's file; without it (nil) other parts are left out. o is what p was read
// with. At most 30, likeliest first. Parts that draw as planned, or as one before
// them, are left out.
func Suspects(p *plan.Plan, src []byte, group string, o plan.Options, pr PlanPriors) []Suspect {
	gi := p.GroupAt(group)
	if gi < 0 || p.Groups[gi].AsFound {
		return nil
	}
	f := finder{p: p, src: src, o: o, gi: gi, pr: pr}
	var out []Suspect
	for li, l := range p.Groups[gi].Lights {
		if l.Kind == plan.Envelope || l.Kind == plan.TestLoad {
			continue
		}
		out = append(out, f.counts(li)...)
		out = append(out, f.ohms(li)...)
		out = append(out, f.parts(li)...)
	}
	slices.SortStableFunc(out, func(a, b Suspect) int { return -cmp.Compare(a.Prior, b.Prior) })
	return out[:min(len(out), mostSuspects)]
}
