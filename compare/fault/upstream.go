package fault

import (
	"fmt"
	"slices"
	"strings"

	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// openOhms stand for a joint that is off; a number that a file can hold.
const openOhms = 1e9

// Upstream makes a fault at a joint or return. Ohms 0 takes what is usual for the
// kind. Group is the first that hangs on the place, so that the fault has a
// group like any other. The error names the known places.
func Upstream(p *plan.Plan, k Kind, at string, ohms float64) (Fault, error) {
	f := Fault{Kind: k, At: at, Ohms: ohms}
	if ohms == 0 {
		f.Ohms = badJointOhms
	}
	if k == OpenJoint || k == OpenReturn {
		f.Ohms = openOhms
	}
	var known []string
	if k == BadReturn || k == OpenReturn {
		for _, r := range p.Returns {
			known = append(known, r.Name)
		}
	} else {
		for _, j := range p.Joints {
			known = append(known, j.Name)
		}
	}
	if !slices.Contains(known, at) {
		what := "joint"
		if k == BadReturn || k == OpenReturn {
			what = "return"
		}
		if len(known) == 0 {
			return Fault{}, fmt.Errorf("%s: no %s %q in the plan; it has none", k, what, at)
		}
		return Fault{}, fmt.Errorf("%s: no %s %q in the plan; it has: %s", k, what, at, strings.Join(known, ", "))
	}
	for _, g := range p.Groups {
		if slices.Contains(above(p, g, k), at) {
			f.Group = g.Name
			return f, nil
		}
	}
	return Fault{}, fmt.Errorf("%s: no group hangs on %q", k, at)
}

// above lists the joints, or the returns, that a group hangs on.
func above(p *plan.Plan, g plan.Group, k Kind) []string {
	if k == BadReturn || k == OpenReturn {
		return returnsOf(p, g)
	}
	return Path(p, g)
}

// applyUpstream puts the resistance where the fault lies. The error says that the
// place isn't behind this circuit's jack.
func applyUpstream(w *wiring.Wired, f Fault) error {
	if f.Kind == BadReturn || f.Kind == OpenReturn {
		i := w.Plan.ReturnAt(f.At)
		if i < 0 || !w.Returns[i].Here {
			return fmt.Errorf("%s: return %q isn't behind this jack", f.Kind, f.At)
		}
		w.ReturnSeries(i, f.Ohms)
		return nil
	}
	i := w.Plan.JointAt(f.At)
	if i < 0 || !w.Joints[i].Here {
		return fmt.Errorf("%s: joint %q isn't behind this jack", f.Kind, f.At)
	}
	w.JointSeries(i, f.Ohms)
	return nil
}
