// Package fault names what can be wrong with a group, in a maker's words, and
// lists which of it a given group can have. The same names seed a simulated
// bench and stand in a finding.
//
// Start with Parse for a fault written by hand and Possible for all faults of
// a group. Suspects lists where the plan itself may be wrong, with the change
// that would put it right. Place says where a fault lies on the feed tree,
// Darkens how many lights it puts out. Units: ohm, A, V.
package fault

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"sealworthy/compare/plan"
)

// Fault is one fault at one place.
type Fault struct {
	Kind   Kind    `json:"kind"`
	Group  string  `json:"group"`
	Light  int     `json:"light"`            // which of the group's lights, from 0
	Branch int     `json:"branch"`           // which branch of that light, from 0
	LED    int     `json:"led"`              // which LED of that branch, plus side first, from 0
	Factor float64 `json:"factor,omitempty"` // DecadeOff: 10 or 0.1
	Ohms   float64 `json:"ohms,omitempty"`   // BadJoint and faults above the groups: added; Short: what remains
	At     string  `json:"at,omitempty"`     // joint or return of a fault above the groups
}

// String gives the form that Parse reads.
func (f Fault) String() string {
	if f.At != "" {
		return f.At + "=" + string(f.Kind)
	}
	return f.Group + "=" + string(f.Kind)
}

// Parse reads GROUP=FAULT, or JOINT=FAULT for one above the groups. Hyphens and underscores count as spaces in the
// fault's name, case doesn't matter. Which branch, LED or direction is drawn
// from r. The error names the known groups or faults.
func Parse(p *plan.Plan, s string, r *rand.Rand) (Fault, error) {
	group, name, ok := strings.Cut(s, "=")
	if !ok {
		return Fault{}, fmt.Errorf("fault %q: write GROUP=FAULT, as %q", s, "cabin windows=dark segment")
	}
	group = strings.TrimSpace(group)
	if k, err := parseKind(name); err == nil && upstream(k) {
		f, err := Upstream(p, k, group, 0)
		if err != nil {
			return Fault{}, fmt.Errorf("fault %q: %w", s, err)
		}
		return f, nil
	}
	i := p.GroupAt(group)
	if i < 0 {
		var names []string
		for _, g := range p.Groups {
			names = append(names, g.Name)
		}
		return Fault{}, fmt.Errorf("fault %q: no group %q in the plan; it has: %s", s, group,
			strings.Join(names, ", "))
	}
	k, err := parseKind(name)
	if err != nil {
		return Fault{}, err
	}
	var fit []Fault
	for _, f := range Possible(p, p.Groups[i]) {
		if f.Kind == k {
			fit = append(fit, f)
		}
	}
	if len(fit) == 0 {
		return Fault{}, fmt.Errorf("fault %q: group %q can't have it; it can have: %s", s, group,
			join(kindsOf(p, p.Groups[i])))
	}
	return fit[r.IntN(len(fit))], nil
}

// parseKind reads a fault's name.
func parseKind(name string) (Kind, error) {
	n := strings.ToLower(strings.Join(strings.Fields(strings.NewReplacer("-", " ", "_", " ").Replace(name)), " "))
	all := slices.Concat(Kinds(), UpstreamKinds())
	for _, k := range all {
		if strings.ToLower(string(k)) == n {
			return k, nil
		}
	}
	return "", fmt.Errorf("no fault is called %q; there are: %s", name, join(all))
}

func join(ks []Kind) string {
	var s []string
	for _, k := range ks {
		s = append(s, string(k))
	}
	return strings.Join(s, ", ")
}

func kindsOf(p *plan.Plan, g plan.Group) []Kind {
	var ks []Kind
	for _, f := range Possible(p, g) {
		if !slices.Contains(ks, f.Kind) {
			ks = append(ks, f.Kind)
		}
	}
	return ks
}

// Typical resistances of what goes wrong (common practice, no source).
const (
	badJointOhms = 30   // median of a bad joint in a feed
	shortOhms    = 0.05 // two bare wires that touch
)

// Possible lists the faults that a group can have, one for each branch and
// LED where they differ by place. A group as found has only those that need no
// plan of its inside.
func Possible(p *plan.Plan, g plan.Group) []Fault {
	out := []Fault{
		{Kind: BadJoint, Group: g.Name, Ohms: badJointOhms},
		{Kind: Short, Group: g.Name, Ohms: shortOhms},
	}
	if g.Board != "" && blinks(p, g.Board) {
		out = append(out, Fault{Kind: Overloaded, Group: g.Name})
	}
	if g.Board != "" {
		out = append(out, Fault{Kind: StuckDark, Group: g.Name})
	}
	if canReverse(g) {
		out = append(out, Fault{Kind: GroupReversed, Group: g.Name})
	}
	for li, l := range g.Lights {
		switch l.Kind {
		case plan.Envelope:
			continue
		case plan.TestLoad: // a wire: it can be open, shorted or have a bad joint
			out = append(out, Fault{Kind: OpenBranch, Group: g.Name, Light: li})
			continue
		}
		for b := range l.Branches() {
			at := Fault{Group: g.Name, Light: li, Branch: b}
			out = append(out, ofBranch(at, l)...)
		}
		out = append(out, reversedPieces(g, li)...)
		out = append(out, Fault{Kind: ExtraBranch, Group: g.Name, Light: li})
	}
	return out
}

func blinks(p *plan.Plan, board string) bool {
	b, _ := p.Board(board)
	return slices.ContainsFunc(b.Paces, func(q plan.Pace) bool { return !q.Steady() })
}

// ofBranch lists the faults of one branch of a light.
func ofBranch(at Fault, l plan.Light) []Fault {
	with := func(k Kind) Fault { f := at; f.Kind = k; return f }
	var out []Fault
	if l.Kind == plan.Strip {
		out = append(out, with(DarkSegment))
	} else {
		out = append(out, with(OpenBranch))
	}
	for i := range l.Series {
		f := with(ReversedLED)
		f.LED = i
		out = append(out, f)
		f.Kind = ShortedLED
		out = append(out, f)
	}
	// Only a resistor that the maker solders can be forgotten or mixed up.
	if l.Kind == plan.LEDs && l.Ohms.Nominal > 0 {
		out = append(out, with(MissingOhms))
		for _, x := range []float64{10, 0.1} {
			f := with(DecadeOff)
			f.Factor = x
			out = append(out, f)
		}
	}
	return out
}
