package compare

import (
	"strings"

	"sealworthy/capture"
	"sealworthy/compare/budget"
)

// NamedBand is a draw that a healthy feed shows in a step, with its name.
type NamedBand struct {
	Name string // "dark", "port beacon lit"; empty for a feed with one level
	Band Band
}

// Levels gives the draws that a healthy feed can show in a step, lowest first;
// none for a look, a wiggle or a feed of which the plan knows nothing.
func (j *Judge) Levels(r capture.StepRecord) ([]NamedBand, error) {
	if r.Step.Kind != capture.Power {
		return nil, nil
	}
	b, err := j.Expected.At(ConditionsOf(r, j.Leads))
	if err != nil {
		return nil, err
	}
	f, ok := b.FeedNamed(r.Step.Feed)
	if !ok || f.AsFound {
		return nil, nil
	}
	var out []NamedBand
	for _, l := range f.Levels {
		if !l.Usual {
			continue
		}
		n := NamedBand{Band: Band{l.Draw.LowA, l.Draw.HighA, budget.Coverage}}
		switch {
		case len(f.Levels) == 1:
		case len(l.Groups) == 0:
			n.Name = "dark"
		case len(f.Groups) == len(l.Groups):
			n.Name = "lit"
		default:
			n.Name = strings.Join(l.Groups, " + ") + " lit"
		}
		out = append(out, n)
	}
	return out, nil
}
