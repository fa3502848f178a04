package compare

import (
	"slices"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare/budget"
)

// Allowed tells whether a check was accepted by its name as it is now; nil: none was.
type Allowed func(budget.Check) bool

// guarded writes into each step what may burn in it and was not allowed.
func guarded(b *budget.Budget, allowed Allowed, steps []capture.Step) error {
	for i := range steps {
		if err := hazards(b, allowed, &steps[i]); err != nil {
			return err
		}
	}
	return nil
}

// hazards writes into a step what may burn at its own voltages and with its own
// load. A look goes by clip from one terminal to the next, where each has more
// than with the others beside it: there each alone counts, too.
func hazards(b *budget.Budget, allowed Allowed, s *capture.Step) error {
	loads := [][]string{s.On}
	if (s.Kind == capture.Look || s.Kind == capture.Wiggle) && len(s.On) > 1 {
		for _, t := range s.On {
			loads = append(loads, []string{t})
		}
	}
	s.Hazards = nil
	for _, on := range loads {
		cs, err := b.Burns(budget.Load{On: on, Outputs: s.Outputs, Volts: voltsOf(*s)})
		if err != nil {
			return err
		}
		for _, c := range cs {
			if planned, ok := b.CheckNamed(c.Name); ok && planned.Burns {
				c.Value = max(c.Value, planned.Value)
			}
			if allowed != nil && allowed(c) {
				continue
			}
			h := hazardOf(c)
			if k := slices.IndexFunc(s.Hazards, func(x capture.Hazard) bool { return x.Check == h.Check }); k < 0 {
				s.Hazards = append(s.Hazards, h)
			} else if h.Value > s.Hazards[k].Value {
				s.Hazards[k] = h
			}
		}
	}
	return nil
}

// hazardOf says a check as the test asks it.
func hazardOf(c budget.Check) capture.Hazard {
	h := capture.Hazard{Check: c.Name, Text: c.Fact, Cure: c.Cure, Value: c.Value}
	if h.Cure == "" {
		h.Text, h.Cure = c.Text, "change it in the model and in the plan"
	}
	return h
}

// voltsOf lists every voltage that a step sets, each once.
func voltsOf(s capture.Step) []float64 {
	out := []float64{s.Volts}
	add := func(v float64) {
		if v > 0 && !slices.Contains(out, v) {
			out = append(out, v)
		}
	}
	for _, p := range s.Ramp {
		add(p.Volts)
	}
	for _, p := range s.Sweep {
		add(p.Volts)
	}
	return out
}

// AllowedBy is what the maker accepted by name, each at the value that it had then.
func AllowedBy(accepted []record.ByName) Allowed {
	return func(c budget.Check) bool { return reasonFor(c, accepted) != "" }
}

// reasonFor is why a check was accepted as it is now; empty: it wasn't.
func reasonFor(c budget.Check, accepted []record.ByName) string {
	for _, x := range slices.Backward(accepted) {
		if x.Name == c.Name && c.Covers(x.Value) {
			return x.Reason
		}
	}
	return ""
}

// Accepted is a copy of a budget in which the checks that the maker accepted by
// name carry the reason.
func Accepted(b *budget.Budget, accepted []record.ByName) *budget.Budget {
	out := *b
	out.Checks = slices.Clone(b.Checks)
	for i, c := range out.Checks {
		out.Checks[i].Accepted = reasonFor(c, accepted)
	}
	return &out
}
